"""Evaluates a study of seasons on a Dask cluster and joins the parts.

    python -m venv venv && venv/bin/pip install distributed==2026.8.0
    venv/bin/python seasons_dask.py STUDY.yaml OUT                        # workers on this machine
    venv/bin/python seasons_dask.py STUDY.yaml OUT --scheduler tcp://HOST:8786

Each task runs `dipward seasons STUDY.yaml --out OUT --cases A..B`. The study, its files and OUT must
stand under the same names on all machines. Run the same again after a failure: what is whole is not
evaluated again.
"""

import argparse
import subprocess
import sys

from dask.distributed import Client, as_completed


def run(words):
    """Runs the program; its own words come back, and with them its failure."""
    ended = subprocess.run(words, capture_output=True, text=True, check=False)
    if ended.returncode != 0:
        raise RuntimeError(f"{' '.join(words)} ended with {ended.returncode}\n{ended.stderr}")
    return ended.stdout


def slices(cases, count):
    """The cases in slices of nearly one size, none of them empty."""
    ends = [cases * part // count for part in range(count + 1)]
    return [(a, b) for a, b in zip(ends, ends[1:]) if a < b]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("study")
    parser.add_argument("out")
    parser.add_argument("--scheduler", help="of a running cluster; else workers are started here")
    parser.add_argument("--slices", type=int, help="by default four for each worker")
    parser.add_argument("--threads", type=int, default=1, help="of one task")
    parser.add_argument("--dipward", default="dipward", help="the program")
    wanted = parser.parse_args()

    base = [wanted.dipward, "seasons", wanted.study, "--out", wanted.out]
    cases = int(run([*base, "--count"]))
    # One thread a worker: the program does the work, in a process of its own.
    local = {"address": wanted.scheduler} if wanted.scheduler else {"threads_per_worker": 1}
    with Client(**local) as client:
        count = wanted.slices or 4 * max(1, len(client.scheduler_info()["workers"]))
        tasks = {}
        for a, b in slices(cases, count):
            words = [*base, "--cases", f"{a}..{b}", "--threads", str(wanted.threads), "--quiet"]
            # Not pure: a part that was taken away is to be made again.
            tasks[client.submit(run, words, pure=False)] = (a, b)
        failed = 0
        for done in as_completed(tasks):
            a, b = tasks[done]
            if done.status == "finished":
                print(f"cases {a}..{b} are whole", file=sys.stderr)
            else:
                failed += 1
                print(f"cases {a}..{b}: {done.exception()}", file=sys.stderr)
    if failed:
        sys.exit(f"{failed} slices failed; run the same again once the reason is mended")
    print(run([wanted.dipward, "merge", wanted.study, "--out", wanted.out]), end="")


if __name__ == "__main__":
    main()

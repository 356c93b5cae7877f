"""The field of IGRF-14 at many sites in ppigrf, vectorised, beside what the bench `synthesis` measured.

Pinned: Python 3.11, numpy 2.4.6, pandas 3.1.1, ppigrf 2.1.0. Run in a virtual environment, after the bench:

    python3 -m venv VENV
    VENV/bin/pip install numpy==2.4.6 pandas==3.1.1 ppigrf==2.1.0
    cargo bench -p dipward-benches --bench synthesis
    VENV/bin/python benches/peers/synthesis_peers.py DIPWARD TARGET

DIPWARD is the built program, TARGET cargo's target folder, where Criterion left its figures. The answers must
agree before either is told.
"""

import csv
import datetime
import io
import json
import pathlib
import subprocess
import sys
import time

import numpy as np
import ppigrf

SITES = 4096
DATE = datetime.datetime(2027, 7, 1)


def main() -> None:
    dipward, target = sys.argv[1:]
    random = np.random.default_rng(14)
    latitude = random.uniform(55.0, 89.9, SITES) * np.where(np.arange(SITES) % 2, -1.0, 1.0)
    longitude = random.uniform(-180.0, 180.0, SITES)
    height = random.uniform(0.0, 3.0, SITES)
    times = []
    for _ in range(7):
        begun = time.perf_counter()
        east, north, up = ppigrf.igrf(longitude, latitude, height, DATE)
        times.append(time.perf_counter() - begun)
    theirs_ns = min(times) / SITES * 1e9

    points = "latitude_deg,longitude_deg,height_km,time\n" + "".join(
        f"{a},{b},{h},{DATE.isoformat()}Z\n" for a, b, h in zip(latitude, longitude, height)
    )
    answer = subprocess.run(
        [dipward, "field", "--points", "-"], input=points, capture_output=True, text=True, check=True
    )
    rows = list(csv.DictReader(io.StringIO(answer.stdout)))
    own = np.array([[float(row[name]) for name in ("x_nt", "y_nt", "z_nt")] for row in rows])
    peer = np.column_stack([north.ravel(), east.ravel(), -up.ravel()])
    # ppigrf counts days, dipward the fraction of the year.
    worst = np.abs(own - peer).max()
    assert worst < 0.5, worst

    name = "IGRF-14, vector and gradient"
    path = pathlib.Path(target) / "criterion" / "synthesis" / name / str(SITES) / "new" / "estimates.json"
    ours_ns = json.loads(path.read_text())["mean"]["point_estimate"] / SITES
    print(f"greatest difference {worst:.3f} nT")
    print(
        f"ppigrf, vector: {theirs_ns:.0f} ns a site; dipward, vector and gradient: {ours_ns:.0f} ns a site:"
        f" {theirs_ns / ours_ns:.1f} times"
    )


if __name__ == "__main__":
    main()

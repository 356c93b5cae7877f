#!/usr/bin/env bash
# A study as a job array on a Slurm of one node, which this script starts and ends: the merged files must
# be those of one run.
#
#   bash tests/slurm_array.sh [STUDY.yaml]      by default the demonstration study
#
# Needs root, Debian's slurm-wlm and munge, and a release build; skipped with a line where they are not
# there. DIPWARD names another build of the program; DIPWARD_INSTALL_SLURM=1 installs the two packages first.
set -euo pipefail
study=$(realpath "${1:-$(dirname "$0")/../scenarios/austral-seasons.yaml}")
cd "$(dirname "$0")/.."

skip() {
    echo "skipped: $1"
    exit 0
}
[ "$(id -u)" -eq 0 ] || skip "starting a Slurm needs root"
if [ "${DIPWARD_INSTALL_SLURM:-}" = 1 ]; then
    apt-get update --quiet --quiet
    DEBIAN_FRONTEND=noninteractive apt-get install --yes --quiet --no-install-recommends slurm-wlm munge
fi
for program in slurmctld slurmd sbatch munged; do
    command -v "$program" >/dev/null || skip "$program is not there; DIPWARD_INSTALL_SLURM=1 installs it"
done
dipward=${DIPWARD:-${CARGO_TARGET_DIR:-target}/release/dipward}
[ -x "$dipward" ] || skip "$dipward is not there; cargo build --release -p dipward-cli makes it"
dipward=$(realpath "$dipward")

work=$(mktemp -d)
pids=()
finish() {
    status=$?
    # A job that still runs would outlive its daemons.
    [ -z "${SLURM_CONF:-}" ] || scancel --full --state=RUNNING --user="$(id -un)" 2>/dev/null || true
    for ((i = ${#pids[@]} - 1; i >= 0; i--)); do
        kill "${pids[i]}" 2>/dev/null || true
        wait "${pids[i]}" 2>/dev/null || true
    done
    if [ "$status" -ne 0 ]; then
        tail -n 30 "$work"/*.log >&2 || true
    fi
    rm -rf "$work"
    exit "$status"
}
trap finish EXIT

# All that the three daemons keep stands in the work folder.
chmod 755 "$work"
mkdir -p "$work"/{state,spool,munge}
head -c 1024 /dev/urandom >"$work/munge/key"
chmod 700 "$work/munge"
chmod 400 "$work/munge/key"
socket=$work/munge-socket
mkdir -m 755 "$socket"
munged --foreground --force --key-file "$work/munge/key" --socket "$socket/munge" \
    --pid-file "$work/munge/pid" --seed-file "$work/munge/seed" --log-file "$work/munge/log" \
    >"$work/munged.log" 2>&1 &
pids+=($!)

host=$(hostname -s)
cat >"$work/slurm.conf" <<CONF
ClusterName=one
SlurmctldHost=$host(127.0.0.1)
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket=$socket/munge
CredType=cred/munge
MpiDefault=none
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmctldPort=16817
SlurmdPort=16818
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
ReturnToService=2
SchedulerParameters=batch_sched_delay=0,sched_interval=1
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=$host Default=YES MaxTime=INFINITE State=UP
CONF
export SLURM_CONF=$work/slurm.conf
slurmctld -D -i >"$work/slurmctld.log" 2>&1 &
pids+=($!)
slurmd -D >"$work/slurmd.log" 2>&1 &
pids+=($!)
for _ in $(seq 60); do
    sinfo --noheader --format %T 2>/dev/null | grep -q idle && break
    sleep 0.5
done
sinfo --noheader --format %T | grep -q idle || {
    echo "the node does not come up" >&2
    exit 1
}

job=$(DIPWARD=$dipward sbatch --parsable --array=0-3 --cpus-per-task=1 --mem=0 \
    --output="$work/task-%a.log" scenarios/cluster/seasons.sbatch "$study" "$work/out")
# The join waits for the array, as the script's own comment has it.
# One that never can is taken away, and the wait for it ends.
sbatch --wait --dependency="afterok:$job" --kill-on-invalid-dep=yes --output="$work/merge.log" \
    --wrap "$dipward merge $study --out $work/out" >/dev/null
"$dipward" seasons "$study" --out "$work/whole" --quiet >/dev/null
diff --recursive --brief --exclude parts "$work/out" "$work/whole"
echo "a job array of 4 tasks gives the files of one run ($(ls "$work/out/parts" | grep -c jsonl) parts)"

#!/usr/bin/env bash
# A real Slurm of one node for tests, without systemd: one_node.sh start DIR | stop DIR.
# DIR must be short (socket paths end at 80 characters). `start` prints the SLURM_CONF to use.
set -euo pipefail

verb=$1 dir=$2

start() {
  local user host port
  user=$(id -un) host=$(hostname -s)
  # Two free ports for the two daemons.
  port=$((20000 + RANDOM % 30000))
  while (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null || (exec 3<>"/dev/tcp/127.0.0.1/$((port + 1))") 2>/dev/null; do
    port=$((20000 + RANDOM % 30000))
  done
  mkdir -p "$dir"/{state,spool}
  chmod 755 "$dir"
  (umask 077 && head -c 1024 /dev/urandom >"$dir/munge.key")
  munged --force --socket="$dir/munge.socket" --key-file="$dir/munge.key" --pid-file="$dir/munged.pid" \
    --log-file="$dir/munged.log" --seed-file="$dir/munge.seed" 2>"$dir/munged.err"
  cat >"$dir/slurm.conf" <<EOF
ClusterName=onenode
SlurmctldHost=$host(127.0.0.1)
SlurmUser=$user
SlurmdUser=$user
SlurmctldPort=$port
SlurmdPort=$((port + 1))
AuthType=auth/munge
AuthInfo=socket=$dir/munge.socket
CredType=cred/munge
StateSaveLocation=$dir/state
SlurmdSpoolDir=$dir/spool
SlurmctldPidFile=$dir/slurmctld.pid
SlurmdPidFile=$dir/slurmd.pid
SlurmctldLogFile=$dir/slurmctld.log
SlurmdLogFile=$dir/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SwitchType=switch/none
MpiDefault=none
ReturnToService=2
JobRequeue=1
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SchedulerParameters=batch_sched_delay=0,sched_interval=5
KillWait=2
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=$host Default=YES MaxTime=INFINITE State=UP
EOF
  export SLURM_CONF="$dir/slurm.conf"
  slurmctld -f "$SLURM_CONF" >"$dir/slurmctld.out" 2>&1
  slurmd -f "$SLURM_CONF" -N "$host" >"$dir/slurmd.out" 2>&1
  for _ in $(seq 60); do
    if timeout 5 sinfo --noheader --format=%t 2>/dev/null | grep -q '^idle'; then
      echo "$SLURM_CONF"
      return 0
    fi
    sleep 1
  done
  echo "the node does not come up:" >&2
  tail -n 20 "$dir"/slurmctld.out "$dir"/slurmd.out "$dir"/slurmctld.log "$dir"/slurmd.log "$dir"/munged.err >&2 || true
  return 1
}

stop() {
  local name pid
  for name in slurmd slurmctld munged; do
    pid=$(cat "$dir/$name.pid" 2>/dev/null) || continue
    kill "$pid" 2>/dev/null || continue
    # A zombie looks alive to kill -0, so the wait is bounded.
    for _ in $(seq 20); do kill -0 "$pid" 2>/dev/null || break; sleep 0.2; done
  done
}

case $verb in
  start) start ;;
  stop) stop ;;
  *) echo "one_node.sh start|stop DIR" >&2; exit 2 ;;
esac

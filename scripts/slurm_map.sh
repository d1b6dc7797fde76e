#!/usr/bin/env bash
# A map as a Slurm job array: submits the shards that are missing and the merge. Say it again until the map is there.
#
#   scripts/slurm_map.sh -n SHARDS -o MAP.h5 CASE.toml --vary 'inner.flow=50..500 uL/h/40log' --vary ...
#
#   -n N      into how many shards the map is divided; 2 to 15 minutes of a node for each is a good size
#   -o FILE   the map; shards are FILE without .h5, then .I-of-N.h5, beside it, on a disk that all nodes see
#   -c CPUS   CPUs for each shard (else 1)
#   -t TIME   time limit of a shard (else the partition's own)
#   -p NAME   partition (else the default one)
#   -x ARGS   anything else for sbatch, as one word
# All that follows the case goes to `slenderjet map` as it is. SLENDERJET names the program (else the one on the PATH).
#
# Why it is made so: a non-zero exit is not requeued and a requeue waits two minutes, so missing shards are submitted anew
# instead; `afterok` behind a failed element would wait for ever, so the merge comes `afterany` and checks for itself.
set -euo pipefail

fail() { echo "slurm_map.sh: $1" >&2; exit 2; }

shards='' map='' cpus=1 extra=()
while getopts 'n:o:c:t:p:x:' option; do
  case $option in
    n) shards=$OPTARG ;;
    o) map=$OPTARG ;;
    c) cpus=$OPTARG ;;
    t) extra+=("--time=$OPTARG") ;;
    p) extra+=("--partition=$OPTARG") ;;
    x) read -r -a more <<<"$OPTARG"; extra+=("${more[@]}") ;;
    *) exit 2 ;;
  esac
done
shift $((OPTIND - 1))
[[ $shards =~ ^[1-9][0-9]*$ ]] || fail "-n N is needed: into how many shards the map is divided"
[[ $map == *.h5 ]] || fail "-o MAP.h5 is needed"
[[ $# -ge 1 && -r $1 ]] || fail "the case file is missing or cannot be read: ${1:-}"
program=$(command -v "${SLENDERJET:-slenderjet}") || fail "the program is not on the PATH; set SLENDERJET"

# Clients can hang on a busy controller.
client() { timeout 60 "$@"; }

most=$(client scontrol show config | sed -n 's/^MaxArraySize *= *//p')
[[ -z $most || $shards -lt $most ]] || fail "this cluster takes arrays up to index $((most - 1)); use fewer shards"

stem=${map%.h5}
missing=$("$program" map missing "$map" --of "$shards")

# Words quoted so that the job's shell reads them back as they are.
command=$(printf '%q ' "$program" map "$@")
part="$(printf '%q' "$stem").\${SLURM_ARRAY_TASK_ID}-of-$shards.h5"
merge="$(printf '%q ' "$program" map merge) $(printf '%q' "$stem").*-of-$shards.h5 -o $(printf '%q' "$map") --quiet"
after=()

if [[ -n $missing ]]; then
  array=$(client sbatch --parsable --job-name=map-shards --array="$missing" --cpus-per-task="$cpus" \
    --output="$stem.shards.%A_%a.log" ${extra[@]+"${extra[@]}"} <<EOF
#!/usr/bin/env bash
set -euo pipefail
exec $command --shard "\${SLURM_ARRAY_TASK_ID}/$shards" --threads "$cpus" -o $part --quiet
EOF
  )
  array=${array%%;*}
  after=(--dependency="afterany:$array")
  echo "shards $missing of $shards: job $array"
else
  echo "no shard is missing"
fi

job=$(client sbatch --parsable --job-name=map-merge --cpus-per-task=1 --output="$stem.merge.%j.log" \
  ${after[@]+"${after[@]}"} ${extra[@]+"${extra[@]}"} <<EOF
#!/usr/bin/env bash
set -euo pipefail
exec $merge
EOF
)
echo "merge: job ${job%%;*}; it refuses an incomplete map, then say this command again"

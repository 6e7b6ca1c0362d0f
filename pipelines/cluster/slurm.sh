#!/bin/bash
# The swings of one plan as a Slurm job array over a shared folder:
#   bash slurm.sh PLAN CLIPS OUT [options of sbatch…]
# Submit it again to go on: what stands in OUT is passed over. Then `quarterturn folder CLIPS --out RESULTS --measured OUT` makes
# the overview. QUARTERTURN names the program where it is not on the path.
set -uo pipefail
plan=$1 clips=$2 out=$3
program=${QUARTERTURN:-quarterturn}
most=1000 tries=3 # array elements at once (Slurm's own default limit is 1001); tries of an element besides the first

read -r count cores memory_mb limit_s < <(python3 - "$plan" <<'PY'
import json, sys
plan = json.load(open(sys.argv[1], encoding="utf-8"))
needs, limits = plan["needs"], [t["limit_s"] for t in plan["swings"]]
print(len(limits), needs["cores"], needs["memory_mb"], int(max(limits, default=0)))
PY
)
[ "${count:-0}" -gt 0 ] || { echo "$plan: no swings in it" >&2; exit 2; }

if [ -z "${SLURM_ARRAY_TASK_ID:-}" ]; then
  mkdir -p "$out"
  elements=$((count < most ? count : most))
  rounds=$(((count + elements - 1) / elements))
  exec sbatch --array="0-$((elements - 1))" --cpus-per-task="$cores" --mem="${memory_mb}M" --requeue --open-mode=append \
    --time="$((rounds * (limit_s + 59) / 60 + 1))" "${@:4}" "$0" "$plan" "$clips" "$out"
fi

again=0
for ((i = SLURM_ARRAY_TASK_ID; i < count; i += SLURM_ARRAY_TASK_COUNT)); do
  timeout --kill-after=30 "$limit_s" "$program" measure --plan "$plan" --task "$i" --clips "$clips" --out "$out" --quiet
  code=$?
  # 0 and 1 are answers that stand in OUT; anything else is no fault of the clip's, so far as can be told.
  [ "$code" -le 1 ] || { echo "task $i ended with $code: to be tried again" >&2; again=$code; }
done
if [ "$again" != 0 ] && [ "${SLURM_RESTART_COUNT:-0}" -lt "$tries" ]; then
  scontrol requeue "${SLURM_ARRAY_JOB_ID}_${SLURM_ARRAY_TASK_ID}"
fi
exit "$again"

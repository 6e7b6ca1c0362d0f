#!/usr/bin/env bash
# Everything that is learnt from rendered swings, in order, and what it gives on swings that taught nothing.
#
# usage: calibrate.sh WORK CAL_TRACKS CAL_TRUTH PAIR_TRACKS PAIR_TRUTH REPORT_TRACKS REPORT_TRUTH
#
# …_TRACKS: NAME_face_on.json and NAME_down_the_line.json as the `observe` example writes them with the network to calibrate
# for; …_TRUTH: NAME_truth.json. PAIR_…: swings NAMEa and NAMEb of one body, outfit and camera place. Writes
# WORK/calibration.toml (copy it to pipelines/calibration.toml) and WORK/{accuracy,coverage,differences,budget}.md.
# MARKERS, if set: what the `markers` example said of a person with markers on its error stream; adds the term for real people.
set -euo pipefail
[ $# -eq 7 ] || { sed -n 2,10p "$0"; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
replay=${REPLAY:-$here/../../target/debug/examples/replay}
work=$1 cal=$2 cal_truth=$3 pairs=$4 pairs_truth=$5 report=$6 report_truth=$7
mkdir -p "$work"
calibrate() { python3 "$here/calibrate.py" "$@"; }
names() { find "$1" -name '*_truth.json' -printf '%f\n' | sed 's/_truth.json$//' | sort; }
# Measures a set in the three ways of filming; $4 and on: more options.
replay_all() {
  local tracks=$1 out=$2; shift 2
  rm -rf "$out"
  for mode in two face_on down_the_line; do "$replay" "$tracks" "$out/$mode" "$mode" "$@" 2>>"$work/replay.log"; done
}

: >"$work/replay.log"
calibrate names "$cal_truth" "$work/names"
names "$pairs_truth" >"$work/names.pairs"
names "$report_truth" >"$work/names.report"

calibrate raw >"$work/raw.toml"
rm -rf "$work/known"
for role in face_on down_the_line; do
  "$replay" "$cal" "$work/known/$role" "$role" --uncalibrated --calibration "$work/raw.toml" \
    --true-cameras "$cal_truth" --only "$work/names.choose" 2>>"$work/replay.log"
done
calibrate spreads "$work/known" "$work/names.choose" "$cal_truth" >"$work/spreads.toml"

replay_all "$cal" "$work/plain" --uncalibrated --calibration "$work/spreads.toml"
calibrate fit "$work/plain" "$work/names.choose" "$work/names.calibrate" "$work/spreads.toml" "$cal_truth" >"$work/fitted.toml"
if [ -n "${MARKERS:-}" ]; then
  calibrate people "$work/plain" "$work/names.choose" "$MARKERS" "$work/fitted.toml" "$cal_truth" >"$work/people.toml"
  mv "$work/people.toml" "$work/fitted.toml"
fi
replay_all "$pairs" "$work/pairs" --calibration "$work/fitted.toml"
calibrate difference-coverage "$work/pairs" "$work/names.pairs" "$pairs_truth" >"$work/differences.md"
calibrate differences "$work/pairs" "$work/names.pairs" "$work/fitted.toml" "$pairs_truth" >"$work/calibration.toml"

replay_all "$report" "$work/report" --calibration "$work/calibration.toml"
calibrate coverage "$work/report" "$work/names.report" "$report_truth" >"$work/coverage.md"
python3 "$here/accuracy.py" "$work/report" "$report_truth" >"$work/accuracy.md"

# The error budget: parts taken away in turn.
rm -rf "$work"/learnt-* "$work"/plain-*
cp -r "$work/report/two" "$work/learnt-found"
budget() { local out=$1; shift; "$replay" "$report" "$work/$out" two "$@" 2>>"$work/replay.log"; }
budget learnt-true --calibration "$work/calibration.toml" --true-cameras "$report_truth"
budget plain-found --calibration "$work/raw.toml"
budget plain-true --calibration "$work/raw.toml" --true-cameras "$report_truth"
python3 "$here/budget.py" "$work" "$report_truth" >"$work/budget.md"

cat "$work/accuracy.md" "$work/budget.md" "$work/differences.md"
grep -E 'all turns|from address at the top|everything' "$work/coverage.md"

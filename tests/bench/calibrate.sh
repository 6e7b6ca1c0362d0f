#!/usr/bin/env bash
# Everything that is learnt from rendered swings, in order, and what it gives on swings that taught nothing.
#
# usage: calibrate.sh WORK SETS
#
# SETS/{spreads,learn,cal,pairs,rep}/{tracks,truth}: rendered takes (models/training/referee) as the `observe` example reads them with SAMPLE_STILL=1, which is
# what measuring reads; no body in two sets. Tracks are NAME_face_on.json and NAME_down_the_line.json, truths NAME_truth.json; pairs: swings NAMEa and NAMEb of one
# body, outfit and camera place. Writes WORK/calibration.toml (copy it to pipelines/calibration.toml) and
# WORK/{accuracy,coverage,thirds,differences,budget}.md.
# MARKERS, if set: what the `markers` example said of a person with markers on its error stream; adds the term for real people.
set -euo pipefail
[ $# -eq 2 ] || { sed -n 2,10p "$0"; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
replay=${REPLAY:-$here/../../target/debug/examples/replay}
work=$1 sets=$2
mkdir -p "$work"
calibrate() { python3 "$here/calibrate.py" "$@"; }
# Measures the set $1 into $2 in the three ways of filming; $3 and on: more options. What stands already stays.
replay_all() {
  local set=$1 out=$2; shift 2
  for mode in two face_on down_the_line; do
    [ -e "$out/$mode.done" ] && continue
    "$replay" "$set/tracks" "$out/$mode" "$mode" "$@" 2>>"$work/replay.log"
    touch "$out/$mode.done"
  done
}

calibrate raw >"$work/raw.toml"
if [ ! -e "$work/spreads.toml" ]; then
  for role in face_on down_the_line; do
    "$replay" "$sets/spreads/tracks" "$work/known/$role" "$role" --uncalibrated --calibration "$work/raw.toml" \
      --true-cameras "$sets/spreads/truth" 2>>"$work/replay.log"
  done
  calibrate spreads "$work/known" "$sets" >"$work/spreads.part"
  mv "$work/spreads.part" "$work/spreads.toml"
fi

for set in learn cal pairs; do
  replay_all "$sets/$set" "$work/plain/$set" --uncalibrated --calibration "$work/spreads.toml"
done
calibrate fit "$work/plain" "$sets" "$work/spreads.toml" >"$work/fitted.toml"
if [ -n "${MARKERS:-}" ]; then
  calibrate people "$work/plain" "$sets" "$MARKERS" "$work/fitted.toml" >"$work/people.toml"
  mv "$work/people.toml" "$work/fitted.toml"
fi
calibrate differences "$work/plain" "$sets" "$work/fitted.toml" >"$work/calibration.toml"
told() { python3 "$here/coverage.py" "$@"; }
told differences "$work/plain/pairs" "$sets/pairs" "$work/calibration.toml" >"$work/differences.md"

rm -rf "$work/report"
replay_all "$sets/rep" "$work/report" --calibration "$work/calibration.toml"
told measures "$work/report" "$sets/rep" >"$work/coverage.md"
told thirds "$work/report" "$sets/rep" >"$work/thirds.md"
python3 "$here/accuracy.py" "$work/report" "$sets/rep/truth" >"$work/accuracy.md"

# The error budget: parts taken away in turn.
rm -rf "$work"/learnt-* "$work"/plain-*
cp -r "$work/report/two" "$work/learnt-found"
budget() { local out=$1; shift; "$replay" "$sets/rep/tracks" "$work/$out" two "$@" 2>>"$work/replay.log"; }
budget learnt-true --calibration "$work/calibration.toml" --true-cameras "$sets/rep/truth"
budget plain-found --calibration "$work/raw.toml"
budget plain-true --calibration "$work/raw.toml" --true-cameras "$sets/rep/truth"
python3 "$here/budget.py" "$work" "$sets/rep/truth" >"$work/budget.md"

cat "$work/accuracy.md" "$work/budget.md" "$work/differences.md" "$work/thirds.md"
grep -hE 'all turns|from address at the top|everything' "$work/coverage.md"

#!/usr/bin/env bash
# Everything that is learnt from rendered swings, in order, and what it gives on swings that taught nothing.
#
# usage: calibrate.sh WORK SIMULATED REFEREE
#
# SIMULATED/{learn,calibrate,report,pairs}/{tracks,truth}: as models/training/simulate.py unpacks them, with the network to calibrate
# for (of another network: `learn` alone); REFEREE/{cal,pairs,rep}/{tracks,truth}: swings of the other renderer (models/training/referee), tracks as the `observe` example
# writes them. Tracks are NAME_face_on.json and NAME_down_the_line.json, truths NAME_truth.json; pairs: swings NAMEa and NAMEb of one
# body, outfit and camera place. Writes WORK/calibration.toml (copy it to pipelines/calibration.toml) and
# WORK/{accuracy,coverage,thirds,simulated,differences,budget}.md.
# MARKERS, if set: what the `markers` example said of a person with markers on its error stream; adds the term for real people.
set -euo pipefail
[ $# -eq 3 ] || { sed -n 2,12p "$0"; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
replay=${REPLAY:-$here/../../target/debug/examples/replay}
work=$1 simulated=$2 referee=$3
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
    "$replay" "$simulated/learn/tracks" "$work/known/$role" "$role" --uncalibrated --calibration "$work/raw.toml" \
      --true-cameras "$simulated/learn/truth" 2>>"$work/replay.log"
  done
  calibrate spreads "$work/known" "$simulated/learn" >"$work/spreads.part"
  mv "$work/spreads.part" "$work/spreads.toml"
fi

plain="--uncalibrated --calibration $work/spreads.toml"
# shellcheck disable=SC2086
{
  replay_all "$referee/cal" "$work/plain/cal" $plain
  replay_all "$referee/pairs" "$work/plain/referee-pairs" $plain
  for set in learn calibrate pairs report; do
    if [ -d "$simulated/$set" ]; then replay_all "$simulated/$set" "$work/plain/$set" $plain; fi
  done
}
calibrate fit "$work/plain" "$simulated" "$referee" "$work/spreads.toml" >"$work/fitted.toml"
if [ -n "${MARKERS:-}" ]; then
  calibrate people "$work/plain" "$referee" "$MARKERS" "$work/fitted.toml" >"$work/people.toml"
  mv "$work/people.toml" "$work/fitted.toml"
fi
calibrate differences "$work/plain" "$simulated" "$referee" "$work/fitted.toml" >"$work/calibration.toml"
told() { python3 "$here/coverage.py" "$@"; }
if [ -d "$simulated/pairs" ]; then
  told differences "$work/plain/pairs" "$simulated/pairs" "$work/calibration.toml" >"$work/differences-simulated.md"
  told differences "$work/plain/referee-pairs" "$referee/pairs" "$work/calibration.toml" >"$work/differences.md"
else
  told differences-apart "$work/plain/referee-pairs" "$referee/pairs" "$work/calibration.toml" >"$work/differences.md"
fi
if [ -d "$simulated/report" ]; then
  told measures "$work/plain/report" "$simulated/report" "$work/calibration.toml" >"$work/simulated.md"
  told thirds "$work/plain/report" "$simulated/report" "$work/calibration.toml" >"$work/simulated-thirds.md"
fi

rm -rf "$work/report"
replay_all "$referee/rep" "$work/report" --calibration "$work/calibration.toml"
told measures "$work/report" "$referee/rep" >"$work/coverage.md"
told thirds "$work/report" "$referee/rep" >"$work/thirds.md"
python3 "$here/accuracy.py" "$work/report" "$referee/rep/truth" >"$work/accuracy.md"

# The error budget: parts taken away in turn.
rm -rf "$work"/learnt-* "$work"/plain-*
cp -r "$work/report/two" "$work/learnt-found"
budget() { local out=$1; shift; "$replay" "$referee/rep/tracks" "$work/$out" two "$@" 2>>"$work/replay.log"; }
budget learnt-true --calibration "$work/calibration.toml" --true-cameras "$referee/rep/truth"
budget plain-found --calibration "$work/raw.toml"
budget plain-true --calibration "$work/raw.toml" --true-cameras "$referee/rep/truth"
python3 "$here/budget.py" "$work" "$referee/rep/truth" >"$work/budget.md"

cat "$work/accuracy.md" "$work/budget.md" "$work/differences.md" "$work/thirds.md"
grep -hE 'all turns|from address at the top|everything' "$work/coverage.md"

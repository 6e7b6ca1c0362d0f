#!/bin/bash
# Golfers of 150 to 250 px in pictures of 1280 x 720 to 3840 x 2160, on ten places: how often they are found. Long: it renders the
# takes first (models/training/referee/README.md says what that needs) and reads every one.
# usage: bash tests/far/run.sh [--clips FOLDER] [--takes N]
set -u -o pipefail
cd "$(dirname "$0")/../.." || exit 2
clips=target/far takes=40
while [ $# -gt 0 ]; do
  case "$1" in
    --clips) clips=$2; shift 2 ;;
    --takes) takes=$2; shift 2 ;;
    *) sed -n '2,4p' "$0"; exit 2 ;;
  esac
done
mkdir -p "$clips/tracks" || exit 2
python=${PYTHON:-python3}
if ! "$python" -c 'import pyrender, scipy' 2>/dev/null; then
  echo "pyrender is missing: models/training/referee/README.md says what the renderer needs"
  exit 77
fi
clips=$(cd "$clips" && pwd)
(cd models/training/referee && "$python" far_clips.py ../data "$clips" "$takes") || exit 2
observe=${OBSERVE:-}
if [ -z "$observe" ]; then
  cargo build --release --example observe || exit 2
  observe=target/release/examples/observe
fi
for clip in "$clips"/*.mp4; do
  name=$(basename "$clip" .mp4)
  [ -e "$clips/tracks/$name.json" ] && continue
  # As measuring reads it: frames in which nothing moves are left out. One in which nobody is found gives no track.
  SAMPLE_STILL=1 "$observe" "$clip" "$clips/tracks/$name.part" || : > "$clips/tracks/$name.part"
  mv "$clips/tracks/$name.part" "$clips/tracks/$name.json"
done
exec "$python" tests/far/judge.py "$clips" "$clips/tracks"

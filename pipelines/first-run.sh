#!/usr/bin/env bash
# From a fresh clone to a page: installs what is missing, fetches the runtime library, builds, and
# measures the sample clips.
#
# usage: bash pipelines/first-run.sh [--yes]     (--yes: don't ask before installing)
set -euo pipefail
cd "$(dirname "$0")/.."

bash pipelines/install-packages.sh "$@"
if ! command -v cargo >/dev/null; then . "$HOME/.cargo/env"; fi
bash pipelines/fetch-runtime.sh
cargo build --release --locked
program=${CARGO_TARGET_DIR:-target}/release/quarterturn
"$program" check
for lesson in first-lesson sixth-lesson; do
  "$program" measure --face-on "sample-clips/${lesson}_face_on.mp4" \
    --down-the-line "sample-clips/${lesson}_down_the_line.mp4" --out out --replace
done
echo
echo "The pages:"
for lesson in first-lesson sixth-lesson; do echo "  out/$lesson/report.html"; done

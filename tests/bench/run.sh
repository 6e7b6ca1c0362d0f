#!/usr/bin/env bash
# Measures speed and memory, all ratios from one run on this machine, and prints them one a line:
#   ratio NAME VALUE
# The general-purpose pose library to compare with is the Python package `mediapipe` 0.10.14; it is
# put in a virtual environment of its own (set BENCH_PYTHON to one that has it already).
# BENCH_ROUNDS (5) and BENCH_SWINGS ("1 10 100") make it shorter; BENCH_PARTS names what to run
# ("speed results memory many").
set -euo pipefail
cd "$(dirname "$0")/../.."
if ! command -v cargo >/dev/null; then . "$HOME/.cargo/env"; fi

cargo build --locked --release --bin quarterturn --example bench
target="${CARGO_TARGET_DIR:-target}/release"

python="${BENCH_PYTHON:-}"
if [ -z "$python" ]; then
  folder="${CARGO_TARGET_DIR:-target}/bench-venv"
  if [ ! -x "$folder/bin/python" ]; then
    python3 -m venv "$folder"
    "$folder/bin/pip" install --quiet mediapipe==0.10.14 || echo "note: the Python library could not be installed" >&2
  fi
  python="$folder/bin/python"
fi
python3 tests/bench/bench.py --program "$target/quarterturn" --bench "$target/examples/bench" \
  --python "$python" --rounds "${BENCH_ROUNDS:-5}" --swings "${BENCH_SWINGS:-1 10 100}" --parts "${BENCH_PARTS:-speed results memory many}"

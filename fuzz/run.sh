#!/usr/bin/env bash
# Runs every fuzz target for a number of cases (default a million), at low priority.
# usage: bash fuzz/run.sh [CASES] [TARGET…]     needs: rustup toolchain install nightly; cargo install cargo-fuzz
set -euo pipefail
cd "$(dirname "$0")/.."
cases=${1:-1000000}
shift || true
host=$(rustc +nightly -vV | sed -n 's/^host: //p')
targets=("$@")
if [ ${#targets[@]} = 0 ]; then mapfile -t targets < <(cargo +nightly fuzz list); fi

# Files of the repository to begin from.
seed() {
  local to=fuzz/corpus/$1
  shift
  mkdir -p "$to"
  cp "$@" "$to/"
}
seed sensor_c3d tests/reference/landmarks_by_*.c3d
seed pipeline_toml fuzz/seeds/pipeline.toml pipelines/two-view.toml
seed learned_toml pipelines/calibration.toml
seed clip_tags fuzz/seeds/tags.txt
seed references_toml docs/references.toml
seed swing_json fuzz/seeds/swing.json
seed curves_csv fuzz/seeds/curves.csv
seed sensor_csv fuzz/seeds/sensor*.csv
seed mapping_toml fuzz/seeds/mapping.toml
seed calibration_toml fuzz/seeds/calibration.toml
seed name_pattern fuzz/seeds/name_pattern.txt

cargo +nightly fuzz build --sanitizer none ${FUZZ_TARGET_DIR:+--target-dir "$FUZZ_TARGET_DIR"}
mkdir -p fuzz/artifacts
for t in "${targets[@]}"; do
  mkdir -p "fuzz/corpus/$t"
  echo "== $t"
  # The parsers are safe Rust: what counts is a panic, an overflow, a hang or a large allocation.
  nice -n 15 "${FUZZ_TARGET_DIR:-fuzz/target}/$host/release/$t" "fuzz/corpus/$t" \
    -runs="$cases" -max_len=16384 -timeout=10 -rss_limit_mb=1024 -malloc_limit_mb=256 \
    -artifact_prefix="fuzz/artifacts/$t-" -print_final_stats=1 2>&1 | tail -9
done

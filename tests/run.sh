#!/usr/bin/env bash
# Passes all quick tests. `bash tests/run.sh --long` adds the long ones (see DEVELOPERS.md).
set -euo pipefail
cd "$(dirname "$0")/.."

long=false
[ "${1:-}" = --long ] && long=true
bash pipelines/install-packages.sh --yes
if ! command -v cargo >/dev/null; then . "$HOME/.cargo/env"; fi
bash pipelines/fetch-runtime.sh

cargo fmt --check
cargo clippy --locked --all-targets -- -D warnings
RUSTDOCFLAGS="-D warnings" cargo doc --locked --no-deps --quiet
python3 pipelines/third-party.py --check
if $long; then
  cargo test --locked -- --include-ignored
else
  cargo test --locked
fi
python3 -m unittest discover -s tests/scripts -p 'test_*.py'
bash tests/training.sh
# 77: its Python packages are not to be had, which it says.
cluster=--quick
if $long; then cluster=; fi
QUARTERTURN="${CARGO_TARGET_DIR:-target}/debug/quarterturn" bash tests/cluster/run.sh $cluster || [ $? = 77 ]
if [ -x tests/browser/run.sh ] || [ -f tests/browser/run.sh ]; then bash tests/browser/run.sh; fi
echo "all tests passed"

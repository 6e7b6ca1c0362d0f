#!/usr/bin/env bash
# Drives the pages with Debian's Chromium: needs chromium, node and npm.
# usage: tests/browser/run.sh [PROGRAM]     PROGRAM: the built quarterturn, built here if not given
# Without them the tests are skipped and say so; BROWSER_TESTS=required makes that a failure.
# PICTURES=DIR also writes screenshots there.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
for tool in chromium node npm; do
    if ! command -v "$tool" >/dev/null; then
        echo "tests/browser: SKIPPED, $tool is missing. Install it with: apt-get install chromium nodejs npm" >&2
        [ "${BROWSER_TESTS:-}" = required ] && exit 1
        exit 0
    fi
done
program=${1:-}
if [ -z "$program" ]; then
    (cd "$root" && cargo build --quiet)
    program=${CARGO_TARGET_DIR:-$root/target}/debug/quarterturn
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp "$here"/*.mjs "$here/package.json" "$work"
(cd "$work" && npm install --silent --no-audit --no-fund --ignore-scripts)
node "$work/main.mjs" "$program" "$root/sample-clips" "$work" "${PICTURES:-}"

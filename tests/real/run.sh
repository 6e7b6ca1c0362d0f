#!/usr/bin/env bash
# Runs the built program on real clips as a user would, and prints what came of each beside what is
# truly seen in it (clips.toml). Needs the package registries for the clips; not part of tests/run.sh.
#
# usage: bash tests/real/run.sh [--out DIR] [--only NAME]...
#   PROGRAM                            the program (default: target/release/quarterturn, else target/debug)
#   QUARTERTURN_REAL_CACHE             where downloads are kept (default: target/real)
#   QUARTERTURN_REAL_BODYPOSE3D and so on   folders with clones of public repositories, see clips.toml;
#                                      their clips are left out where the variable is not set
# Ends with 0 where every clip came out as expected, 1 where one did not, 77 where no clip could be had.
set -euo pipefail
cd "$(dirname "$0")/../.."
if ! command -v python3 >/dev/null; then
  echo "tests/real: python3 is missing; install it and run this again." >&2
  exit 77
fi
exec python3 tests/real/look.py "$@"

#!/usr/bin/env bash
# The driver of pipelines/cluster on real engines: a Ray cluster of several nodes, an S3 store that fails, Slurm's daemons. Minutes.
# `--quick`: what needs no engine and measures nothing, in half a minute, and only where the Python packages stand already.
# `--overhead [SWINGS [ROUNDS [NODES…]]]` prints what engine and store cost instead, `--driver` what the driver does. Other arguments go to pytest.
# CLUSTER_VENV names the folder of the Python packages, QUARTERTURN a built program. Root is needed for a network of the test's own
# and for Slurm; what cannot be run is named. Ends with 77 where the packages are not to be had.
set -euo pipefail
cd "$(dirname "$0")/../.."

venv="${CLUSTER_VENV:-${XDG_CACHE_HOME:-$HOME/.cache}/quarterturn/cluster-venv}"
if [ "${1:-}" = --quick ] && [ ! -x "$venv/bin/pytest" ]; then
  echo "tests/cluster: SKIPPED, its Python packages are not there; \`bash tests/cluster/run.sh\` installs them (800 MB)." >&2
  exit 77
fi
if [ ! -x "$venv/bin/pytest" ]; then
  python3 -m venv "$venv"
  if ! "$venv/bin/pip" install --quiet -r tests/cluster/requirements.txt; then
    rm -rf "$venv"
    echo "skipped: the Python packages of tests/cluster/requirements.txt could not be installed"
    exit 77
  fi
fi
if [ -z "${QUARTERTURN:-}" ]; then
  cargo build --locked
  QUARTERTURN=target/debug/quarterturn
fi
QUARTERTURN="$(realpath "$QUARTERTURN")"
export QUARTERTURN
if [ "${1:-}" = --overhead ]; then
  shift
  set -- "$venv/bin/python" tests/cluster/overhead.py "$@"
elif [ "${1:-}" = --quick ]; then
  shift
  set -- "$venv/bin/python" -m pytest -p no:cacheprovider -q -ra tests/cluster/test_store.py "$@"
elif [ "${1:-}" = --driver ]; then
  set -- "$venv/bin/python" tests/cluster/driver_cost.py
else
  set -- "$venv/bin/python" -m pytest -p no:cacheprovider -q -ra --durations=0 tests/cluster "$@"
fi
if [ "$(id -u)" = 0 ] && unshare --net true 2>/dev/null; then
  # Nothing that the engines say leaves this machine.
  exec unshare --net bash -c 'ip link set lo up && ip address add 127.0.0.2/8 dev lo && exec "$@"' - "$@"
fi
exec "$@"

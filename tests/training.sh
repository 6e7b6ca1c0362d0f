#!/usr/bin/env bash
# Tests of the torso network's training and of the referee, on the CPU: about a minute.
# usage: tests/training.sh     TRAINING_PYTHON: the Python to use, python3 if not given
# Without the packages of models/training/requirements.txt they are skipped and say so;
# TRAINING_TESTS=required makes that a failure.
set -euo pipefail
cd "$(dirname "$0")/.."
python=${TRAINING_PYTHON:-python3}
missing=$("$python" - <<'PY'
from importlib.util import find_spec
print(*[name for name in ("torch", "numpy", "scipy", "PIL", "onnx", "onnxruntime", "cv2", "pytest") if find_spec(name) is None])
PY
) || missing="$python"
if [ -n "$missing" ]; then
    echo "tests/training: SKIPPED, missing: $missing. Install models/training/requirements.txt into a virtual environment and name its Python in TRAINING_PYTHON." >&2
    if [ "${TRAINING_TESTS:-}" = required ]; then exit 1; fi
    exit 0
fi
"$python" -m pytest -q -p no:cacheprovider models/training/referee/tests
exec "$python" -m pytest -q -p no:cacheprovider models/training/tests

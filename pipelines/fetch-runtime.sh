#!/usr/bin/env bash
# Fetches the pinned runtime library of the networks into runtime/, checked by its checksum.
# It is a member of the Python package onnxruntime 1.32.0 (MIT licence).
set -euo pipefail
cd "$(dirname "$0")/.."

# The checksum is also built into the program, which loads no other library on this system.
read -r sum library < pipelines/runtime.sha256
wheel_sum=5a34fc4dfeb5a7b4a74c95dcba1e773d722abda720b474edf1b0c419dc6d163d

whole() { echo "$sum  runtime/$library" | sha256sum --check --status 2>/dev/null; }
if whole; then exit 0; fi
case "$(uname -s)-$(uname -m)" in
  Linux-x86_64) ;;
  *) echo "The pinned runtime library is for Linux on x86-64. Put onnxruntime 1.17 or later into runtime/ or name its file in QUARTERTURN_RUNTIME." >&2; exit 1 ;;
esac
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 -m pip download --quiet --disable-pip-version-check --no-deps --only-binary=:all: \
  --implementation cp --python-version 3.11 --abi cp311 --platform manylinux_2_28_x86_64 \
  --dest "$folder" onnxruntime==1.32.0
wheel=$(echo "$folder"/onnxruntime-1.32.0-*.whl)
echo "$wheel_sum  $wheel" | sha256sum --check --status || {
  echo "The package that came is not the pinned one (checksum differs). Nothing was installed." >&2; exit 1; }
mkdir -p runtime
python3 - "$wheel" "onnxruntime/capi/$library" "runtime/.$library.part" <<'PY'
import shutil, sys, zipfile
with zipfile.ZipFile(sys.argv[1]) as z, z.open(sys.argv[2]) as source, open(sys.argv[3], "wb") as target:
    shutil.copyfileobj(source, target)
PY
mv "runtime/.$library.part" "runtime/$library"
whole || { rm -f "runtime/$library"; echo "The runtime library's checksum differs. It was removed; run this again." >&2; exit 1; }
echo "fetched runtime/$library"

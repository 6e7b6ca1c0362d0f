#!/usr/bin/env python3
"""Makes the Python wheel from the release's folder: the same program, which takes the runtime library
from the package onnxruntime that pip installs beside it.

usage: python3 pipelines/package/wheel.py FOLDER VERSION OUT

A plain zip by the rules of the binary distribution format (packaging.python.org, PEP 427 and PEP 491),
so that it holds the very program of the other packages; a tool for Rust wheels would build another.
"""
import base64
import hashlib
import os
import pathlib
import sys
import time
import zipfile

# The program wants the C library of Debian 11; pip says so before it installs (PEP 600).
TAG = "py3-none-manylinux_2_31_x86_64"
FINDER = '''"""quarterturn: how far a golf student's hips and shoulders turned, from one or two phone clips.

This package carries the program; `quarterturn.run([...])` calls it and gives what it wrote as JSON.
"""
import json
import os
import pathlib
import subprocess
import sys

__version__ = "{version}"
_PROGRAM = pathlib.Path(__file__).parent / "program" / "quarterturn"


def _environment():
    """The runtime library comes from the package onnxruntime, unless the user names another."""
    if "QUARTERTURN_RUNTIME" in os.environ:
        return dict(os.environ)
    import importlib.util

    found = importlib.util.find_spec("onnxruntime")
    places = list(found.submodule_search_locations or []) if found else []
    for place in places:
        for library in sorted(pathlib.Path(place, "capi").glob("libonnxruntime.so.*")):
            return dict(os.environ, QUARTERTURN_RUNTIME=str(library))
    return dict(os.environ)


def main():
    """The command line."""
    os.execve(_PROGRAM, ["quarterturn", *sys.argv[1:]], _environment())


def run(arguments):
    """Runs a command with `--json` and returns the object that it wrote, or raises with what it said."""
    done = subprocess.run([_PROGRAM, *map(str, arguments), "--json"], env=_environment(), capture_output=True, text=True)
    if done.returncode not in (0, 3):
        raise RuntimeError(done.stderr.strip())
    return json.loads(done.stdout)
'''
METADATA = """Metadata-Version: 2.1
Name: quarterturn
Version: {version}
Summary: How far a golf student's hips and shoulders turned, from one or two phone clips, and how sure that is
License: Apache-2.0
Requires-Python: >=3.11
Requires-Dist: onnxruntime==1.32.0
Description-Content-Type: text/plain

{start}
"""
WHEEL = f"Wheel-Version: 1.0\nGenerator: quarterturn-package\nRoot-Is-Purelib: false\nTag: {TAG}\n"
LEFT_OUT = ("runtime/", "man/", "completions/", "share/", "add-to-menu.sh", "START.txt", "SHA256SUMS")


def main() -> None:
    folder, version, out = pathlib.Path(sys.argv[1]), sys.argv[2], pathlib.Path(sys.argv[3])
    when = time.gmtime(int(os.environ["SOURCE_DATE_EPOCH"]))[:6]
    info = f"quarterturn-{version}.dist-info"
    files: list[tuple[str, bytes, int]] = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        name = path.relative_to(folder).as_posix()
        if not name.startswith(LEFT_OUT):
            files.append((f"quarterturn/program/{name}", path.read_bytes(), path.stat().st_mode & 0o777))
    files.append(("quarterturn/__init__.py", FINDER.replace("{version}", version).encode(), 0o644))
    files.append(("quarterturn/__main__.py", b"from . import main\n\nmain()\n", 0o644))
    start = "pip puts the program among your commands: quarterturn show, quarterturn measure, quarterturn --help."
    files.append((f"{info}/METADATA", METADATA.format(version=version, start=start).encode(), 0o644))
    files.append((f"{info}/WHEEL", WHEEL.encode(), 0o644))
    files.append((f"{info}/entry_points.txt", b"[console_scripts]\nquarterturn = quarterturn:main\n", 0o644))
    files.append((f"{info}/licenses/LICENSE", (folder / "LICENSE").read_bytes(), 0o644))
    record = "".join(f"{n},sha256={base64.urlsafe_b64encode(hashlib.sha256(b).digest()).rstrip(b'=').decode()},{len(b)}\n" for n, b, _ in files)
    files.append((f"{info}/RECORD", (record + f"{info}/RECORD,,\n").encode(), 0o644))
    with zipfile.ZipFile(out / f"quarterturn-{version}-{TAG}.whl", "w") as wheel:
        for name, data, mode in files:
            entry = zipfile.ZipInfo(name, when)
            entry.create_system = 3  # Unix, so that the mode below counts on whatever system this runs
            entry.external_attr = (0o100000 | mode) << 16
            wheel.writestr(entry, data, zipfile.ZIP_DEFLATED, 9)


if __name__ == "__main__":
    main()

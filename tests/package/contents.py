#!/usr/bin/env python3
"""Looks into the release's archives: everything that must be inside is, nothing of the building
machine is, the three carry the same program, and the bill of materials is valid.

usage: python3 tests/package/contents.py DIR

The bill is set against the standard's own schema where the package cyclonedx-python-lib (with its
extra json-validation) is installed; it says so where it is not.
"""
import base64
import csv
import hashlib
import io
import json
import pathlib
import subprocess
import sys
import tarfile
import zipfile

FOLDER = ["quarterturn", "LICENSE", "START.txt", "SHA256SUMS", "add-to-menu.sh", "doc/LICENCES.md", "doc/install.md", "doc/quarterturn.cdx.json",
          "doc/licences/ffmpeg.txt", "doc/licences/openh264.txt", "doc/licences/dav1d.txt", "doc/licences/onnxruntime.txt",
          "doc/licences/onnxruntime-third-party.txt", "doc/licences/crates.txt", "doc/licences/dejavu.txt", "lib/libavcodec.so.59", "lib/libavformat.so.59",
          "lib/libavutil.so.57", "lib/libswscale.so.6", "lib/libswresample.so.4", "models/torso.onnx", "models/pose_detection.onnx",
          "models/pose_landmark_full_hm.onnx", "models/LICENSE", "models/PROVENANCE.md", "runtime/libonnxruntime.so.1.32.0",
          "man/quarterturn.1", "man/quarterturn-show.1", "completions/quarterturn.bash", "completions/_quarterturn", "completions/quarterturn.fish",
          "share/quarterturn.desktop", "share/quarterturn-phones.desktop", "share/quarterturn.svg"]
failures = []


def want(true: bool, text: str) -> None:
    if not true:
        failures.append(text)


def folder(path: pathlib.Path) -> dict[str, bytes]:
    with tarfile.open(path) as archive:
        members = archive.getmembers()
        tops = {m.name.split("/")[0] for m in members}
        want(len(tops) == 1, f"{path.name}: unpacks into {tops}, not into one folder")
        want(all(m.isdir() or m.isfile() for m in members), f"{path.name}: links inside")
        want(all(m.uid == 0 and m.gid == 0 and not m.uname for m in members), f"{path.name}: names the one who built it")
        want(len({m.mtime for m in members}) == 1, f"{path.name}: more than one time")
        files = {m.name.split("/", 1)[1]: archive.extractfile(m).read() for m in members if m.isfile()}
    for name in FOLDER:
        want(bool(files.get(name)), f"{path.name}: {name} is missing")
    return files


def wheel(path: pathlib.Path, files: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path) as archive:
        want(archive.testzip() is None, f"{path.name}: damaged")
        inside = {n: archive.read(n) for n in archive.namelist()}
        record = next(n for n in inside if n.endswith(".dist-info/RECORD"))
        listed = {row[0]: row[1] for row in csv.reader(io.StringIO(inside[record].decode()))}
        want(set(listed) == set(inside), f"{path.name}: RECORD does not list what is inside")
        for name, sum_ in listed.items():
            if sum_:
                own = base64.urlsafe_b64encode(hashlib.sha256(inside[name]).digest()).rstrip(b"=").decode()
                want(sum_ == f"sha256={own}", f"{path.name}: {name} is not what RECORD says")
        mode = archive.getinfo("quarterturn/program/quarterturn").external_attr >> 16
    want(mode & 0o111 != 0, f"{path.name}: the program can't be run")
    want(inside["quarterturn/program/quarterturn"] == files["quarterturn"], f"{path.name}: another program")
    want(not any("libonnxruntime" in n for n in inside), f"{path.name}: carries a runtime of its own")


def debian(path: pathlib.Path, files: dict[str, bytes]) -> None:
    packed = subprocess.run(["dpkg-deb", "--fsys-tarfile", path], check=True, stdout=subprocess.PIPE).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        inside = {m.name.removeprefix("./"): m for m in archive.getmembers()}
        program = archive.extractfile(inside["usr/lib/quarterturn/quarterturn"]).read()
    want(program == files["quarterturn"], f"{path.name}: another program")
    want(all(m.uid == 0 and m.gid == 0 for m in inside.values()), f"{path.name}: files that are not root's")
    for name in ["usr/bin/quarterturn", "usr/share/applications/quarterturn.desktop", "usr/share/man/man1/quarterturn.1.gz",
                 "usr/share/bash-completion/completions/quarterturn", "usr/share/doc/quarterturn/copyright", "usr/share/doc/quarterturn/changelog.gz"]:
        want(name in inside, f"{path.name}: {name} is missing")
    control = subprocess.run(["dpkg-deb", "--field", path], check=True, stdout=subprocess.PIPE, text=True).stdout
    want("Depends: libc6 (>= 2.31)" in control, f"{path.name}: does not say which C library it needs")


def bill(text: bytes, files: dict[str, bytes]) -> None:
    told = json.loads(text)
    parts = {p["name"]: p for p in told["components"]}
    for name in ["ffmpeg", "openh264", "dav1d", "onnxruntime", "torso.onnx", "ort", "image", "ffmpeg-next", "ndarray", "nalgebra", "rayon", "serde_json", "indicatif"]:
        want(name in parts, f"bill of materials: no {name}")
    want(all(p.get("licenses") for p in told["components"]), "bill of materials: a part without a licence")
    model = parts.get("torso.onnx", {}).get("hashes", [{}])[0].get("content")
    want(model == hashlib.sha256(files["models/torso.onnx"]).hexdigest(), "bill of materials: another torso network")
    try:
        from cyclonedx.schema import SchemaVersion
        from cyclonedx.validation.json import JsonStrictValidator
    except ImportError:
        print("note: cyclonedx-python-lib is not installed, the bill of materials was not set against its schema")
        return
    error = JsonStrictValidator(SchemaVersion.V1_5).validate_str(text.decode())
    want(error is None, f"bill of materials: {error}")
    print(f"bill of materials: {len(told['components'])} parts, valid by the schema of CycloneDX 1.5")


def main() -> int:
    out = pathlib.Path(sys.argv[1])
    only = lambda pattern: next(iter(sorted(out.glob(pattern))))  # noqa: E731
    files = folder(only("quarterturn-*-linux-x86_64.tar.gz"))
    wheel(only("quarterturn-*.whl"), files)
    debian(only("quarterturn_*_amd64.deb"), files)
    bill(files["doc/quarterturn.cdx.json"], files)
    ffmpeg = files["lib/libavcodec.so.59"]
    want(b"LGPL version 2.1 or later" in ffmpeg and b"--enable-gpl" not in ffmpeg, "FFmpeg's libraries are not under the LGPL")
    here = str(pathlib.Path(__file__).resolve().parents[2]).encode()
    home = str(pathlib.Path.home()).encode() + b"/"
    for name, data in files.items():
        # (The runtime library was built elsewhere, is pinned by its checksum, and names its own builder's folders.)
        if name == "quarterturn" or name.startswith("lib/"):
            want(here not in data, f"{name}: names the folder where it was built")
            want(home not in data, f"{name}: names the home of the one who built it")
    sums = {line.split("  ", 1)[1]: line.split()[0] for line in files["SHA256SUMS"].decode().splitlines()}
    want(set(sums) == set(files) - {"SHA256SUMS"}, "SHA256SUMS does not list what is in the folder")
    for line in failures:
        print(line, file=sys.stderr)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())

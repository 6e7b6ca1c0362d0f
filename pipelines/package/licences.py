"""The licences of everything in the release: one page that says what is under which, and the texts."""
import hashlib
import importlib.util
import json
import os
import pathlib
import re
import shutil
import subprocess

PARTS = pathlib.Path(__file__).parent
# As pipelines/fetch-runtime.sh pins it.
RUNTIME = "1.32.0"
PAGE = """# Licences

The program and its documentation: Apache-2.0 (LICENSE).

| part | licence | text |
| --- | --- | --- |
| lib/libav*, libsw*: FFmpeg {ffmpeg}, from Debian's sources | LGPL-2.1 or later; nothing in it is under the GPL alone | licences/ffmpeg.txt |
| inside libavcodec: OpenH264 {openh264}, writes H.264 | BSD-2-Clause | licences/openh264.txt |
| inside libavcodec: dav1d {dav1d}, reads AV1 | BSD-2-Clause | licences/dav1d.txt |
| runtime/: ONNX Runtime {runtime} | MIT | licences/onnxruntime.txt, licences/onnxruntime-third-party.txt |
| models/: the networks | Apache-2.0, with a statement of change | models/LICENSE, models/PROVENANCE.md |
| inside the program: crates | see third-party.md | licences/crates.txt |
| inside the program: DejaVu fonts | Bitstream Vera licence | licences/dejavu.txt |

FFmpeg's libraries lie in lib/ as files of their own: put others of the same version in their place
and the program uses those. Their sources, with what they were built by, are in the archive
quarterturn-VERSION-library-sources.tar beside the release; whoever passes the release on passes that
on too, or says where it is.

H.264, HEVC and AAC are under patents in some countries. The licences above are about copyright. Using
the program to look at one's own clips is what phones and browsers do every day; whoever sells
it, or builds it into something sold, asks someone who knows the law of the place.
"""


def module(path: pathlib.Path):
    spec = importlib.util.spec_from_file_location(path.stem.replace("-", "_"), path)
    loaded = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(loaded)
    return loaded


def metadata(tree: pathlib.Path, cargo: pathlib.Path, target: str = "x86_64-unknown-linux-gnu") -> dict:
    """What cargo knows of the crates that are part of the program for a target."""
    text = subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", target,
         "--manifest-path", tree / "Cargo.toml"],
        check=True, stdout=subprocess.PIPE, text=True, env=os.environ | {"CARGO_HOME": str(cargo)}).stdout
    meta = json.loads(text)
    meta["built_in"] = module(PARTS.parent / "third-party.py").built_in(meta)
    return meta


def sources() -> dict[str, str]:
    """Version of each of Debian's source packages."""
    names = [line.split()[1] for line in (PARTS / "sources.sha256").read_text().splitlines()]
    return dict(n.removesuffix(".dsc").split("_", 1) for n in names if n.endswith(".dsc"))


def crates(meta: dict) -> str:
    """Every licence text in the crates, each once, with the crates that bring it."""
    brings: dict[str, list[str]] = {}
    texts: dict[str, str] = {}
    for package in sorted(meta["packages"], key=lambda p: (p["name"], p["version"])):
        if package["id"] not in meta["built_in"]:
            continue
        name = f"{package['name']} {package['version']} ({package['license'] or 'see its text'})"
        files = sorted(p for p in pathlib.Path(package["manifest_path"]).parent.iterdir()
                       if p.is_file() and re.match(r"(LICEN[SC]E|COPYING|NOTICE|UNLICENSE)", p.name, re.IGNORECASE))
        if not files:
            brings.setdefault("", []).append(name)
        for path in files:
            text = path.read_text(errors="replace").strip()
            key = hashlib.sha256(re.sub(r"\s+", " ", text).encode()).hexdigest()
            texts[key] = text
            if name not in brings.setdefault(key, []):
                brings[key].append(name)
    out = []
    without = brings.pop("", [])
    for key, names in sorted(brings.items(), key=lambda b: b[1]):
        out.append("=" * 100 + "\n" + "\n".join(names) + "\n" + "-" * 100 + "\n" + texts[key] + "\n")
    if without:
        out.append("=" * 100 + "\nThese bring no text of their own; their licence is the one named:\n" + "\n".join(without) + "\n")
    return "\n".join(out)


def write(meta: dict, tree: pathlib.Path, build: pathlib.Path, runtime: pathlib.Path, doc: pathlib.Path) -> None:
    texts = doc / "licences"
    texts.mkdir(parents=True)
    (doc / "LICENCES.md").write_text(PAGE.format(runtime=RUNTIME, **sources()))
    for source, name in [
        (build / "sources/ffmpeg/COPYING.LGPLv2.1", "ffmpeg.txt"),
        (build / "sources/openh264/LICENSE", "openh264.txt"),
        (build / "sources/dav1d/COPYING", "dav1d.txt"),
        (runtime / "LICENSE", "onnxruntime.txt"),
        (runtime / "ThirdPartyNotices.txt", "onnxruntime-third-party.txt"),
        (tree / "src/report/assets/DejaVuSans-Bold.LICENSE.txt", "dejavu.txt"),
    ]:
        shutil.copyfile(source, texts / name)
    (texts / "crates.txt").write_text(crates(meta))

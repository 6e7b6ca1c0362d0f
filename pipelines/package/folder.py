#!/usr/bin/env python3
"""Lays out the release's folder: program, libraries, models, runtime, manual pages, completions,
licences, bill of materials, checksums. Every archive is made from it.

usage: python3 pipelines/package/folder.py --tree TREE --build BUILD --cargo CARGO_HOME --version V --folder FOLDER

TREE is the unpacked commit with runtime/ in it; BUILD the build system's /build.
"""
import argparse
import hashlib
import pathlib
import shutil
import subprocess

import bill
import licences

PARTS = pathlib.Path(__file__).parent
# What a person reads; the other pages are for developers.
PAGES = ["install.md", "filming.md", "measures.md", "accuracy.md", "agreement.md", "data-protection.md", "results.md", "sets.md",
         "third-party.md", "swing.schema.json", "references.toml"]
MODELS = ["pose_detection.onnx", "pose_landmark_full_hm.onnx", "torso.onnx", "LICENSE", "PROVENANCE.md", "torso-card.md"]


def copy(source: pathlib.Path, target: pathlib.Path, mode: int = 0o644) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
    target.chmod(mode)


def libraries(build: pathlib.Path, folder: pathlib.Path) -> None:
    """Each library under the one name by which the loader asks for it."""
    for path in sorted((build / "ffmpeg/lib").glob("lib*.so.*")):
        if not path.is_symlink():
            name, _, number = path.name.partition(".so.")
            copy(path, folder / "lib" / f"{name}.so.{number.split('.')[0]}", 0o755)


def written_by_itself(folder: pathlib.Path) -> None:
    """Manual pages and completions, from the program's own definition of its commands."""
    program = folder / "quarterturn"
    subprocess.run([program, "manual", folder / "man"], check=True, stdout=subprocess.DEVNULL)
    (folder / "completions").mkdir()
    for shell, name in [("bash", "quarterturn.bash"), ("zsh", "_quarterturn"), ("fish", "quarterturn.fish")]:
        text = subprocess.run([program, "completions", shell], check=True, stdout=subprocess.PIPE).stdout
        (folder / "completions" / name).write_bytes(text)


def checksums(folder: pathlib.Path) -> None:
    files = sorted(p for p in folder.rglob("*") if p.is_file() and not p.is_symlink())
    lines = [f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.relative_to(folder)}\n" for p in files]
    (folder / "SHA256SUMS").write_text("".join(lines))


def main() -> None:
    ask = argparse.ArgumentParser(description="lays out the release's folder")
    for name in ["tree", "build", "cargo", "folder"]:
        ask.add_argument(f"--{name}", type=pathlib.Path, required=True)
    ask.add_argument("--version", required=True)
    args = ask.parse_args()
    tree, folder = args.tree, args.folder
    folder.mkdir(parents=True)
    copy(args.build / "target/release/quarterturn", folder / "quarterturn", 0o755)
    libraries(args.build, folder)
    for name in MODELS:
        copy(tree / "models" / name, folder / "models" / name)
    for path in sorted((tree / "runtime").glob("libonnxruntime.so.*")):
        copy(path, folder / "runtime" / path.name)
    for name in PAGES:
        copy(tree / "docs" / name, folder / "doc" / name)
    copy(tree / "LICENSE", folder / "LICENSE")
    copy(PARTS / "files/START.txt", folder / "START.txt")
    copy(PARTS / "files/add-to-menu.sh", folder / "add-to-menu.sh", 0o755)
    for name in ["quarterturn.desktop", "quarterturn-phones.desktop", "quarterturn.svg"]:
        copy(PARTS / "files" / name, folder / "share" / name)
    written_by_itself(folder)
    meta = licences.metadata(tree, args.cargo)
    licences.write(meta, tree, args.build, args.cargo.parent / "runtime-notices", folder / "doc")
    bill.write(meta, tree, folder, args.version, folder / "doc/quarterturn.cdx.json")
    for path in folder.rglob("*"):
        if path.is_dir():
            path.chmod(0o755)
    checksums(folder)


if __name__ == "__main__":
    main()

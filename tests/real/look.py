"""Runs the program on real clips and prints a table: the clip, what is seen in it, what the program said.

See run.sh for the variables and the ways it ends.
"""
import argparse
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib

import fetch
import judge

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def program():
    given = os.environ.get("PROGRAM")
    places = [given] if given else [ROOT / f"target/{kind}/quarterturn" for kind in ("release", "debug")]
    for place in map(pathlib.Path, places):
        if place.is_file():
            return place.resolve()
    sys.exit("tests/real: the program is not built; run `cargo build --release` first.")


def measured(tool, paths, name, out):
    """What `measure` did with a clip, or with two of one swing: exit code, seconds, result or None, the last sentence said."""
    began = time.monotonic()
    command = [tool, "measure", *paths, "--name", name, "--out", out, "--quiet"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    seconds = time.monotonic() - began
    file = out / name / "swing.json"
    result = json.loads(file.read_text()) if file.exists() else None
    said = [line for line in done.stderr.strip().splitlines() if line]
    return {
        "code": done.returncode,
        "seconds": seconds,
        "result": result,
        "said": said[-1].removeprefix("quarterturn: ") if said else "",
        "printed": done.stdout,
    }


def folder_run(tool, clips, out):
    """One run over a folder that holds every clip: exit code, seconds, what was measured, and the rest."""
    with tempfile.TemporaryDirectory() as room:
        for name, path in clips:
            # `folder` passes links over, so that nothing outside the folder is read.
            shutil.copyfile(path, pathlib.Path(room) / f"{name}{path.suffix}")
        began = time.monotonic()
        command = [tool, "folder", room, "--out", out / "folder", "--quiet", "--json"]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        return done.returncode, time.monotonic() - began, done.stdout.strip(), done.stderr.strip()


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=pathlib.Path, help="keep the results there")
    parser.add_argument("--only", action="append", default=[], help="name of a clip; may be repeated")
    parser.add_argument("--no-folder", action="store_true", help="leave out the run over a folder")
    args = parser.parse_args()
    tool = program()
    known = tomllib.loads((HERE / "clips.toml").read_text())
    cache = pathlib.Path(os.environ.get("QUARTERTURN_REAL_CACHE", ROOT / "target/real"))
    out = args.out or pathlib.Path(tempfile.mkdtemp(prefix="quarterturn-real-"))
    out.mkdir(parents=True, exist_ok=True)
    folders = {}
    for name, source in known["sources"].items():
        folders[name], why = fetch.folder_of(name, source, cache)
        if why:
            print(f"left out: {name}: {why}", file=sys.stderr)
    clips = []
    for clip in known["clips"]:
        folder = folders[clip["source"]]
        if folder is None or (args.only and clip["name"] not in args.only):
            continue
        paths = [folder / clip[key] for key in ("path", "beside") if key in clip]
        missing = [path for path in paths if not path.is_file()]
        if missing:
            print(f"left out: {clip['name']}: {missing[0]} is missing", file=sys.stderr)
        else:
            clips.append((clip, paths))
    if not clips:
        print("tests/real: no clip could be had: the package registries can't be reached and no folder was given.", file=sys.stderr)
        return 77
    print("| clip | what is seen | the program said | seconds | verdict |\n| --- | --- | --- | --- | --- |")
    wrong = 0
    for clip, paths in clips:
        got = measured(tool, paths, clip["name"], out)
        good, verdict = judge.verdict(clip, got)
        wrong += not good
        print(f"| {clip['name']} | {clip['seen']} | {judge.words(got)} | {got['seconds']:.0f} | {verdict} |", flush=True)
    print(f"\n{len(clips) - wrong} of {len(clips)} clips came out as expected.")
    if not args.no_folder:
        # every file once: those of two views are there by themselves
        single = [(c, p[0]) for c, p in clips if "beside" not in c]
        code, seconds, printed, said = folder_run(tool, [(c["name"], p) for c, p in single], out)
        good, words = judge.folder([c for c, _ in single], code, printed)
        wrong += not good
        print(f"All in one folder: exit {code}, {seconds:.0f} s. {words}")
        if said:
            print(said, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/env python3
"""Writes docs/third-party.md from the lock file: every crate that is built in, with its licence.

usage: python3 pipelines/third-party.py           writes it
       python3 pipelines/third-party.py --check   writes nothing; fails where a crate's licence is none of
                                                  ALLOWED, a crate comes from elsewhere than the registry or
                                                  without a checksum, or the page is not what would be written

Needs no network once the crates are there. Known faults of crates are not looked up: their list
is only to be had over a network.
"""
import json
import re
import subprocess
import sys
import tomllib

PAGE = "docs/third-party.md"
# Licences that ask for no more than their notice. A crate passes where its expression can be met by these alone.
ALLOWED = {"0BSD", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "CC0-1.0",
           "ISC", "MIT", "MIT-0", "Unicode-3.0", "Unlicense", "WTFPL", "Zlib"}
HEAD = """# Third-party notices

Written by `python3 pipelines/third-party.py`; the project itself is Apache-2.0 (LICENSE).

| what | licence | how it is used |
| --- | --- | --- |
| model files | Apache-2.0, with a statement of change | models/PROVENANCE.md |
| ONNX Runtime 1.32.0 | MIT | loaded at run time, fetched by pipelines/fetch-runtime.sh |
| FFmpeg libraries (libav*), as Debian packages them | GPL-2.0 or later with the x264 encoder, else LGPL-2.1 or later | linked dynamically by a build from source, not shipped |
| FFmpeg libraries of the release (pipelines/package.sh) | LGPL-2.1 or later; OpenH264 and dav1d in them BSD-2-Clause | shipped beside the program, with their sources |
| DejaVu fonts | Bitstream Vera licence, see src/report/assets | inside the program, for captions |

Crates, as the lock file pins them:

| crate | version | licence |
| --- | --- | --- |
"""


def permitted(expression: str, allowed: set[str] = ALLOWED) -> bool:
    """Whether an SPDX expression can be met by allowed licences alone. A slash is an older form of OR."""
    tokens = re.findall(r"\(|\)|[^\s()]+", expression.replace("/", " OR "))
    at = 0

    def take() -> str:
        nonlocal at
        at += 1
        return tokens[at - 1] if at <= len(tokens) else ""

    def one() -> bool:
        token = take()
        if token == "(":
            inside = either()
            return take() == ")" and inside
        if at < len(tokens) and tokens[at] == "WITH":
            take()
            token += " WITH " + take()
        return token in allowed

    def both() -> bool:
        good = one()
        while at < len(tokens) and tokens[at] == "AND":
            take()
            good &= one()
        return good

    def either() -> bool:
        good = both()
        while at < len(tokens) and tokens[at] == "OR":
            take()
            good |= both()
        return good

    return either() and at == len(tokens)


def built_in(meta: dict) -> set[str]:
    """Ids of the packages that are part of the program, tests' own needs left out."""
    nodes = {n["id"]: n for n in meta["resolve"]["nodes"]}
    todo, seen = [meta["resolve"]["root"]], set()
    while todo:
        node = todo.pop()
        if node not in seen:
            seen.add(node)
            todo += [d["pkg"] for d in nodes[node]["deps"] if any(k["kind"] != "dev" for k in d["dep_kinds"])]
    return seen - {meta["resolve"]["root"]}


def page(meta: dict) -> str:
    packages = {p["id"]: p for p in meta["packages"]}
    rows = sorted((packages[i]["name"], packages[i]["version"], packages[i]["license"] or "see the crate") for i in built_in(meta))
    return HEAD + "".join(f"| {name} | {version} | {licence} |\n" for name, version, licence in rows)


def complaints(meta: dict, lock: dict) -> list[str]:
    """What is wrong with the licences and origins, tests' own needs included."""
    told = []
    used = {n["id"] for n in meta["resolve"]["nodes"]} - {meta["resolve"]["root"]}
    for p in meta["packages"]:
        if p["id"] in used and not permitted(p["license"] or ""):
            told.append(f"{p['name']} {p['version']}: licence {p['license'] or 'not stated'} is none that this project allows. "
                        "Take another crate, or have the licence read and added to ALLOWED in pipelines/third-party.py.")
    own = {p["name"] for p in meta["packages"] if p["source"] is None}
    for p in lock["package"]:
        if p["name"] not in own and not (p.get("source", "").startswith("registry+") and p.get("checksum")):
            told.append(f"{p['name']} {p['version']}: does not come from the registry with a checksum. Take a released version.")
    return told


def main() -> int:
    meta = json.loads(subprocess.run(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", "x86_64-unknown-linux-gnu"],
        check=True, stdout=subprocess.PIPE, text=True).stdout)
    text = page(meta)
    if "--check" not in sys.argv[1:]:
        with open(PAGE, "w") as out:
            out.write(text)
        print(len(built_in(meta)), "crates")
        return 0
    with open("Cargo.lock", "rb") as file:
        told = complaints(meta, tomllib.load(file))
    with open(PAGE) as file:
        if file.read() != text:
            told.append(f"{PAGE} is not what the lock file says. Run `python3 pipelines/third-party.py`.")
    for line in told:
        print(line, file=sys.stderr)
    if not told:
        print(f"licences and origins of {len(meta['resolve']['nodes']) - 1} crates: as allowed")
    return 1 if told else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/env python3
"""Writes docs/third-party.md from the lock file: every crate that is built in, with its licence."""
import json
import subprocess

meta = json.loads(subprocess.run(
    ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", "x86_64-unknown-linux-gnu"],
    check=True, capture_output=True, text=True).stdout)
packages = {p["id"]: p for p in meta["packages"]}
nodes = {n["id"]: n for n in meta["resolve"]["nodes"]}
todo, seen = [meta["resolve"]["root"]], set()
while todo:
    node = todo.pop()
    if node in seen:
        continue
    seen.add(node)
    todo += [d["pkg"] for d in nodes[node]["deps"] if any(k["kind"] != "dev" for k in d["dep_kinds"])]
rows = sorted((packages[i]["name"], packages[i]["version"], packages[i]["license"] or "see the crate") for i in seen if i != meta["resolve"]["root"])
with open("docs/third-party.md", "w") as out:
    out.write("""# Third-party notices

Written by `python3 pipelines/third-party.py`; the project itself is Apache-2.0 (LICENSE).

| what | licence | how it is used |
| --- | --- | --- |
| model files | Apache-2.0, with a statement of change | models/PROVENANCE.md |
| ONNX Runtime 1.32.0 | MIT | loaded at run time, fetched by pipelines/fetch-runtime.sh |
| FFmpeg libraries (libav*), as Debian packages them | GPL-2.0 or later with the x264 encoder, else LGPL-2.1 or later | linked dynamically, not shipped |
| DejaVu fonts | Bitstream Vera licence, see src/report/assets | inside the program, for captions |

Crates, as the lock file pins them:

| crate | version | licence |
| --- | --- | --- |
""")
    for name, version, licence in rows:
        out.write(f"| {name} | {version} | {licence} |\n")
print(len(rows), "crates")

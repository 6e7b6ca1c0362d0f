#!/usr/bin/env python3
"""Runs every Python example of a page one after another, as a notebook would, beside a folder
`results` with measured swings and two clips A.mp4 and B.mp4, and sets what came out against the files.

usage: python notebook.py PAGE
"""
import json
import pathlib
import re
import sys


def main() -> None:
    page = pathlib.Path(sys.argv[1]).read_text()
    examples = re.findall(r"^```python\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    assert len(examples) >= 3, f"{len(examples)} examples"
    cells: dict = {}
    for number, example in enumerate(examples):
        exec(compile(example, f"example {number + 1}", "exec"), cells)
    table = cells["swings"]
    for path in sorted(pathlib.Path("results").glob("*-lesson/swing.json")):
        swing = json.loads(path.read_text())
        rows = table[(table.swing == swing["name"]) & (table.event == "top")]
        own = swing["at"]["top"]["separation"]
        row = rows[rows.measure == "separation"].iloc[0]
        assert (row.deg, row.low, row.high) == (own["deg"], own["low"], own["high"]), path
        assert len(rows) == len(swing["at"]["top"]), path
    measured = cells["swing"]["at"]["top"]["separation"]
    assert measured["low"] <= measured["deg"] <= measured["high"], measured
    curves = cells["curves"]
    assert len(curves) > 50 and curves.index.name == "time_s", curves.shape
    print(f"notebook: {len(examples)} examples, {len(table)} numbers in the table, {len(curves)} rows of curves")


if __name__ == "__main__":
    main()

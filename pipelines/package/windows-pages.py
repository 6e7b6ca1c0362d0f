#!/usr/bin/env python3
"""The licence texts of the crates and the bill of materials of the folder for Windows.

usage: python3 pipelines/package/windows-pages.py TREE CARGO_HOME FOLDER VERSION
"""
import pathlib
import sys

import bill
import licences


def main() -> None:
    tree, cargo, folder = map(pathlib.Path, sys.argv[1:4])
    meta = licences.metadata(tree, cargo, "x86_64-pc-windows-gnu")
    (folder / "doc/licences/crates.txt").write_text(licences.crates(meta))
    bill.write(meta, tree, folder, sys.argv[4], folder / "doc/quarterturn.cdx.json", "quarterturn.exe")


if __name__ == "__main__":
    main()

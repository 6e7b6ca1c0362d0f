#!/usr/bin/env python3
"""Puts tables into the documentation between `<!-- table NAME -->` and `<!-- end -->`.

usage: renew_docs.py DOCUMENT NAME=FILE...      FILE holds the table, in Markdown. Standard library only.
"""
from __future__ import annotations

import re
import sys
from pathlib import Path


def renewed(text: str, name: str, table: str) -> str:
    pattern = re.compile(rf"(<!-- table {re.escape(name)} -->\n).*?(<!-- end -->)", re.S)
    if not pattern.search(text):
        raise SystemExit(f"no place for a table {name}")
    return pattern.sub(lambda m: m.group(1) + table.strip() + "\n" + m.group(2), text)


def main() -> None:
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    document = Path(sys.argv[1])
    text = document.read_text()
    for pair in sys.argv[2:]:
        name, _, file = pair.partition("=")
        text = renewed(text, name, Path(file).read_text())
    document.write_text(text)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Sets the sample swings that an installed release measured against their exact truth.

usage: python3 tests/package/against_truth.py RESULTS SAMPLE_CLIPS

Fails where a turn from address at the top is more than 10 degrees from the truth, twice what the
README says of two views on average: this proves an installation, tests/measure.rs the accuracy.
"""
import json
import pathlib
import sys

FIELDS = {"pelvis_turn_from_address": "pelvis_turn", "thorax_turn_from_address": "thorax_turn"}
LIMIT_DEG = 10.0


def main() -> int:
    results, clips = map(pathlib.Path, sys.argv[1:3])
    far = checked = 0
    for path in sorted(results.glob("*/swing.json")):
        swing = json.loads(path.read_text())
        truth = json.loads((clips / f"{path.parent.name}_truth.json").read_text())

        def at(field: str, event: str) -> float:
            return min(truth["samples"], key=lambda s: abs(s["t"] - truth["events"][event]))[field]

        for measure, field in FIELDS.items():
            off = swing["at"]["top"][measure]["deg"] - (at(field, "top") - at(field, "addr"))
            checked += 1
            if abs(off) > LIMIT_DEG:
                far += 1
                print(f"{path.parent.name}: {measure} at the top is {off:+.1f} degrees off", file=sys.stderr)
    if checked != 4:
        print(f"{results}: {checked} turns instead of 4", file=sys.stderr)
    return 1 if far or checked != 4 else 0


if __name__ == "__main__":
    sys.exit(main())

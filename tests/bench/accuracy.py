#!/usr/bin/env python3
"""Accuracy of measured swings against the truth of rendered clips, as a Markdown table.

usage: accuracy.py RESULTS_DIR TRUTH_DIR...

RESULTS_DIR/MODE/NAME/{swing.json,curves.csv} for MODE in two, face_on, down_the_line;
TRUTH_DIR/NAME_truth.json. Standard library only.
"""
from __future__ import annotations

import csv
import json
import statistics
import sys
from pathlib import Path

from truth import EVENTS, MODES, Truth, wrap

SEGMENTS = ("pelvis_turn", "thorax_turn")


def mean(values: list[float]) -> float:
    return statistics.fmean(values) if values else float("nan")


class Tally:
    """What one way of filming gave over all swings."""

    def __init__(self) -> None:
        self.top: list[float] = []
        self.curve: list[float] = []
        self.width: list[float] = []
        self.events: dict[str, list[float]] = {e: [] for e in EVENTS}
        self.swings = self.missing = 0

    def add(self, folder: Path, truth: Truth, data: dict) -> None:
        swing_file = folder / "swing.json"
        if not swing_file.exists():
            self.missing += 1
            return
        self.swings += 1
        swing = json.loads(swing_file.read_text())
        start = data["views"][swing["views"][0]["role"]]["starts_at_s"]
        for segment in SEGMENTS:
            e = swing["at"].get("top", {}).get(segment + "_from_address")
            if e and e["deg"] is not None:
                self.top.append(wrap(e["deg"] - truth.value(segment + "_from_address", "top")))
                self.width.append(e["high"] - e["low"])
        for event in EVENTS:
            s = swing["events"].get(event, {}).get("s")
            if s is not None:
                self.events[event].append(s + start - truth.events[event])
        errors: list[float] = []
        with (folder / "curves.csv").open() as f:
            for row in csv.DictReader(f):
                t = float(row["time_s"]) + start
                if truth.events["address"] <= t <= truth.events["finish"]:
                    for segment in SEGMENTS:
                        cell = row[segment + "_from_address_deg"]
                        if cell:
                            true = truth.at(segment, t) - truth.at(segment, truth.events["address"])
                            errors.append(abs(wrap(float(cell) - true)))
        # A swing without an address has no turn from it.
        if errors:
            self.curve.append(mean(errors))

    def row(self, name: str) -> str:
        top = [abs(v) for v in self.top]
        late = {e: f"{1000 * mean(v):+.0f} ({1000 * max(map(abs, v), default=float('nan')):.0f})" for e, v in self.events.items()}
        return (f"| {name} | {self.swings} | {mean(top):.1f}° | {max(top, default=float('nan')):.1f}° | {sum(v > 8 for v in top)} of {len(top)} "
                f"| {mean(self.curve):.1f}° | {statistics.median(self.width) if self.width else float('nan'):.0f}° "
                f"| {late['address']} | {late['top']} | {late['impact']} | {late['finish']} | {self.missing} |")


def main() -> None:
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    results, folders = Path(sys.argv[1]), [Path(p) for p in sys.argv[2:]]
    print("| views | swings | turn at the top from address, mean error | worst | above 8° | whole curve, mean error "
          "| median width of the interval at the top | address, ms late: mean (worst) | top | impact | finish | not measured |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for mode, name in MODES.items():
        tally = Tally()
        for folder in folders:
            for path in sorted(folder.glob("*_truth.json")):
                tally.add(results / mode / path.name.removesuffix("_truth.json"), Truth(path), json.loads(path.read_text()))
        print(tally.row(name.replace("_", "-")))


if __name__ == "__main__":
    main()

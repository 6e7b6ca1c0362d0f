#!/usr/bin/env python3
"""Factors for intervals by split conformal prediction, and the coverage that they give.

usage: calibrate.py fit      UNCALIBRATED_DIR TRUTH_DIR... > pipelines/calibration.toml
       calibrate.py coverage CALIBRATED_DIR   TRUTH_DIR...

UNCALIBRATED_DIR/MODE/NAME/swing.json for MODE in two, face_on, down_the_line: what
`replay TRACKS_DIR UNCALIBRATED_DIR/MODE MODE --uncalibrated` writes.
TRUTH_DIR/NAME_truth.json: exact truth of rendered clips. Standard library only.

`fit`: for each way of filming and measure, over the calibration swings and events, the scores
|estimate - truth| / half-width are ranked; the ceil((n + 1) 0.95)-th would be the factor (Lei et al. 2018,
doi 10.1080/01621459.2017.1307116) if swings erred independently. Swings of one body err alike, and
bodies are few: so whole bodies are drawn anew with replacement, and the factor is the one that
suffices in nine of ten draws, as a tolerance limit. Turns get a factor of their own at the top.
`coverage`: the share of truth inside, with its Clopper-Pearson 95 % interval, on swings that were
not used to fit.
"""
from __future__ import annotations

import bisect
import json
import math
import random
import sys
from collections import defaultdict
from pathlib import Path

MODES = {"two": "two_view", "face_on": "face_on", "down_the_line": "down_the_line"}
EVENTS = {"address": "addr", "top": "top", "impact": "imp", "finish": "fin"}
FIELDS = {
    "pelvis_turn": "pelvis_turn", "thorax_turn": "thorax_turn",
    "pelvis_side_bend": "pelvis_side", "pelvis_forward_bend": "pelvis_fwd",
    "thorax_side_bend": "thorax_side", "thorax_forward_bend": "thorax_fwd",
    "lead_knee_flexion": "knee_lead_flexion", "trail_knee_flexion": "knee_trail_flexion",
    "shoulder_line_turn": "shoulder_line_turn",
}
OWN_AT_TOP = {"pelvis_turn_from_address", "thorax_turn_from_address", "separation", "separation_from_address"}
LEVEL = 0.95
CONFIDENCE = 0.90     # usual for tolerance limits; fixed before any factor was looked at
DRAWS, SEED = 1000, 1


class Truth:
    """Exact angles of one rendered swing."""

    def __init__(self, path: Path) -> None:
        data = json.loads(path.read_text())
        self.samples = data["samples"]
        self.body = str(data["config"]["body"])
        self.times = [s["t"] for s in self.samples]
        self.events = {name: data["events"][key] for name, key in EVENTS.items()}

    def at(self, field: str, t: float) -> float:
        i = min(max(bisect.bisect_left(self.times, t), 0), len(self.times) - 1)
        if i and abs(self.times[i - 1] - t) < abs(self.times[i] - t):
            i -= 1
        return self.samples[i][field]

    def value(self, measure: str, event: str) -> float | None:
        base, from_address = measure.removesuffix("_from_address"), measure.endswith("_from_address")
        if base == "separation":
            suffix = "_from_address" if from_address else ""
            thorax, pelvis = self.value("thorax_turn" + suffix, event), self.value("pelvis_turn" + suffix, event)
            return None if thorax is None or pelvis is None else thorax - pelvis
        if base not in FIELDS:
            return None
        v = self.at(FIELDS[base], self.events[event])
        return v - self.at(FIELDS[base], self.events["address"]) if from_address else v


def wrap(d: float) -> float:
    return (d + 180.0) % 360.0 - 180.0


def scores(results: Path, truths: list[Path]):
    """(mode, measure, event, body, |error| / half-width) of every estimate."""
    for mode in MODES:
        for folder in truths:
            for path in sorted(folder.glob("*_truth.json")):
                file = results / mode / path.name.removesuffix("_truth.json") / "swing.json"
                if not file.exists():
                    continue
                truth = Truth(path)
                for event, measures in json.loads(file.read_text())["at"].items():
                    for measure, e in measures.items():
                        true = truth.value(measure, event)
                        if e["deg"] is None or true is None or e["high"] <= e["low"]:
                            continue
                        if event == "address" and measure.endswith("_from_address"):
                            continue  # nought by definition
                        half = (e["high"] - e["low"]) / 2
                        yield mode, measure, event, truth.body, abs(wrap(e["deg"] - true)) / half


def conformal(values: list[float]) -> float:
    ranked = sorted(values)
    k = min(math.ceil((len(ranked) + 1) * LEVEL), len(ranked))
    return ranked[k - 1]


def factor(by_body: dict[str, list[float]]) -> float:
    """The quantile that suffices in CONFIDENCE of the draws of as many bodies, with replacement."""
    bodies, rng = sorted(by_body), random.Random(SEED)
    drawn = ([v for b in rng.choices(bodies, k=len(bodies)) for v in by_body[b]] for _ in range(DRAWS))
    return sorted(conformal(values) for values in drawn)[math.ceil(CONFIDENCE * DRAWS) - 1]


def fit(results: Path, truths: list[Path]) -> None:
    groups: dict[tuple[str, str, str | None], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for mode, measure, event, body, score in scores(results, truths):
        groups[mode, measure, None][body].append(score)
        if event == "top" and measure in OWN_AT_TOP:
            groups[mode, measure, event][body].append(score)
    print("# Factors by which propagated standard deviations are scaled, from split conformal prediction on")
    print("# rendered clips that are used for nothing else. Written by tests/bench/calibrate.py; see docs/accuracy.md.")
    swings = sum(len(list(t.glob("*_truth.json"))) for t in truths)
    bodies = len({b for by_body in groups.values() for b in by_body})
    print(f'made = "from {swings} rendered swings of {bodies} bodies"')
    for (mode, measure, event), by_body in sorted(groups.items(), key=lambda g: (g[0][0], g[0][1], g[0][2] or "")):
        print("\n[[factors]]")
        print(f'mode = "{MODES[mode]}"\nmeasure = "{measure}"')
        if event:
            print(f'event = "{event}"')
        print(f"scale = {factor(by_body):.3f}\nn = {sum(map(len, by_body.values()))}")


def binomial_tail(k: int, n: int, p: float) -> float:
    """P(X >= k)."""
    return sum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))


def clopper_pearson(k: int, n: int) -> tuple[float, float]:
    def solve(f) -> float:
        lo, hi = 0.0, 1.0
        for _ in range(60):
            mid = (lo + hi) / 2
            lo, hi = (mid, hi) if f(mid) else (lo, mid)
        return (lo + hi) / 2

    low = 0.0 if k == 0 else solve(lambda p: binomial_tail(k, n, p) < 0.025)
    high = 1.0 if k == n else solve(lambda p: 1 - binomial_tail(k + 1, n, p) > 0.025)
    return low, high


def coverage(results: Path, truths: list[Path]) -> None:
    groups: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for mode, measure, event, _, score in scores(results, truths):
        inside = score <= 1.0
        groups[mode, measure].append(inside)
        if "turn" in measure and "shoulder" not in measure:
            groups[mode, "all turns"].append(inside)
            if event == "top":
                groups[mode, "all turns at the top"].append(inside)
        groups[mode, "everything"].append(inside)
    print("| view | measure | inside | of | share | 95 % interval of the share |\n| --- | --- | --- | --- | --- | --- |")
    for (mode, measure), hits in sorted(groups.items()):
        k, n = sum(hits), len(hits)
        low, high = clopper_pearson(k, n)
        print(f"| {MODES[mode].replace('_', '-')} | {measure.replace('_', ' ')} | {k} | {n} | {100 * k / n:.0f} % | {100 * low:.0f} to {100 * high:.0f} % |")


def main() -> None:
    match sys.argv[1:]:
        case ["fit", results, *truths] if truths:
            fit(Path(results), [Path(t) for t in truths])
        case ["coverage", results, *truths] if truths:
            coverage(Path(results), [Path(t) for t in truths])
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""How often intervals hold the truth, and how wide they are, as Markdown tables.

usage: coverage.py measures|thirds|differences RESULTS SET [CALIBRATION.toml]

RESULTS/MODE/NAME of the set SET/{tracks,truth} (estimates.py). With CALIBRATION.toml the results were measured without factors, and
are told here with that file's. `thirds`: turns from address at the top by third of the interval's width, by kind of swing and of people.
`differences` takes CALIBRATION.toml, and a set of pairs; each pair is judged by what the others teach, as these very pairs taught
the file. Standard library only.
"""
from __future__ import annotations

import statistics
import sys
from collections import defaultdict
from pathlib import Path

from calibrate import pair_scores
from estimates import Learnt, Row, of_set
from score import factor
from truth import MODES, clopper_pearson

TURNS = ("pelvis_turn_from_address", "thorax_turn_from_address")


def share(hits: list[bool]) -> str:
    """Inside, of, share and its interval, as cells."""
    k, n = sum(hits), len(hits)
    low, high = clopper_pearson(k, n)
    return f"{k} | {n} | {100 * k / n:.0f} % | {100 * low:.0f} to {100 * high:.0f} %"


def measures(found: list[tuple[Row, float]]) -> None:
    """By measure."""
    groups: dict[tuple[str, str], list[tuple[bool, float]]] = defaultdict(list)
    for r, half in found:
        inside = (abs(r.error) <= half, 2 * half)
        names = [r.measure, "everything"]
        if "turn" in r.measure and "shoulder" not in r.measure:
            names += ["all turns"] + (["all turns at the top"] if r.event == "top" else [])
            if r.event == "top" and r.measure in TURNS:
                names += ["turns from address at the top", r.measure + " at the top"]
        for name in names:
            groups[r.mode, name].append(inside)
    print("| view | measure | inside | of | share | 95 % interval of the share | median width |\n| --- | --- | --- | --- | --- | --- | --- |")
    for (mode, measure), hits in sorted(groups.items()):
        print(f"| {MODES[mode].replace('_', '-')} | {measure.replace('_', ' ')} | {share([h[0] for h in hits])} | {statistics.median(h[1] for h in hits):.0f}° |")


def thirds(found: list[tuple[Row, float]]) -> None:
    """Turns from address at the top by predicted width, kind of swing and people."""
    print("| view | which | inside | of | share | 95 % interval of the share | median width | mean error |\n| --- | --- | --- | --- | --- | --- | --- | --- |")
    for mode in MODES:
        own = sorted(((r, h) for r, h in found if r.mode == mode and r.event == "top" and r.measure in TURNS), key=lambda x: x[1])
        n = len(own)
        parts = {f"{name} third of widths": own[n * i // 3:n * (i + 1) // 3] for i, name in enumerate(("lowest", "middle", "highest"))}
        for key in ("kind", "people"):
            for value in sorted({str(r.truth.config.get(key)) for r, _ in own} - {"None"}):
                parts[value.replace("_", " ")] = [x for x in own if x[0].truth.config.get(key) == value]
        for name, part in parts.items():
            if part:
                print(f"| {MODES[mode].replace('_', '-')} | {name} | {share([abs(r.error) <= h for r, h in part])} | "
                      f"{statistics.median(2 * h for _, h in part):.0f}° | {statistics.fmean(abs(r.error) for r, _ in part):.1f}° |")


def by_the_others(own: list[tuple[Row, float, float]], who: str) -> float:
    """The factor that the pairs of all other bodies give."""
    others: dict[str, list[float]] = defaultdict(list)
    for r, score, _ in own:
        if r.truth.body != who:
            others[r.truth.body].append(score)
    return min(factor(others), 1.0) if others else 1.0


def differences(found: list[Row], learnt: Learnt) -> None:
    """Turns from address: two swings as if their errors were independent, and with what they share."""
    print("| views | moment | differences | as if independent: inside, median width | shared errors: inside, median width | share, 95 % interval |")
    print("| --- | --- | --- | --- | --- | --- |")
    pairs = [p for p in pair_scores(found, learnt) if p[0].measure in TURNS]
    for mode in MODES:
        for event in ("top", "all"):
            own = [p for p in pairs if p[0].mode == mode and event in ("all", p[0].event)]
            if not own:
                continue
            scales = [by_the_others(own, r.truth.body) for r, _, _ in own]
            hits, wide = sum(p[1] <= s for p, s in zip(own, scales)), sum(p[1] <= 1 for p in own)
            low, high = clopper_pearson(hits, len(own))
            print(f"| {MODES[mode].replace('_', '-')} | {event} | {len(own)} | {wide}, {statistics.median(2 * p[2] for p in own):.0f}° | "
                  f"{hits}, {statistics.median(2 * s * p[2] for p, s in zip(own, scales)):.0f}° | {100 * hits / len(own):.0f} %, {100 * low:.0f} to {100 * high:.0f} % |")


def main() -> None:
    """The command line."""
    if len(sys.argv) not in (4, 5) or sys.argv[1] not in ("measures", "thirds", "differences"):
        sys.exit(__doc__)
    what, results, folder, *file = sys.argv[1:]
    found = of_set(results, folder)
    learnt = Learnt(Path(file[0]).read_text()) if file else None
    if what == "differences":
        if learnt is None:
            sys.exit(__doc__)
        differences(found, learnt)
        return
    told = [(r, learnt.half(r) if learnt else r.half) for r in found]
    (measures if what == "measures" else thirds)(told)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""What is learnt from rendered swings with known truth: pipelines/calibration.toml.

usage: calibrate.py raw                                     > RAW.toml
       calibrate.py spreads KNOWN_DIR SETS                  > SPREADS.toml
       calibrate.py fit RESULTS SETS SPREADS.toml           > FITTED.toml
       calibrate.py people RESULTS SETS MARKERS.txt FITTED.toml > PEOPLE.toml
       calibrate.py differences RESULTS SETS FITTED.toml    > pipelines/calibration.toml

calibrate.sh runs all of it in order. SETS/{spreads,learn,cal,pairs,rep} are rendered takes that the program read, no body in two of them; estimates.py says
what a set and RESULTS are. Standard library only.

`spreads`: on `spreads`. `fit`: on `learn` the score is learnt (score.py); on `cal` the scores |error| / half-width give the factors, of their own at
the top for turns from address; measures of a kind share one, as each alone would need more bodies.
`people`: MARKERS.txt is what the `markers` example says on its error stream. A person with markers is far fewer than needed, and
the term is stated apart: it widens where the network's own standard deviation is beyond what 95 % of rendered readings have.
`differences`: pairs of swings NAMEa, NAMEb of one body, outfit and camera place; |difference - truth| over the root of the sum
of squares of their half-widths gives the factor by which that root is too wide for them. And what part of the errors' variance the
swings of one session share (`[[shared]]`), which does not average away in a mean of several.
"""
from __future__ import annotations

import math
import random
import re
import statistics
import sys
from collections import defaultdict
from pathlib import Path
from typing import Iterator

from estimates import GROUPS, OWN_AT_TOP, PEERS, Learnt, Row, body, of_set
from score import CONFIDENCE, DRAWS, SEED, factor, learn_score
from spreads import raw, spreads
from truth import MODES, truths, wrap

FEWEST = 150          # scores that a learnt score needs
# with the rest of the evidence intervals of other swings came out no narrower
FEATURES = ("sigma", "network")


Scored = tuple[str, str, str, str, float]    # mode, measure, event, body, score


def scales(table: str, scored: list[Scored], most: float = math.inf) -> None:
    """Prints the factors: measures of a kind share theirs, at the top apart from the rest."""
    groups: dict[tuple[str, tuple[str, ...], str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for mode, measure, event, who, score in scored:
        peers = PEERS.get(measure, (measure,))
        groups[mode, peers, ""][who].append(score)
        if event == "top" and measure in OWN_AT_TOP:
            groups[mode, peers, "top"][who].append(score)
    for (mode, peers, event), by_body in sorted(groups.items()):
        for measure in peers:
            if event and measure not in OWN_AT_TOP:
                continue
            print(f'\n[[{table}]]\nmode = "{MODES[mode]}"\nmeasure = "{measure}"')
            if event:
                print(f'event = "{event}"')
            print(f"scale = {min(factor(by_body), most):.3f}\nn = {sum(map(len, by_body.values()))}")


def fit(results: Path, sets: Path, spreads_file: Path) -> None:
    """Scores and factors."""
    text = spreads_file.read_text().split("\n", 1)[1].rstrip()
    learn, cal = (of_set(results / name, sets / name) for name in ("learn", "cal"))
    count = [len(truths([sets / "spreads" / "truth"])), *(len({body(r) for r in x}) for x in (learn, cal))]
    print("# What was learnt from rendered swings with known truth; none of those that report is among them.")
    print("# Written by tests/bench/calibrate.sh; see docs/accuracy.md.")
    print(f'made = "spreads from {count[0]} rendered swings, scores from {count[1]} others, factors from {count[2]} others"')
    print(text)
    grouped: dict[tuple[str, int], list[Row]] = defaultdict(list)
    place = {m: g for g, measures in enumerate(GROUPS) for m in measures}
    for r in learn:
        if r.measure in place and r.evidence:
            grouped[r.mode, place[r.measure]].append(r)
    told = [text]
    for (mode, g), data in sorted(grouped.items()):
        if len(data) < FEWEST:
            continue
        terms = learn_score([r.score for r in data], [{f: r.evidence[f] for f in FEATURES} for r in data])
        lines = [f'\n[[scores]]\nmode = "{MODES[mode]}"\nmeasures = [{", ".join(chr(34) + m + chr(34) for m in GROUPS[g])}]\nterms = [']
        lines += [f'    {{ feature = "{f}", weight = {w:.4f}, low = {low:.4f}, high = {high:.4f} }},' for f, w, low, high in terms]
        told.append("\n".join([*lines, "]"]))
        print(told[-1])
    learnt = Learnt('made = ""\n' + "\n".join(told))
    scales("factors", [(r.mode, r.measure, r.event, body(r), r.score / learnt.score(r)) for r in cal])


# The term for real people.


def people(results: Path, sets: Path, markers: Path, fitted: Path) -> None:
    """Widens where the network is as unsure as it was of the person with markers, by what scores and factors lack there."""
    text = fitted.read_text().rstrip()
    learnt = Learnt(text)
    print(text)
    told = [r for r in of_set(results / "cal", sets / "cal") if r.evidence]
    for line_ in markers.read_text().splitlines():
        m = re.fullmatch(r"(pelvis|thorax) one ([0-9.]+) two ([0-9.]+) network_deg ([0-9.]+) ([0-9.]+)", line_)
        if not m:
            continue
        segment, measures = m[1], (f"{m[1]}_turn", f"{m[1]}_turn_from_address")
        own = [r for r in told if r.measure in measures]
        usual = sorted(math.exp(r.evidence["network"]) for r in own)
        low = usual[int(0.95 * (len(usual) - 1))]
        high = max(float(m[4]), 1.2 * low)
        # What intervals are widened by already where the network is least sure of rendered people.
        lacking = []
        for mode in MODES:
            of_mode = sorted((r for r in own if r.mode == mode), key=lambda r: -r.evidence["network"])
            doubtful = of_mode[: max(len(of_mode) // 12, 5)]
            lacking.append(float(m[3] if mode == "two" else m[2]) / statistics.median(learnt.half(r) / r.half for r in doubtful))
        print(f'\n[[people]]\nsegment = "{segment}"\nnetwork_low_deg = {low:.2f}\nnetwork_high_deg = {high:.2f}')
        print(f"factor = {max(*lacking, 1.0):.3f}   # two views {lacking[0]:.2f}, face-on {lacking[1]:.2f}, down-the-line {lacking[2]:.2f}")


# Differences of two swings.


def in_pairs(found: list[Row]) -> Iterator[tuple[Row, Row]]:
    """The same estimate of both swings of a student."""
    by_key = {(r.mode, r.measure, r.event, r.truth.name): r for r in found}
    for (mode, measure, event, name), first in by_key.items():
        second = by_key.get((mode, measure, event, name[:-1] + "b"))
        if name.endswith("a") and second is not None:
            yield first, second


def pair_scores(found: list[Row], learnt: Learnt) -> Iterator[tuple[Row, float, float]]:
    """The first of a pair, |error of the difference| over the root of the sum of squares of the half-widths, that root."""
    for first, second in in_pairs(found):
        root = math.hypot(learnt.half(first), learnt.half(second))
        yield first, abs(wrap(second.error - first.error)) / root, root


def differences(results: Path, sets: Path, fitted: Path) -> None:
    """Factors of differences, and what is shared."""
    text = fitted.read_text().rstrip()
    learnt = Learnt(text)
    pairs = of_set(results / "pairs", sets / "pairs")
    print(text)
    # sharing errors makes no difference less sure
    scales("differences", [(r.mode, r.measure, r.event, body(r), score) for r, score, _ in pair_scores(pairs, learnt)], most=1.0)
    shared(pairs, learnt)


def shared(found: list[Row], learnt: Learnt) -> None:
    """The correlation of the two errors of a pair, each in its own standard deviations, about nought: what a mean of errors is, is
    shared too. Whole bodies are drawn anew with replacement; `low` and `high` hold in nine of ten draws each."""
    groups: dict[tuple[str, tuple[str, ...], str], dict[str, list[tuple[float, float]]]] = defaultdict(lambda: defaultdict(list))
    for first, second in in_pairs(found):
        z = (first.error / learnt.half(first), second.error / learnt.half(second))
        group = PEERS.get(first.measure, (first.measure,))
        groups[first.mode, group, ""][body(first)].append(z)
        if first.event == "top":
            groups[first.mode, group, "top"][body(first)].append(z)

    def alike(sums: list[tuple[float, float]]) -> float:
        return 2 * sum(s[0] for s in sums) / max(sum(s[1] for s in sums), 1e-9)

    for (mode, group, event), by_body in sorted(groups.items()):
        sums = [(sum(a * b for a, b in zs), sum(a * a + b * b for a, b in zs)) for zs in by_body.values()]
        rng = random.Random(SEED)
        drawn = sorted(alike(rng.choices(sums, k=len(sums))) for _ in range(DRAWS))
        low, high = (drawn[int(p * (DRAWS - 1))] for p in (1 - CONFIDENCE, CONFIDENCE))
        for measure in group:
            print(f'\n[[shared]]\nmode = "{MODES[mode]}"\nmeasure = "{measure}"')
            if event:
                print(f'event = "{event}"')
            print(f"low = {max(low, 0):.3f}\nshare = {max(alike(sums), 0):.3f}\nhigh = {max(high, 0):.3f}\nn = {sum(map(len, by_body.values()))}")


def main() -> None:
    """The command line."""
    match sys.argv[1:]:
        case ["raw"]:
            raw()
        case ["spreads", results, sets]:
            spreads(Path(results), truths([Path(sets) / "spreads" / "truth"]))
        case ["fit", results, sets, spreads_file]:
            fit(Path(results), Path(sets), Path(spreads_file))
        case ["people", results, sets, markers, fitted]:
            people(Path(results), Path(sets), Path(markers), Path(fitted))
        case ["differences", results, sets, fitted]:
            differences(Path(results), Path(sets), Path(fitted))
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main()

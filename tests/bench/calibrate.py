#!/usr/bin/env python3
"""What is learnt from rendered swings with known truth: pipelines/calibration.toml.

usage: calibrate.py raw                                                  > RAW.toml
       calibrate.py spreads KNOWN_DIR NAMES TRUTH_DIR...                 > SPREADS.toml
       calibrate.py fit UNCALIBRATED_DIR CHOOSE_NAMES CALIBRATE_NAMES SPREADS.toml TRUTH_DIR... > FITTED.toml
       calibrate.py people UNCALIBRATED_DIR CHOOSE_NAMES MARKERS.txt FITTED.toml TRUTH_DIR... > PEOPLE.toml
       calibrate.py differences RESULTS_DIR NAMES FITTED.toml TRUTH_DIR... > pipelines/calibration.toml
       calibrate.py coverage|difference-coverage RESULTS_DIR NAMES TRUTH_DIR...
       calibrate.py names FOLDER PARTS                                   writes PARTS.choose, PARTS.calibrate: bodies apart

calibrate.sh runs all of it in order. NAMES: a file of swings' names. RESULTS_DIR/MODE/NAME for MODE in two, face_on,
down_the_line, as `replay` writes them. Standard library only.

`spreads`: each view alone in its true camera. Its error in standard deviations of the network is, swing by swing, an offset
and a slope a radian of turn from address; their spreads, means and correlations between the views, and the spread of the rest.
`fit`: on the swings to choose with, the logarithm of what propagated standard deviations must be multiplied by is regressed on
the evidence (a gamma regression of squared scores with a logarithmic link, ridge). On the swings to calibrate with, the scores
|estimate - truth| / half-width are ranked, and the ceil((n + 1) 0.95)-th would be the factor (split conformal prediction, Lei
et al. 2018, doi 10.1080/01621459.2017.1307116) if swings erred independently. Swings of one body err alike: whole bodies are
drawn anew with replacement, and the factor is the one that suffices in nine of ten draws, as a tolerance limit. Turns from
address get a factor of their own at the top.
`people`: MARKERS.txt is what the `markers` example says on its error stream. A person with markers is far fewer than needed, and
the term is stated apart: it widens where the network's own standard deviation is beyond what 95 % of rendered readings have.
`differences`: pairs of swings NAMEa, NAMEb of one body, outfit and camera place; |difference - truth| over the root of the sum
of squares of their half-widths gives the factor by which that root is too wide for them. And what part of the errors' variance the
swings of one session share (`[[shared]]`), which does not average away in a mean of several.
"""
from __future__ import annotations

import csv
import math
import random
import re
import statistics
import sys
import tomllib
from collections import defaultdict
from pathlib import Path

from truth import MODES, Truth, clopper_pearson, curves, result, truths, wrap

ROLES = ("face_on", "down_the_line")
SEGMENTS = ("pelvis", "thorax")
ANGLES = {"turn": "turn", "side": "side_bend", "forward": "forward_bend"}
TRUE = {"turn": "turn", "side": "side", "forward": "fwd"}
OWN_AT_TOP = {"pelvis_turn_from_address", "thorax_turn_from_address", "separation", "separation_from_address"}
GROUPS = (
    ("pelvis_turn_from_address", "thorax_turn_from_address"),
    ("pelvis_turn", "thorax_turn"),
    ("separation", "separation_from_address"),
    ("pelvis_side_bend", "pelvis_forward_bend", "thorax_side_bend", "thorax_forward_bend"),
    ("lead_knee_flexion", "trail_knee_flexion"),
)
LEVEL = 0.95
CONFIDENCE = 0.90     # usual for tolerance limits; fixed before any factor was looked at
DRAWS, SEED = 400, 1
FLOOR_DEG = 1.0       # interval.sigma_floor_deg of pipelines/two-view.toml
Z95 = 1.959964
STEP_S, ALIKE_S = 0.05, 0.1
LATER_S, SAME_TURN = 0.25, 0.3   # seconds, radians: what still agrees then is no passing error
RIDGE = 20.0          # as if twenty more scores spoke against each term
FEWEST = 150          # scores that a learnt score needs


def names_of(file: str) -> set[str]:
    return set(Path(file).read_text().split())


# Spreads of each view's lasting and passing errors.


def raw() -> None:
    """Spreads that leave the network's own standard deviation as it is."""
    print('made = "raw: the network\'s own standard deviations"')
    for role in ROLES:
        for segment in SEGMENTS:
            for angle in ANGLES:
                print(f'\n[[spreads]]\nrole = "{role}"\nsegment = "{segment}"\nangle = "{angle}"')
                print("offset = 1.0\nslope = 0.0\nbend = 0.0\nnoise = 0.01")


def view_errors(folder: Path, truth: Truth, segment: str, angle: str) -> list[tuple[float, float, float]]:
    """(turn from address in radians, error in standard deviations of the network, time) every STEP_S of one view's swing."""
    found = result(folder, truth)
    if found is None:
        return []
    start, name, out, last = found[1], f"{segment}_{ANGLES[angle]}", [], -math.inf
    for row in curves(folder, truth):
        t = row["time_s"] + start
        if t < last + STEP_S or not truth.events["address"] - 0.3 <= t <= truth.events["finish"] or f"{name}_deg" not in row:
            continue
        last = t
        sigma = math.sqrt(max(((row[f"{name}_high"] - row[f"{name}_low"]) / 2 / Z95) ** 2 - FLOOR_DEG**2, 0.04))
        turned = truth.at(f"{segment}_turn", t) - truth.at(f"{segment}_turn", truth.events["address"])
        out.append((math.radians(turned), wrap(row[f"{name}_deg"] - truth.at(f"{segment}_{TRUE[angle]}", t)) / sigma, t))
    return out


def line(points: list[tuple[float, float, float]]) -> tuple[float, float, float, float, float, float] | None:
    """Offset and slope of a least-squares line through (x, y) at times, the rest's variance, the variances of both in units of
    it, and the rest's covariance where the same turn comes back later."""
    n = len(points)
    if n < 12:
        return None
    mx, my = statistics.fmean(p[0] for p in points), statistics.fmean(p[1] for p in points)
    sxx = sum((p[0] - mx) ** 2 for p in points)
    if sxx < 0.5:
        return None
    slope = sum((p[0] - mx) * (p[1] - my) for p in points) / sxx
    offset = my - slope * mx
    left = [(x, y - offset - slope * x, t) for x, y, t in points]
    rest = sum(y * y for _, y, _ in left) / (n - 2)
    again = [a[1] * b[1] for i, a in enumerate(left) for b in left[i + 1:] if b[2] - a[2] > LATER_S and abs(b[0] - a[0]) < SAME_TURN]
    return offset, slope, rest, 1 / n + mx * mx / sxx, 1 / sxx, statistics.fmean(again) if again else 0.0


def spread_of(values: list[float], own: float) -> float:
    """Spread about nought of values that each carry a variance of their own. Their mean is no part of the model: what a network errs by
    on one renderer's people made clips of another renderer and of a real man worse when it was taken off (docs/accuracy.md)."""
    return math.sqrt(max(statistics.fmean(v * v for v in values) - own, 0.04))


def correlation(a: list[float], b: list[float], sa: float, sb: float) -> float:
    ma, mb = statistics.fmean(a), statistics.fmean(b)
    return max(min(statistics.fmean((x - ma) * (y - mb) for x, y in zip(a, b)) / (sa * sb), 0.9), -0.5)


def spreads(results: Path, all_truths: list[Truth]) -> None:
    repeat = 2 * ALIKE_S / STEP_S
    print(f'made = "spreads from {len(all_truths)} rendered swings of {len({t.body for t in all_truths})} bodies"')
    for segment in SEGMENTS:
        for angle in ANGLES:
            lines = {role: {t.name: fitted for t in all_truths
                            if (fitted := line(view_errors(results / role, t, segment, angle)))} for role in ROLES}
            spread = {}
            for role in ROLES:
                fits = list(lines[role].values())
                bend = math.sqrt(max(statistics.fmean(f[5] for f in fits), 0.01))
                noise = math.sqrt(max(statistics.fmean(f[2] for f in fits) - bend * bend, 0.04))
                own = [statistics.fmean(f[2] * f[k] for f in fits) * repeat for k in (3, 4)]
                offset, slope = (spread_of([f[k] for f in fits], own[k]) for k in (0, 1))
                spread[role] = (offset, slope)
                print(f'\n[[spreads]]\nrole = "{role}"\nsegment = "{segment}"\nangle = "{angle}"')
                print(f"offset = {offset:.3f}\nslope = {slope:.3f}\nbend = {bend:.3f}\nnoise = {noise:.3f}")
            both = sorted(lines["face_on"].keys() & lines["down_the_line"].keys())
            print(f'\n[[alike]]\nsegment = "{segment}"\nangle = "{angle}"')
            for k, what in enumerate(("offset", "slope")):
                a, b = ([lines[role][n][k] for n in both] for role in ROLES)
                print(f"{what} = {correlation(a, b, spread['face_on'][k], spread['down_the_line'][k]):.3f}")


# The learnt score and the conformal factors.


class Row:
    """One estimate: what it is of, its score and its evidence."""

    def __init__(self, mode: str, measure: str, event: str, body: str, score: float, width: float, evidence: dict[str, float]) -> None:
        self.mode, self.measure, self.event, self.body = mode, measure, event, body
        self.score, self.width, self.evidence = score, width, evidence


def rows(results: Path, all_truths: list[Truth]):
    """Every estimate that has a truth; score = |error| / half-width."""
    for mode in MODES:
        for truth in all_truths:
            found = result(results / mode, truth)
            if found is None:
                continue
            told: dict[tuple[str, str], dict[str, float]] = {}
            file = results / mode / truth.name / "evidence.csv"
            if file.exists():
                with file.open() as f:
                    for r in csv.DictReader(f):
                        key = r.pop("event"), r.pop("measure")
                        told[key] = {k: float(v) for k, v in r.items()}
            for event, measures in found[0]["at"].items():
                for measure, e in measures.items():
                    true = truth.value(measure, event)
                    if e["deg"] is None or true is None or e["high"] <= e["low"]:
                        continue
                    if event == "address" and measure.endswith("_from_address"):
                        continue  # nought by definition
                    half = (e["high"] - e["low"]) / 2
                    yield Row(mode, measure, event, truth.body, abs(wrap(e["deg"] - true)) / half, 2 * half, told.get((event, measure), {}))


def solve(a: list[list[float]], b: list[float]) -> list[float]:
    """Gauss's elimination with pivots."""
    n = len(b)
    m = [row[:] + [v] for row, v in zip(a, b)]
    for i in range(n):
        p = max(range(i, n), key=lambda r: abs(m[r][i]))
        m[i], m[p] = m[p], m[i]
        for r in range(i + 1, n):
            f = m[r][i] / m[i][i]
            for c in range(i, n + 1):
                m[r][c] -= f * m[i][c]
    x = [0.0] * n
    for i in reversed(range(n)):
        x[i] = (m[i][n] - sum(m[i][c] * x[c] for c in range(i + 1, n))) / m[i][i]
    return x


def learn_score(data: list[Row]) -> dict[str, tuple[float, float, float]]:
    """feature: (weight, low, high) of the logarithm of the factor on a standard deviation."""
    features = [f for f in data[0].evidence if len({round(r.evidence[f], 4) for r in data}) > 5]
    limits, columns = {}, []
    for f in features:
        values = sorted(r.evidence[f] for r in data)
        low, high = values[int(0.02 * len(values))], values[int(0.98 * (len(values) - 1))]
        if high - low > 1e-6:
            limits[f] = (low, high)
    features = list(limits)
    for r in data:
        row = [1.0]
        for f in features:
            low, high = limits[f]
            row.append((min(max(r.evidence[f], low), high) - (low + high) / 2) / ((high - low) / 2))
        columns.append(row)
    # Squares of scores, held at four standard deviations: one wild reading is no law.
    squares = [min(r.score * Z95, 4.0) ** 2 for r in data]
    n = len(features) + 1
    beta = [math.log(max(statistics.fmean(squares), 1e-6))] + [0.0] * (n - 1)
    for _ in range(25):
        a = [[(RIDGE if i == j and i else 0.0) for j in range(n)] for i in range(n)]
        g = [-(RIDGE * beta[i] if i else 0.0) for i in range(n)]
        for x, s in zip(columns, squares):
            pull = s / math.exp(sum(b * v for b, v in zip(beta, x))) - 1
            for i in range(n):
                g[i] += x[i] * pull
                for j in range(i, n):
                    a[i][j] += x[i] * x[j]
        for i in range(n):
            for j in range(i):
                a[i][j] = a[j][i]
        step = solve(a, g)
        size = max(map(abs, step))
        beta = [b + s * min(1.0, 0.7 / size if size else 1.0) for b, s in zip(beta, step)]
        if size < 1e-5:
            break
    return {f: (b / 2 / ((limits[f][1] - limits[f][0]) / 2), *limits[f]) for f, b in zip(features, beta[1:])}


def score_factor(terms: dict[str, tuple[float, float, float]], evidence: dict[str, float]) -> float:
    return math.exp(sum(w * min(max(evidence[f], low), high) for f, (w, low, high) in terms.items()))


def conformal(values: list[float]) -> float:
    ranked = sorted(values)
    k = min(math.ceil((len(ranked) + 1) * LEVEL), len(ranked))
    return ranked[k - 1]


def factor(by_body: dict[str, list[float]]) -> float:
    """The quantile that suffices in CONFIDENCE of the draws of as many bodies, with replacement."""
    bodies, rng = sorted(by_body), random.Random(SEED)
    drawn = ([v for b in rng.choices(bodies, k=len(bodies)) for v in by_body[b]] for _ in range(DRAWS))
    return sorted(conformal(values) for values in drawn)[math.ceil(CONFIDENCE * DRAWS) - 1]


PEERS = {m: measures for measures in GROUPS for m in measures}   # these share a factor: each alone has too few scores


class Scores:
    """Scores by way of filming, measures that share a factor, the top apart from the rest, and body."""

    def __init__(self) -> None:
        self.groups: dict[tuple[str, tuple[str, ...], str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))

    def add(self, mode: str, measure: str, event: str, body: str, score: float) -> None:
        peers = PEERS.get(measure, (measure,))
        self.groups[mode, peers, ""][body].append(score)
        if event == "top" and measure in OWN_AT_TOP:
            self.groups[mode, peers, "top"][body].append(score)

    def print(self, table: str, most: float = math.inf) -> None:
        for (mode, peers, event), by_body in sorted(self.groups.items()):
            scale, n = min(factor(by_body), most), sum(map(len, by_body.values()))
            for measure in peers:
                if event and measure not in OWN_AT_TOP:
                    continue
                print(f'\n[[{table}]]\nmode = "{MODES[mode]}"\nmeasure = "{measure}"')
                if event:
                    print(f'event = "{event}"')
                print(f"scale = {scale:.3f}\nn = {n}")


def fit(results: Path, choose: list[Truth], calibrate: list[Truth], spreads_file: Path) -> None:
    text = spreads_file.read_text().split("\n", 1)[1]
    bodies = len({t.body for t in calibrate})
    print("# What was learnt from rendered swings with known truth, no swing and no body in two of the sets.")
    print("# Written by tests/bench/calibrate.sh; see docs/accuracy.md.")
    print(f'made = "spreads and scores from {len(choose)} rendered swings of {len({t.body for t in choose})} bodies, '
          f'factors from {len(calibrate)} of {bodies}"')
    print(text.rstrip())
    grouped: dict[tuple[str, int], list[Row]] = defaultdict(list)
    place = {m: g for g, measures in enumerate(GROUPS) for m in measures}
    for r in rows(results, choose):
        if r.measure in place and r.evidence:
            grouped[r.mode, place[r.measure]].append(r)
    scores: dict[tuple[str, str], dict] = {}
    for (mode, g), data in sorted(grouped.items()):
        if len(data) < FEWEST:
            continue
        terms = learn_score(data)
        print(f'\n[[scores]]\nmode = "{MODES[mode]}"\nmeasures = [{", ".join(chr(34) + m + chr(34) for m in GROUPS[g])}]\nterms = [')
        for f, (w, low, high) in terms.items():
            print(f'    {{ feature = "{f}", weight = {w:.4f}, low = {low:.4f}, high = {high:.4f} }},')
        print("]")
        for m in GROUPS[g]:
            scores[mode, m] = {f: tuple(round(v, 4) for v in t) for f, t in terms.items()}
    kept = Scores()
    for r in rows(results, calibrate):
        terms = scores.get((r.mode, r.measure))
        kept.add(r.mode, r.measure, r.event, r.body, r.score / score_factor(terms, r.evidence) if terms else r.score)
    kept.print("factors")


# The term for real people.


def people(results: Path, chosen: list[Truth], markers: Path, fitted: Path) -> None:
    """Widens where the network is as unsure as it was of the person with markers, by what scores and factors lack there."""
    text = fitted.read_text().rstrip()
    learnt = tomllib.loads(text)
    mode_of = {v: k for k, v in MODES.items()}
    scores = {(mode_of[s["mode"]], m): {t["feature"]: (t["weight"], t["low"], t["high"]) for t in s["terms"]}
              for s in learnt.get("scores", []) for m in s["measures"]}
    factors = {(mode_of[f["mode"]], f["measure"]): f["scale"] for f in learnt["factors"] if "event" not in f}
    print(text)
    told = [r for r in rows(results, chosen) if r.evidence]
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
            doubtful = sorted((r for r in own if r.mode == mode), key=lambda r: -r.evidence["network"])[: max(len(own) // 12, 5)]
            widened = statistics.median(factors[mode, r.measure] * score_factor(scores.get((mode, r.measure), {}), r.evidence) for r in doubtful)
            lacking.append(float(m[3] if mode == "two" else m[2]) / widened)
        print(f'\n[[people]]\nsegment = "{segment}"\nnetwork_low_deg = {low:.2f}\nnetwork_high_deg = {high:.2f}')
        print(f"factor = {max(*lacking, 1.0):.3f}   # two views {lacking[0]:.2f}, face-on {lacking[1]:.2f}, down-the-line {lacking[2]:.2f}")


# Differences of two swings.


def in_pairs(results: Path, all_truths: list[Truth]):
    """(mode, measure, event, body, error and half-width of the first, the same of the second) of each pair."""
    by_name = {t.name: t for t in all_truths}
    for mode in MODES:
        for name, first in sorted(by_name.items()):
            second = by_name.get(name[:-1] + "b")
            if not name.endswith("a") or second is None:
                continue
            found = [result(results / mode, t) for t in (first, second)]
            if None in found:
                continue
            for event, measures in found[0][0]["at"].items():
                for measure, a in measures.items():
                    b = found[1][0]["at"].get(event, {}).get(measure)
                    true = [t.value(measure, event) for t in (first, second)]
                    if b is None or None in (a["deg"], b["deg"], *true) or (event == "address" and measure.endswith("_from_address")):
                        continue
                    if min(a["high"] - a["low"], b["high"] - b["low"]) > 0:
                        yield mode, measure, event, first.body, *[(wrap(e["deg"] - t), (e["high"] - e["low"]) / 2) for e, t in zip((a, b), true)]


def pairs(results: Path, all_truths: list[Truth]):
    """(mode, measure, event, body, |error of the difference| / root of the sum of squares, that root) of each pair."""
    for mode, measure, event, body, first, second in in_pairs(results, all_truths):
        root = math.hypot(first[1], second[1])
        yield mode, measure, event, body, abs(wrap(second[0] - first[0])) / root, root


def differences(results: Path, all_truths: list[Truth], fitted: Path) -> None:
    kept = Scores()
    for mode, measure, event, body, score, _ in pairs(results, all_truths):
        kept.add(mode, measure, event, body, score)
    print(fitted.read_text().rstrip())
    kept.print("differences", most=1.0)   # sharing errors makes no difference less sure
    shared(results, all_truths)


def shared(results: Path, all_truths: list[Truth]) -> None:
    """The correlation of the two errors of a pair, each in its own standard deviations, about nought: what a mean of errors is, is
    shared too. Whole bodies are drawn anew with replacement; `low` and `high` hold in nine of ten draws each."""
    groups: dict[tuple[str, tuple[str, ...], str], dict[str, list[tuple[float, float]]]] = defaultdict(lambda: defaultdict(list))
    for mode, measure, event, body, first, second in in_pairs(results, all_truths):
        z = (first[0] / first[1], second[0] / second[1])
        group = next((g for g in GROUPS if measure in g), (measure,))
        groups[mode, group, ""][body].append(z)
        if event == "top":
            groups[mode, group, "top"][body].append(z)

    def alike(found: list[tuple[float, float]]) -> float:
        return 2 * sum(a * b for a, b in found) / max(sum(a * a + b * b for a, b in found), 1e-9)

    for (mode, group, event), by_body in sorted(groups.items()):
        bodies, rng = list(by_body.values()), random.Random(SEED)
        drawn = sorted(alike([z for body in rng.choices(bodies, k=len(bodies)) for z in body]) for _ in range(DRAWS))
        low, high = (drawn[int(p * (DRAWS - 1))] for p in (1 - CONFIDENCE, CONFIDENCE))
        share = alike([z for body in bodies for z in body])
        for measure in group:
            print(f'\n[[shared]]\nmode = "{MODES[mode]}"\nmeasure = "{measure}"')
            if event:
                print(f'event = "{event}"')
            print(f"low = {max(low, 0):.3f}\nshare = {max(share, 0):.3f}\nhigh = {max(high, 0):.3f}\nn = {sum(map(len, bodies))}")


def difference_coverage(results: Path, all_truths: list[Truth]) -> None:
    """Each pair judged by the factor that the other pairs give: turns from address."""
    found = [p for p in pairs(results, all_truths) if p[1].endswith("turn_from_address") and "shoulder" not in p[1]]
    print("| views | moment | differences | as if independent: inside, median width | shared errors: inside, median width | share, 95 % interval |")
    print("| --- | --- | --- | --- | --- | --- |")
    for mode in MODES:
        for event in ("top", "all"):
            own = [p for p in found if p[0] == mode and (event == "all" or p[2] == event)]
            hits, widths = 0, []
            for p in own:
                others: dict[str, list[float]] = defaultdict(list)
                for o in own:
                    if o[3] != p[3]:
                        others[o[3]].append(o[4])
                scale = min(factor(others), 1.0) if others else 1.0
                hits += p[4] <= scale
                widths.append(2 * scale * p[5])
            if own:
                low, high = clopper_pearson(hits, len(own))
                wide = sum(p[4] <= 1 for p in own)
                print(f"| {MODES[mode].replace('_', '-')} | {event} | {len(own)} | {wide}, {statistics.median(2 * p[5] for p in own):.0f}° | "
                      f"{hits}, {statistics.median(widths):.0f}° | {100 * hits / len(own):.0f} %, {100 * low:.0f} to {100 * high:.0f} % |")


# Coverage.


def coverage(results: Path, all_truths: list[Truth]) -> None:
    groups: dict[tuple[str, str], list[tuple[bool, float]]] = defaultdict(list)
    for r in rows(results, all_truths):
        inside = (r.score <= 1.0, r.width)
        groups[r.mode, r.measure].append(inside)
        if "turn" in r.measure and "shoulder" not in r.measure:
            groups[r.mode, "all turns"].append(inside)
            if r.event == "top":
                groups[r.mode, "all turns at the top"].append(inside)
                if r.measure.endswith("_from_address"):
                    groups[r.mode, "turns from address at the top"].append(inside)
        groups[r.mode, "everything"].append(inside)
    print("| view | measure | inside | of | share | 95 % interval of the share | median width |\n| --- | --- | --- | --- | --- | --- | --- |")
    for (mode, measure), hits in sorted(groups.items()):
        k, n = sum(h[0] for h in hits), len(hits)
        low, high = clopper_pearson(k, n)
        print(f"| {MODES[mode].replace('_', '-')} | {measure.replace('_', ' ')} | {k} | {n} | {100 * k / n:.0f} % | {100 * low:.0f} to "
              f"{100 * high:.0f} % | {statistics.median(h[1] for h in hits):.0f}° |")


def split_names(folder: Path, out: str) -> None:
    """Half of the bodies to choose with, half to calibrate with, by a hash of the body's name."""
    parts: dict[str, list[str]] = {"choose": [], "calibrate": []}
    all_truths = truths([folder])
    bodies = sorted({t.body for t in all_truths})
    random.Random(SEED).shuffle(bodies)
    chosen = set(bodies[: len(bodies) // 2])
    for t in all_truths:
        parts["choose" if t.body in chosen else "calibrate"].append(t.name)
    for part, members in parts.items():
        Path(f"{out}.{part}").write_text("\n".join(members) + "\n")


def main() -> None:
    match sys.argv[1:]:
        case ["raw"]:
            raw()
        case ["names", folder, out]:
            split_names(Path(folder), out)
        case ["spreads", results, names, *folders] if folders:
            spreads(Path(results), truths([Path(f) for f in folders], names_of(names)))
        case ["fit", results, choose, calibrate, spreads_file, *folders] if folders:
            chosen, kept = (truths([Path(f) for f in folders], names_of(n)) for n in (choose, calibrate))
            fit(Path(results), chosen, kept, Path(spreads_file))
        case ["differences", results, names, fitted, *folders] if folders:
            differences(Path(results), truths([Path(f) for f in folders], names_of(names)), Path(fitted))
        case ["people", results, choose, markers, fitted, *folders] if folders:
            people(Path(results), truths([Path(f) for f in folders], names_of(choose)), Path(markers), Path(fitted))
        case ["difference-coverage", results, names, *folders] if folders:
            difference_coverage(Path(results), truths([Path(f) for f in folders], names_of(names)))
        case ["coverage", results, names, *folders] if folders:
            coverage(Path(results), truths([Path(f) for f in folders], names_of(names)))
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main()

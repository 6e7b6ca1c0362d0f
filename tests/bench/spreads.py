"""How far each view errs by what lasts a swing, what comes back with the turn and what passes: `[[spreads]]` and `[[alike]]`.

Each view alone in its true camera: its error in standard deviations of the network is, swing by swing, an offset and a slope a
radian of turn from address; their spreads and correlations between the views, and the spread of the rest. Standard library only.
"""
from __future__ import annotations

import math
import statistics
from pathlib import Path

from truth import Truth, curves, result, wrap

ROLES = ("face_on", "down_the_line")
SEGMENTS = ("pelvis", "thorax")
ANGLES = {"turn": "turn", "side": "side_bend", "forward": "forward_bend"}
TRUE = {"turn": "turn", "side": "side", "forward": "fwd"}
FLOOR_DEG = 1.0       # interval.sigma_floor_deg of pipelines/two-view.toml
Z95 = 1.959964
STEP_S, ALIKE_S = 0.05, 0.1
LATER_S, SAME_TURN = 0.25, 0.3   # seconds, radians: what still agrees then is no passing error


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

"""Truth of rendered swings and results as the program writes them. Standard library only."""
from __future__ import annotations

import bisect
import csv
import json
import math
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


def wrap(d: float) -> float:
    return (d + 180.0) % 360.0 - 180.0


class Truth:
    """Exact angles of one rendered swing."""

    def __init__(self, path: Path) -> None:
        data = json.loads(path.read_text())
        self.name = path.name.removesuffix("_truth.json")
        self.samples = data["samples"]
        self.views = data["views"]
        self.config = data["config"]
        self.body = str(self.config["body"])
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


def read_truth(path: Path) -> Truth | None:
    """A swing's truth; None where the take holds no swing with a ball."""
    return Truth(path) if json.loads(path.read_text())["events"] else None


def truths(folders: list[Path]) -> list[Truth]:
    """Truths of all swings in the folders."""
    paths = [p for folder in folders for p in sorted(folder.glob("*_truth.json"))]
    return [t for p in paths if (t := read_truth(p)) is not None]


def result(folder: Path, truth: Truth) -> tuple[dict, float] | None:
    """A swing's result and where its clock starts on the truth's."""
    file = folder / truth.name / "swing.json"
    if not file.exists():
        return None
    swing = json.loads(file.read_text())
    return swing, truth.views[swing["views"][0]["role"]]["starts_at_s"]


def curves(folder: Path, truth: Truth) -> list[dict[str, float]]:
    """Rows of a swing's curves; missing numbers are left out."""
    with (folder / truth.name / "curves.csv").open() as f:
        return [{k: float(v) for k, v in row.items() if v not in (None, "") and not k.endswith("_why")} for row in csv.DictReader(f)]


def binomial_tail(k: int, n: int, p: float) -> float:
    """P(X >= k), by logarithms: n may be thousands."""
    if k <= 0:
        return 1.0
    if p <= 0.0 or p >= 1.0:
        return 1.0 if p >= 1.0 else 0.0
    terms = (math.lgamma(n + 1) - math.lgamma(i + 1) - math.lgamma(n - i + 1) + i * math.log(p) + (n - i) * math.log1p(-p)
             for i in range(k, n + 1))
    return min(sum(math.exp(t) for t in terms), 1.0)


def clopper_pearson(k: int, n: int) -> tuple[float, float]:
    """95 % interval of a share."""
    def solve(f) -> float:
        lo, hi = 0.0, 1.0
        for _ in range(40):
            mid = (lo + hi) / 2
            lo, hi = (mid, hi) if f(mid) else (lo, mid)
        return (lo + hi) / 2

    low = 0.0 if k == 0 else solve(lambda p: binomial_tail(k, n, p) < 0.025)
    high = 1.0 if k == n else solve(lambda p: 1 - binomial_tail(k + 1, n, p) > 0.025)
    return low, high

"""Estimates with their truth, and what was learnt of their intervals. Standard library only.

A set is a folder SET/{tracks,truth}; `replay` measured its tracks into RESULTS/SET/MODE/NAME without any factor (`--uncalibrated`), so
half-widths are 1.96 propagated standard deviations, and what scores and factors make of them is told here as src/interval tells it.
"""
from __future__ import annotations

import csv
import math
import tomllib
from pathlib import Path
from typing import Iterator

from score import Z95, Term, score_factor
from truth import MODES, Truth, result, truths, wrap

GROUPS = (
    ("pelvis_turn_from_address", "thorax_turn_from_address"),
    ("pelvis_turn", "thorax_turn"),
    ("separation", "separation_from_address"),
    ("pelvis_side_bend", "pelvis_forward_bend", "thorax_side_bend", "thorax_forward_bend"),
    ("lead_knee_flexion", "trail_knee_flexion"),
)
PEERS = {m: measures for measures in GROUPS for m in measures}   # these are learnt together
OWN_AT_TOP = {"pelvis_turn_from_address", "thorax_turn_from_address", "separation", "separation_from_address"}
MODE_OF = {v: k for k, v in MODES.items()}


class Row:
    """One estimate: what it is of, its error, its half-width and the evidence; degrees."""

    def __init__(self, mode: str, measure: str, event: str, truth: Truth, error: float, half: float, evidence: dict[str, float]) -> None:
        self.mode, self.measure, self.event, self.truth = mode, measure, event, truth
        self.error, self.half, self.evidence = error, half, evidence

    @property
    def score(self) -> float:
        """The error in half-widths."""
        return abs(self.error) / self.half


def rows(results: Path, all_truths: list[Truth]) -> Iterator[Row]:
    """Every estimate that has a truth."""
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
                    evidence = told.get((event, measure), {})
                    if evidence:
                        evidence = {**evidence, "sigma": math.log(max(half / Z95, 0.1))}
                    yield Row(mode, measure, event, truth, wrap(e["deg"] - true), half, evidence)


def of_set(results: str | Path, folder: str | Path) -> list[Row]:
    """All estimates of the set FOLDER, measured into RESULTS."""
    return list(rows(Path(results), truths([Path(folder) / "truth"])))


def body(row: Row) -> str:
    """Whose errors are alike: one body's swings."""
    return row.truth.body


class Learnt:
    """Scores, factors and the term for real people of a calibration file."""

    def __init__(self, text: str) -> None:
        data = tomllib.loads(text)
        self.scores: dict[tuple[str, str], list[Term]] = {}
        for s in data.get("scores", []):
            terms = [(t["feature"], t["weight"], t["low"], t["high"]) for t in s["terms"]]
            self.scores.update({(MODE_OF[s["mode"]], m): terms for m in s["measures"]})
        self.factors = {(MODE_OF[f["mode"]], f["measure"], f.get("event", "")): f["scale"] for f in data.get("factors", [])}
        self.people = {p["segment"]: (math.log(p["network_low_deg"]), math.log(p["network_high_deg"]), p["factor"]) for p in data.get("people", [])}

    def score(self, row: Row) -> float:
        """What the score multiplies the half-width by."""
        terms = self.scores.get((row.mode, row.measure))
        return score_factor(terms, row.evidence) if terms and row.evidence else 1.0

    def real(self, row: Row) -> float:
        """What the term for real people multiplies it by, as `People::factor` has it."""
        out = 1.0
        for segment in ("pelvis", "thorax") if row.measure.startswith("separation") else (row.measure.split("_")[0],):
            if segment in self.people and row.evidence:
                low, high, factor = self.people[segment]
                share = min(max((row.evidence["network"] - low) / max(high - low, 1e-9), 0.0), 1.0)
                out = max(out, 1 + (factor - 1) * share)
        return out

    def half(self, row: Row) -> float:
        """The half-width as it is told, degrees."""
        key = row.mode, row.measure
        factor = self.factors.get((*key, row.event), self.factors.get((*key, ""), 1.0))
        return row.half * self.score(row) * factor * self.real(row)

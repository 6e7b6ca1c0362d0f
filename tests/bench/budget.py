#!/usr/bin/env python3
"""Which part of the error at the top comes from where: each part taken away in turn.

usage: budget.py WORK_DIR TRUTH_DIR...

WORK_DIR/{learnt,plain}-{found,true}/NAME, as `calibrate.sh` leaves them: two views measured with the learnt fusion or with
each reading weighed by the network's own standard deviation alone, in found cameras or in the true ones. Times are those that
were found, or the true ones (read off the curve). Standard library only.
"""
from __future__ import annotations

import statistics
import sys
from pathlib import Path

from truth import Truth, curves, result, truths, wrap


def at_true_times(folder: Path, truth: Truth, segment: str) -> float | None:
    """Turn from address read off the curve at the true moments, degrees."""
    found = result(folder, truth)
    if found is None:
        return None
    points = [(row["time_s"] + found[1], row[f"{segment}_turn_deg"]) for row in curves(folder, truth) if f"{segment}_turn_deg" in row]
    still = [v for t, v in points if truth.events["address"] - 0.25 <= t <= truth.events["address"]]
    top = truth.events["top"]
    after = next((i for i, p in enumerate(points) if p[0] >= top), None)
    if not still or not after:
        return None
    (t0, v0), (t1, v1) = points[after - 1], points[after]
    return v0 + (v1 - v0) * (top - t0) / (t1 - t0) - statistics.fmean(still)


def at_found_times(folder: Path, truth: Truth, segment: str) -> float | None:
    found = result(folder, truth)
    return None if found is None else found[0]["at"].get("top", {}).get(f"{segment}_turn_from_address", {}).get("deg")


def main() -> None:
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    work, all_truths = Path(sys.argv[1]), truths([Path(p) for p in sys.argv[2:]])
    print("| views put together | cameras | times | turns | mean error | rms | worst |\n| --- | --- | --- | --- | --- | --- | --- |")
    for how in ("plain", "learnt"):
        for cameras in ("found", "true"):
            for times, read in (("found", at_found_times), ("true", at_true_times)):
                errors = []
                for truth in all_truths:
                    for segment in ("pelvis", "thorax"):
                        value = read(work / f"{how}-{cameras}", truth, segment)
                        if value is not None:
                            errors.append(abs(wrap(value - truth.value(f"{segment}_turn_from_address", "top"))))
                if errors:
                    print(f"| {how} | {cameras} | {times} | {len(errors)} | {statistics.fmean(errors):.2f}° | "
                          f"{statistics.fmean(e * e for e in errors) ** 0.5:.2f}° | {max(errors):.1f}° |")


if __name__ == "__main__":
    main()

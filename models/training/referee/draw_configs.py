"""Draw the configurations of the referee's sets at random; the seeds are fixed, so that the same come again.

usage: draw_configs.py OUT_FOLDER [SET COUNT]
SET and COUNT draw more of one set alone, the first of them those of the set itself.
cal calibrates intervals, rep only reports, pairs are two swings of one student before the same cameras, warp are odd clocks,
none are takes without a swing, small are small golfers in wide pictures. No body, outfit or camera is in two sets.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from draw_odd import NONE, WARP
from draw_swings import draw_swing
from places import PLACES
from trunk import Rig

SETS = dict(cal=(60, 31), rep=(30, 32), pairs=(12, 33), warp=(20, 34), none=(20, 35), small=(10, 36))   # count, seed
# what each swing is, in turn: every set holds plain, short, very long and hips-held swings
KINDS = ("plain", "short", "very_long", "plain", "hips_held", "plain", "short", "plain", "very_long", "hips_held")
AIMS = dict(face_on=(0.03, -0.2, 0.95), down_the_line=(0.0, -0.42, 0.95))


def draw_view(role: str, rng: np.random.Generator) -> dict[str, Any]:
    """A phone up to 12 degrees off its role, 0.5 to 1.9 m high; the golfer fills half to nine tenths of the height."""
    off = rng.uniform(-12, 12)
    angle = np.radians(off if role == "face_on" else -90 + off)
    distance = rng.uniform(3.2, 5.5)
    aim = np.array(AIMS[role]) + rng.normal(0, 0.05, 3)
    eye = [aim[0] + distance * np.sin(angle), aim[1] - distance * np.cos(angle), rng.uniform(0.5, 1.9)]
    noise = rng.uniform(2, 9)
    return dict(fps=60, fov=round(float(2 * np.degrees(np.arctan(1.0 / rng.uniform(0.55, 0.9) / distance))), 2),
                eye=[round(float(x), 3) for x in eye], at=[round(float(x), 3) for x in aim],
                start=round(float(rng.uniform(0, 0.15)), 3), noise=round(float(noise), 1), crf=int(round(23 + noise * 0.9 + rng.uniform(0, 3))),
                roll=round(float(rng.normal(0, 1.2)), 2), exposure=round(float(rng.uniform(0.75, 1.15)), 2),
                wobble=round(float(rng.choice([0.0, 0.0, rng.uniform(0.006, 0.02)])), 4))


def small_view(role: str, rng: np.random.Generator, size: list[int]) -> dict[str, Any]:
    """The same far away: 150 to 250 px of golfer."""
    view = draw_view(role, rng)
    fov = rng.uniform(34, 60)
    distance = 1.72 * size[1] / 2 / np.tan(np.radians(fov) / 2) / rng.uniform(150, 250)
    aim = np.array(view["at"]) + [0, 0, rng.uniform(-0.3, 0.8)]
    back = np.array(view["eye"])[:2] - aim[:2]
    eye = aim[:2] + back / np.linalg.norm(back) * distance
    return {**view, "fov": round(float(fov), 2), "eye": [round(float(x), 3) for x in (*eye, view["eye"][2])],
            "at": [round(float(x), 3) for x in aim], "noise": round(float(rng.uniform(1, 4)), 1), "crf": int(rng.integers(25, 29))}


def rates(views: dict[str, Any], i: int, rng: np.random.Generator) -> None:
    """Frames a second: mostly 60; every fifth pair has one phone at 30 and the other at 120."""
    both = int(rng.choice([60, 60, 60, 60, 30, 120]))
    for view in views.values():
        view["fps"] = both
    if i % 5 == 4:
        views["face_on"]["fps"], views["down_the_line"]["fps"] = (30, 120) if rng.random() < 0.5 else (120, 30)


def draw_set(name: str, more: int | None = None) -> list[dict[str, Any]]:
    """All configurations of one set, or `more` of its kind."""
    count, seed = SETS[name]
    count = more or count
    out, places = [], [p for p in PLACES if p != "white"]
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        kind = KINDS[i % len(KINDS)]
        size = [540, 960] if name != "small" else [[1280, 720], [1920, 1080]][i % 3 // 2]
        roles = ("face_on", "down_the_line")
        views = {r: draw_view(r, rng) if name != "small" else small_view(r, rng, size) for r in roles}
        rates(views, i, rng)
        config = dict(name=f"{name}-{i + 1:02d}", set=name, body=f"d{seed * 1000 + i}", scene=seed * 1000 + i, size=size,
                      place=str(rng.choice(places)), lefty=bool(i % 5 == 2), kind=kind, rig=asdict(Rig.draw(rng)), views=views)
        if name == "small":
            config.update(place="white" if i % 3 == 0 else config["place"], white=bool(i % 3 == 0))
            for view in views.values():
                view.update(fps=int(rng.choice([30, 30, 60])), start=0.0)
        config["swing"] = draw_swing("plain" if name == "warp" else kind, rng)
        if name == "warp":
            WARP[i % len(WARP)](config, rng)
        elif name == "none":
            NONE[i % len(NONE)](config, rng)
        if name != "pairs":
            out.append(config)
            continue
        for letter in "ab":
            again = draw_swing(kind if letter == "a" else KINDS[(i + 3) % len(KINDS)], rng)
            kept = {k: config["swing"][k] for k in ("stance", "knee0", "pel_addr", "tho_addr")}
            out.append({**config, "name": config["name"] + letter, "swing": {**again, **kept}})
    return out


def main(folder: str, only: str | None = None, count: int | None = None) -> None:
    """One file a take, and order.txt: the sets mixed, so that any beginning of the list has a share of each."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    order = []
    for rank, name in enumerate([only] if only else SETS):
        configs = draw_set(name, count)
        for i, config in enumerate(configs):
            (Path(folder) / f"{config['name']}.json").write_text(json.dumps(config, indent=1) + "\n")
            order.append((i // 2 * 2 / len(configs), rank, i, config["name"]))
    (Path(folder) / "order.txt").write_text("\n".join(o[-1] for o in sorted(order)) + "\n")


if __name__ == "__main__":
    main(sys.argv[1], *sys.argv[2:3], *(int(x) for x in sys.argv[3:4]))

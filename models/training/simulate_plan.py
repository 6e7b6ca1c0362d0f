"""Whole swings to simulate: who, in what, how they turn, and where two phones stand. Everything comes from the set's seed.

The turns, times and arms are those that the referee's swings are drawn from (referee/draw_swings.py), and so are the phones' places;
bodies, outfits and pictures are the training renderer's. Painted bodies are drawn from the spread of the 24 that no network was
trained on; characters are those kept out of training, but for `learn`, which only teaches how errors go with what is seen.
"""

from __future__ import annotations

import importlib
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch

from draw import Draw
from trunk import draw_posture, draw_shares


def of_referee(*names: str) -> list[Any]:
    """Modules of referee/, some of which are named as some here."""
    folder, aside = str(Path(__file__).resolve().parent / "referee"), {n: sys.modules.pop(n, None) for n in ("trunk", "golfer", "surroundings")}
    sys.path.insert(0, folder)
    try:
        return [importlib.import_module(n) for n in names]
    finally:
        sys.path.remove(folder)
        for n, module in aside.items():
            sys.modules.pop(n, None)
            if module is not None:
                sys.modules[n] = module


channels, draw_configs, draw_swings, lens, referee_swing = of_referee("channels", "draw_configs", "draw_swings", "lens", "swing")
KINDS, draw_view, rates, draw_swing = draw_configs.KINDS, draw_configs.draw_view, draw_configs.rates, draw_swings.draw_swing
EVENTS, add_swing, address, swing = referee_swing.EVENTS, referee_swing.add_swing, referee_swing.address, referee_swing.swing

Array = np.ndarray
ROLES = ("face_on", "down_the_line")
# students a set, seed; a student of `pairs` swings twice
SETS = dict(learn=(1000, 41), calibrate=(1000, 42), report=(300, 43), pairs=(150, 44))
HELD_BACK = 11                        # one character in so many is not trained on, as in train.py
REPORTED = 0.4                        # share of those that only report
CHARACTERS = 0.5                      # share of students
STATURE_M = (1.48, 2.02)
LOOK_EVERY_S, ALL_BELOW_FPS = 0.05, 50.0
# looks of every frame round the moments, in downswings: as measuring looks closer (pipelines/two-view.toml, [look])
BEFORE_TOP, AFTER_IMPACT, ROUND_TAKEAWAY = 0.9, 0.3, 0.3
SOUND_M_S = 343.0


@dataclass
class View:
    """One phone. Lengths in m, pixels of the frame as if the golfer played right-handed."""

    role: str
    fps: float
    starts_s: float
    width: int
    height: int
    focal_px: float
    world_from_camera: Array     # 3,3: right, up, back
    eye: Array
    frames: Array                # numbers of the frames that are read
    count: int                   # frames of the clip

    def time_s(self, frame: Array) -> Array:
        """The swing's time of frames."""
        return self.starts_s + frame / self.fps


@dataclass
class Plan:
    """One swing."""

    name: str
    group: str                   # the set
    student: str
    character: bool
    mix: Array                   # weights of the bodies
    stretch: Array               # 3
    lefty: bool
    kind: str
    p: dict[str, Any]            # of referee/swing.py
    shares: Array                # 2,4
    posture: Array               # 4
    girdle: Array                # 2,3 degrees
    elbow: Array                 # 2,3
    keys: Any                    # referee/channels.py
    events: dict[str, float]
    views: list[View]


def held_out(total: int) -> list[int]:
    """Characters that were kept out of training."""
    return [i for i in range(total) if i % HELD_BACK == HELD_BACK // 2]


def draw_mix(rng: np.random.Generator, group: str, character: bool, total: int, statures: Array) -> Array:
    """Weights of a body: a painted one from the spread of the last 24, a character mostly itself."""
    mix = np.zeros(total, np.float32)
    if character:
        kept = held_out(total)
        edge = len(kept) - max(2, round(REPORTED * len(kept)))
        own = dict(learn=[i for i in range(total) if i not in kept], report=kept[edge:]).get(group, kept[:edge])
        first, second = rng.choice(own, 2, replace=False)
        share = rng.uniform(0, 0.35)
        mix[first], mix[second] = 1 - share, share
        return mix
    n = 24
    for _ in range(1000):
        share = rng.normal(size=n)
        share = (share - share.mean()) / np.sqrt(n - 1) + 1 / n
        if STATURE_M[0] <= share @ statures[-n:] <= STATURE_M[1]:
            break
    mix[-n:] = share
    return mix


def read_frames(p: dict[str, Any], start: float, fps: float, count: int) -> Array:
    """Frames that measuring would read: a sparse look, and all round takeaway and downswing."""
    every = np.arange(count)
    if fps < ALL_BELOW_FPS:
        return every
    stride = 2 * max(0, round((fps * LOOK_EVERY_S - 1) / 2 - 1e-6)) + 1
    t, down = start + every / fps, p["t_imp"] - p["t_top"]
    near = (t > p["t_top"] - BEFORE_TOP * down) & (t < p["t_imp"] + AFTER_IMPACT * down)
    near |= abs(t - p["t_addr"]) < ROUND_TAKEAWAY * down
    # a closer look reaches from one sparse look to another, so that plain and mirrored crops go on by turns
    near = np.isin(every // stride, np.unique(every[near] // stride))
    return every[near | (every % stride == 0) | (every == count - 1)]


def draw_phone(role: str, p: dict[str, Any], drawn: dict[str, Any], wide: bool) -> View:
    """A phone of the referee's kind; some lie on their side."""
    width, height = (960, 540) if wide else (540, 960)
    k, m = lens.camera(width, height, drawn)
    count = int((p["t_end"] - drawn["start"]) * drawn["fps"])
    return View(role, float(drawn["fps"]), drawn["start"], width, height, float(k[0, 0]), m[:3, :3], m[:3, 3],
                read_frames(p, drawn["start"], drawn["fps"], count), count)


def keyed(p: dict[str, Any]) -> tuple[Any, dict[str, float]]:
    """The body's channels over the swing, and its events."""
    keys = channels.Channels()
    keys.to(0.0, **address(p))
    return keys, add_swing(keys, p)


def draw_student(group: str, i: int, totals: tuple[int, int], statures: tuple[Array, Array]) -> list[Plan]:
    """One student's swing, or two; `totals` and `statures` of painted bodies and of characters."""
    seed = SETS[group][1]
    rng = np.random.default_rng([seed, i])
    d = Draw(1, "cpu", torch.Generator().manual_seed(seed * 100_003 + i))
    character = bool(totals[1]) and rng.random() < CHARACTERS
    mix = draw_mix(rng, group, character, totals[character], statures[character])
    stretch = (1 + rng.normal(0, 0.045, 3) * (1.0, 1.2, 0.6)).astype(np.float32) if character else np.ones(3, np.float32)
    lefty, wide, still = rng.random() < 0.2, rng.random() < 0.2, round(float(rng.uniform(0.0, 0.4)), 3)
    drawn = {r: draw_view(r, rng) for r in ROLES}
    rates(drawn, i, rng)
    kind = KINDS[i % len(KINDS)]
    trunk = draw_shares(d)[0].numpy(), draw_posture(d)[0].numpy()
    girdle = 0.6 * rng.normal(0, 4, (2, 3))
    girdle[0, 1] -= 0.6 * rng.normal(4, 8)
    girdle[1, 1] += 0.6 * rng.normal(4, 8)
    elbow = np.array([[0.3, -0.1, -1.0], [-0.35, 0.15, -1.0]]) + rng.normal(0, 0.2, (2, 3))
    swings = {"": draw_swing(kind, rng)}
    if group == "pairs":
        own = swings[""]
        kept = {k: own[k] for k in ("stance", "knee0", "pel_addr", "tho_addr", "reach", "hands_off", "club_off")}
        swings = {"a": own, "b": {**draw_swing(KINDS[(i + 3) % len(KINDS)], rng), **kept}}
    out = []
    for letter, changes in swings.items():
        p = swing(changes)
        p.update({k: p[k] + still for k in ("t_addr", "t_top", "t_imp", "t_fin", "t_end")})
        keys, events = keyed(p)
        views = [draw_phone(r, p, drawn[r], wide) for r in ROLES]
        out.append(Plan(f"{group}-{i:04d}{letter}", group, f"{group}-{i:04d}", character, mix, stretch, lefty, kind, p, *trunk, girdle, elbow, keys, events, views))
    return out


def statures(path: str | Path) -> Array:
    """Heights of the bodies of a file, m."""
    v = np.load(path)["V"].astype(np.float32)
    return np.ptp(v[..., 2], axis=1)


def events_of(plan: Plan) -> dict[str, float]:
    """Address, top, impact and finish, s."""
    return {k: round(float(plan.events[k]), 5) for k in EVENTS}

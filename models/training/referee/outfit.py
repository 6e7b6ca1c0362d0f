"""What the golfer wears: a colour and a thickness for every vertex of the skin."""

from __future__ import annotations

import colorsys

import numpy as np

from golfer import Golfer
from turning import Array

HEAD_BONES = ("head", "temporalis", "levator", "oris", "orbicularis", "risorius", "jaw", "special", "oculi", "eye")
SKIN = ((224, 172, 140), (190, 130, 95), (120, 80, 55), (240, 195, 170), (150, 100, 70), (90, 58, 42))
HAIR = ((50, 35, 25), (120, 85, 50), (20, 18, 18), (160, 150, 140), (190, 150, 90))
WHITE = (236, 236, 238)


def cloth(rng: np.random.Generator) -> Array:
    """A colour that clothes have: often white, grey or dark, else any hue."""
    kind = rng.random()
    if kind < 0.45:
        return np.full(3, rng.choice([235.0, 200.0, 120.0, 60.0, 30.0])) + rng.normal(0, 4, 3)
    r, g, b = colorsys.hsv_to_rgb(rng.random(), rng.uniform(0.25, 0.85), rng.uniform(0.25, 0.95))
    return np.array([r, g, b]) * 255


class Outfit:
    """`colour` (vertices, 4; uint8) and `loose`, how far cloth stands off the skin (vertices; m)."""

    def __init__(self, g: Golfer, rng: np.random.Generator, white: bool = False):
        skin, hair = np.array(SKIN[rng.integers(6)], float), np.array(HAIR[rng.integers(5)], float)
        shirt, trousers, cap = (np.array(WHITE, float) if white else cloth(rng) for _ in range(3))
        long_sleeves, shorts, hat = rng.random() < 0.25, rng.random() < 0.35, rng.random() < 0.75
        stripes = rng.random() < 0.2 and not white
        names = [g.labels[i] for i in g.owner]
        rest = g.vertices

        def on(*starts: str) -> Array:
            return np.array([n.startswith(starts) for n in names])

        colour, loose = np.tile(skin, (len(rest), 1)), np.zeros(len(rest))
        wide_shirt, wide_legs = rng.uniform(0.006, 0.02), rng.uniform(0.006, 0.018)
        sleeves = ("upperarm", "lowerarm") if long_sleeves else ("upperarm01",)
        for where, tint, puff in (
            (on("spine", "breast", "clavicle", "shoulder01", *sleeves), shirt, wide_shirt),
            (on("root", "pelvis", "upperleg", *(() if shorts else ("lowerleg",))), trousers, wide_legs),
            (on("foot", "toe"), np.array(WHITE, float) if rng.random() < 0.6 else cloth(rng), 0.008),
        ):
            colour[where], loose[where] = tint, puff
        colour[on("wrist", "finger", "metacarpal") & np.array([n.endswith(".L") for n in names])] = 240
        torso = on("root", "spine", "pelvis", "upperleg")
        hem = g.hip_middle[2] + rng.uniform(0.02, 0.1) + 0.004 * np.sin(rest[:, 0] * 60)
        above = rest[:, 2] > hem
        band = np.sin(rest[:, 2] * rng.uniform(90, 200)) > 0.3 if stripes else np.zeros(len(rest), bool)
        colour[torso] = np.where(above[torso][:, None], shirt, trousers)
        colour[torso & above & band] = shirt * 0.6
        loose[torso & above & (rest[:, 2] < hem + 0.02)] = wide_shirt + 0.005
        head = on(*HEAD_BONES)
        top = head & (rest[:, 2] > rest[:, 2].max() - 0.085)
        colour[top], loose[top] = (cap if hat else hair), 0.012
        colour[head & (rest[:, 1] > rest[head].mean(0)[1] + 0.03) & ~top] = hair
        colour *= rng.normal(1, 0.03, (len(colour), 1))
        q = rest * rng.uniform(14, 22)
        folds = np.sin(q[:, 0] * 1.7 + 1.3 * np.sin(q[:, 2])) * np.sin(q[:, 2] * 1.1 + q[:, 1])
        self.loose = loose * (1 + rng.uniform(0.2, 0.6) * folds)
        self.colour = np.c_[np.clip(colour, 0, 255).astype(np.uint8), np.full(len(rest), 255, np.uint8)]

"""The landmarks of the ISB proposals on a body's skin, and the segment frames they give.

Pelvis: Wu et al. 2002 (doi 10.1016/S0021-9290(01)00222-6): ASIS and PSIS of both sides. Thorax: Wu et al. 2005
(doi 10.1016/j.jbiomech.2004.05.042): incisura jugularis, xiphoid, C7, T8. Axes renamed as in docs/measures.md: x to the
left, y to the back, z up. Where they lie on this mesh was read off its shape; heights as in trunk.py, from memory.
"""

from __future__ import annotations

import numpy as np

from golfer import Golfer
from trunk import HIPS_TO_NECK
from turning import Array

# name: (side, as a share of the hip joints' half distance; height m above the hip centres; front -1 or back 1)
PLACES = dict(asis_l=(1.25, 0.085, -1), asis_r=(-1.25, 0.085, -1), psis_l=(0.5, 0.095, 1), psis_r=(-0.5, 0.095, 1),
              ij=(0, 0.475, -1), px=(0, 0.33, -1), c7=(0, 0.52, 1), t8=(0, 0.345, 1))


def find(g: Golfer) -> dict[str, int]:
    """The vertex of each landmark: the one farthest to front or back of those near its side and height."""
    scale = (g.heads[g.bone["neck01"]][2] - g.hip_middle[2]) / HIPS_TO_NECK
    d = g.vertices - g.hip_middle
    trunk = np.array([g.labels[i].startswith(("root", "pelvis", "spine", "breast", "clavicle", "neck01", "upperleg01")) for i in g.owner])
    out = {}
    for name, (side, height, face) in PLACES.items():
        off = np.hypot(d[:, 0] - side * g.hip_half, d[:, 2] - height * scale)
        near = np.argsort(np.where(trunk, off, 9))[:24]
        out[name] = int(near[np.argmax(face * d[near, 1] - 6 * off[near])])
    return out


def frames(points: dict[str, Array]) -> tuple[Array, Array]:
    """World from pelvis and world from thorax by the published recipes."""
    left = points["asis_l"] - points["asis_r"]
    back = 0.5 * (points["psis_l"] + points["psis_r"]) - 0.5 * (points["asis_l"] + points["asis_r"])
    up = np.cross(left, back)
    pelvis = _axes(left, up)
    top, low = 0.5 * (points["ij"] + points["c7"]), 0.5 * (points["px"] + points["t8"])
    return pelvis, _axes(np.cross(points["c7"] - low, points["ij"] - low) * -1, top - low, keep_up=True)


def _axes(left: Array, up: Array, keep_up: bool = False) -> Array:
    x, z = left / np.linalg.norm(left), up / np.linalg.norm(up)
    y = np.cross(z, x)
    y /= np.linalg.norm(y)
    return np.stack((np.cross(y, z), y, z) if keep_up else (x, y, np.cross(x, y)), 1)


def rotations(g: Golfer, skin: Array, marks: dict[str, int]) -> tuple[Array, Array]:
    """World from pelvis and from thorax, as the landmarks say, from rest: what they say of a body that stands as it was made is no turn."""
    def at(v: Array) -> tuple[Array, Array]:
        return frames({k: v[i] for k, i in marks.items()})

    return tuple(now @ rest.T for now, rest in zip(at(skin), at(g.vertices)))

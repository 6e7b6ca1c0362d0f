"""Bodies by name: b0 to b55 of ../data/bodies.npz, r0 to r15 of ../data/referee_bodies.npz, and d<seed>, drawn anew.

A drawn body comes from the spread of the 24 bodies that no network was ever trained on (b48 to b55, r0 to r15): their mean
plus their differences in normal proportions, which keeps skin and joints together since both are linear in them.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from turning import Array

STATURE_M = (1.48, 2.02)


@lru_cache(maxsize=1)
def _files(folder: str) -> dict[str, dict[str, Array]]:
    return {key: dict(np.load(Path(folder) / name)) for key, name in (("b", "bodies.npz"), ("r", "referee_bodies.npz"))}


def figure(folder: str | Path, name: str) -> dict[str, Array]:
    """Skin V, bone heads H and the skeleton of a body."""
    files = _files(str(folder))
    skeleton = {k: files["r"][k] for k in ("labels", "parents", "w", "wi", "f")}
    if name[0] in files:
        z, i = files[name[0]], int(name[1:])
        return {**skeleton, "V": z["V"][i].astype(float), "H": z["H"][i].astype(float)}
    held = [np.concatenate((files["b"][k][48:56], files["r"][k])).astype(float) for k in ("V", "H")]
    rng = np.random.default_rng([int(name[1:]), 7])
    while True:
        share = rng.normal(size=len(held[0]))
        share = (share - share.mean()) / np.sqrt(len(share) - 1)
        v, h = (x.mean(0) + np.tensordot(share, x, 1) for x in held)
        if STATURE_M[0] <= np.ptp(v[:, 2]) <= STATURE_M[1]:
            return {**skeleton, "V": v, "H": h}

"""What a body does over time: named channels of keyed values, monotone cubic between the keys, still outside them."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from turning import DEGREE, Array, rz

# Body frame: x to the body's left, z up, the body faces -y; degrees and metres. A golfer's own world is the same, turned by
# `heading` about z and moved by `place`.
STILL: dict[str, tuple[float, ...]] = dict(
    pelvis=(0, 0, 2), thorax=(0, 0, 2), head=(0, 0, 4),     # turn, side bend, forward bend
    hips=(0, 0, 0),                # shift of the hip middle from where address has it
    girdle=(0,),                   # slide of the shoulder blades round the rib cage
    foot_l=(0, 0, 0, 0, 0), foot_r=(0, 0, 0, 0, 0),         # shift of the ankle from its place in the stance, yaw, pitch
    hand_l=(.12, -.1, -1), hand_r=(-.12, -.1, -1),           # direction from the own shoulder
    reach_l=(.95,), reach_r=(.95,),                         # share of the arm's length
    grip=(0,),                     # 1: the trail hand follows the lead hand on the club
    shaft=(.1, -.5, -.85),
    heading=(0,), place=(0, 0),
)


class Channels:
    """Keys are added in order of time; `at` reads every channel."""

    def __init__(self) -> None:
        self.keys: dict[str, list[tuple[float, Array]]] = {k: [(0.0, np.array(v, float))] for k, v in STILL.items()}
        self.now = 0.0
        self._curves: dict[str, Any] = {}

    def last(self, name: str) -> Array:
        """The value of the last key."""
        return self.keys[name][-1][1]

    def hold(self, until: float | None = None) -> None:
        """Every channel stays what it is until a time (now unless given), which becomes now."""
        self.now = self.now if until is None else until
        for name in self.keys:
            self.to(self.now, **{name: self.last(name)})

    def to(self, t: float, **values: Any) -> None:
        """A key at a time for each given channel; one at the same time takes its place."""
        for name, value in values.items():
            keys, v = self.keys[name], np.atleast_1d(np.array(value, float))
            assert len(v) == len(STILL[name]), name
            if t <= keys[-1][0] + 1e-6:
                keys[-1] = (keys[-1][0], v)
            else:
                keys.append((t, v))
        self._curves.clear()

    def stand_at(self, t: float) -> None:
        """Move and turn the whole way walked so that at a time the body stands at the origin and faces -y."""
        now = self.at(t)
        turn, place = now["heading"].copy(), now["place"].copy()
        back = rz(-turn[0] * DEGREE)[:2, :2]
        self.keys["heading"] = [(k, v - turn) for k, v in self.keys["heading"]]
        self.keys["place"] = [(k, back @ (v - place)) for k, v in self.keys["place"]]
        self._curves.clear()

    def at(self, t: float) -> dict[str, Array]:
        """All channels at a time."""
        if not self._curves:
            for name, keys in self.keys.items():
                times = np.array([k[0] for k in keys])
                values = np.array([k[1] for k in keys])
                self._curves[name] = (times, PchipInterpolator(times, values, axis=0) if len(keys) > 1 else None, values)
        out = {}
        for name, (times, curve, values) in self._curves.items():
            out[name] = values[0] if curve is None else curve(np.clip(t, times[0], times[-1]))
        return out

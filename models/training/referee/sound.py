"""A clip's sound: quiet noise, and a knock for every ball that is struck."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np

RATE = 48000      # samples a second
SPEED = 343.0     # of sound, m/s


def write(path: Path, seconds: float, hits: list[float], seed: int) -> None:
    """16 bit, one channel; `hits` in seconds from the clip's start, travel time included."""
    rng = np.random.default_rng(seed)
    x = rng.normal(0, 0.004, int(seconds * RATE))
    k = np.arange(int(0.02 * RATE))
    knock = np.exp(-k / (0.0025 * RATE)) * np.sin(2 * np.pi * 3200 * k / RATE) * 0.8
    for hit in hits:
        i = int(hit * RATE)
        if 0 <= i < len(x):
            m = min(len(knock), len(x) - i)
            x[i:i + m] += knock[:m]
    with wave.open(str(path), "wb") as w:
        w.setparams((1, 2, RATE, 0, "NONE", ""))
        w.writeframes((np.clip(x, -1, 1) * 32767).astype(np.int16).tobytes())

"""Makes tests/reference/smoothing.json: a thorax turn with noise, smoothed by SciPy's zero-lag
Butterworth filter, and Winter's residual analysis of its cut-off. Run once, by hand.

usage: smoothing_reference.py TRUTH.json OUT.json      (numpy, scipy)

A forward filter and backward pass for a constant velocity disturbed by white noise of density q,
with readings of variance r every dt, has the response 1 / (1 + (r dt / q) w^4). A Butterworth filter
of second order run both ways has 1 / (1 + (w / wc)^4). They are the same filter with
wc = (q / (r dt))^(1/4): the process noise is a cut-off in other words, and can be checked as one.
"""
from __future__ import annotations

import json
import sys

import numpy as np
import scipy
from scipy.signal import butter, filtfilt

FPS = 60.0
SIGMA_DEG = 2.6  # the torso network's mean error of one frame, face-on
ACCELERATION_DEG_S2 = 4000.0  # pipelines/two-view.toml
HELD_S = 1.0 / 60.0  # the time over which that acceleration is held


def low_pass(x: np.ndarray, cutoff_hz: float) -> np.ndarray:
    b, a = butter(2, cutoff_hz, fs=FPS)
    return filtfilt(b, a, x)


def residual_analysis(x: np.ndarray) -> dict:
    """Winter's method: the residual's straight part is noise; its value at 0 Hz is the residual at
    which as much noise passes as signal is lost."""
    cutoffs = np.arange(1.0, 20.01, 0.25)
    residuals = np.array([np.sqrt(np.mean((x - low_pass(x, c)) ** 2)) for c in cutoffs])
    straight = (cutoffs >= 10.0) & (cutoffs <= 20.0)
    slope, intercept = np.polyfit(cutoffs[straight], residuals[straight], 1)
    chosen = float(np.interp(-intercept, -residuals, cutoffs))
    return {"cutoffs_hz": cutoffs.tolist(), "residuals_deg": residuals.tolist(),
            "intercept_deg": float(intercept), "slope_deg_per_hz": float(slope), "cutoff_hz": chosen}


def main() -> None:
    truth = json.load(open(sys.argv[1], encoding="utf-8"))
    times = np.array([s["t"] for s in truth["samples"]])
    turn = np.unwrap([s["thorax_turn"] for s in truth["samples"]], period=360)
    t = np.arange(times[0], times[-1], 1 / FPS)
    clean = np.interp(t, times, turn)
    rng = np.random.default_rng(19790101)
    noisy = clean + rng.normal(0, SIGMA_DEG, len(t))
    q = ACCELERATION_DEG_S2**2 * HELD_S
    cutoff = float((q / (SIGMA_DEG**2 / FPS)) ** 0.25 / (2 * np.pi))
    analysis = residual_analysis(noisy)
    at_top = int(np.argmax(clean))
    out = {
        "made_with": {"scipy": scipy.__version__, "numpy": np.__version__},
        "fps": FPS, "sigma_deg": SIGMA_DEG, "acceleration_deg_s2": ACCELERATION_DEG_S2, "held_s": HELD_S,
        "time_s": t.tolist(), "clean_deg": clean.tolist(), "noisy_deg": noisy.tolist(),
        "equivalent_cutoff_hz": cutoff,
        "butterworth_deg": low_pass(noisy, cutoff).tolist(),
        "winter": analysis,
        # What each cut-off takes off the noiseless curve at the top.
        "top_loss_deg": {
            "winter": float((clean - low_pass(clean, analysis["cutoff_hz"]))[at_top]),
            "equivalent": float((clean - low_pass(clean, cutoff))[at_top]),
        },
    }
    with open(sys.argv[2], "w", encoding="utf-8") as f:
        json.dump(out, f, separators=(",", ":"))
        f.write("\n")
    print("equivalent", cutoff, "winter", out["winter"]["cutoff_hz"], "rms of filtfilt against truth",
          float(np.sqrt(np.mean((low_pass(noisy, cutoff) - clean) ** 2))))


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Reference numbers for tests/agreement, by packages from PyPI.

usage: python3 -m venv v && v/bin/pip install numpy scipy pandas pingouin statsmodels c3d ezc3d
       v/bin/python tests/reference/agreement_reference.py
Writes agreement.json and the C3D files beside this script. Versions are stored with the numbers.
"""
import io, json, os, struct
from importlib.metadata import version

import c3d, ezc3d
import numpy as np
import pandas as pd
import pingouin as pg
import statsmodels.api as sm
from scipy import stats
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d
from scipy.signal import correlate
from scipy.spatial.transform import Rotation
from statsmodels.formula.api import ols

HERE = os.path.dirname(os.path.abspath(__file__))
rng = np.random.default_rng(20)
out = {"versions": {p: version(p) for p in ("numpy", "scipy", "pingouin", "statsmodels", "c3d", "ezc3d")}}


def icc(a, b):
    n = len(a)
    frame = pd.DataFrame({"swing": list(range(n)) * 2, "rater": ["o"] * n + ["s"] * n, "deg": list(a) + list(b)})
    with pd.option_context("display.precision", 12):
        pg.options["round"] = None
        table = pg.intraclass_corr(frame, targets="swing", raters="rater", ratings="deg")
    row = table[table["Type"].isin(["ICC2", "ICC(A,1)"])].iloc[0]
    ci = row[[c for c in table.columns if c.startswith("CI95")][0]]
    return {"a": list(a), "b": list(b), "icc": float(row["ICC"]), "low": float(ci[0]), "high": float(ci[1])}


truth = np.array([85.2, 91.0, 78.4, 95.5, 88.1, 70.3, 99.9, 82.7])
out["icc"] = [
    icc(truth, truth + rng.normal(0, 3, 8).round(2)),
    icc(truth, truth + 4 + rng.normal(0, 1.5, 8).round(2)),
    icc([41.2, 39.0, 50.3], [44.0, 38.1, 47.7]),
]

# Clustered limits: mean squares by statsmodels; the variance of one difference is between + within.
balanced = {f"p{i}": (rng.normal(-2 + 3 * rng.normal(), 1.5, 4)).round(3).tolist() for i in range(6)}
long = pd.DataFrame([(p, v) for p, vs in balanced.items() for v in vs], columns=["player", "d"])
table = sm.stats.anova_lm(ols("d ~ C(player)", data=long).fit())
msb, msw = table["mean_sq"].iloc[0], table["mean_sq"].iloc[1]
sd = float(np.sqrt((msb - msw) / 4 + msw))
bias = float(long["d"].mean())
half = float(stats.t.ppf(0.975, 5) * np.sqrt(msb / 4 / 6))
out["clustered"] = {"groups": list(balanced.values()), "bias": bias, "sd": sd, "low": bias - 1.96 * sd,
                    "high": bias + 1.96 * sd, "bias_low": bias - half, "bias_high": bias + half}

# Simple limits by statsmodels' descriptive statistics.
d = rng.normal(1.3, 2.2, 12).round(3)
s = sm.stats.DescrStatsW(d)
low, high = s.tconfint_mean()
out["simple"] = {"d": d.tolist(), "bias": float(s.mean), "sd": float(np.std(d, ddof=1)), "bias_low": float(low), "bias_high": float(high)}

# Clopper-Pearson.
out["coverage"] = [{"k": k, "n": n, "low": float(i.low), "high": float(i.high)}
                   for k, n in ((17, 20), (0, 6), (9, 9)) for i in [stats.binomtest(k, n).proportion_ci(method="exact")]]


def swing(t):
    """A turn: back, down and through, degrees."""
    knots = [(-1, 0), (0.5, 0), (0.9, 45), (1.3, 88), (1.4, 86), (1.6, -20), (1.9, -85), (2.3, -95), (3.5, -95)]
    from scipy.interpolate import PchipInterpolator
    return PchipInterpolator(*zip(*knots))(t)


# Shift by scipy.signal.correlate at 1 kHz, as a referee for ours.
cases = []
for seed, shift, rate in ((1, 0.2343, 200.0), (2, -0.0771, 120.0)):
    r = np.random.default_rng(seed)
    t_ours = np.arange(0, 2.6, 1 / 60)
    t_sensor = np.arange(0.0, 2.6, 1 / rate)
    ours = swing(t_ours) + r.normal(0, 0.4, t_ours.size)
    sensor = swing(t_sensor) + r.normal(0, 0.8, t_sensor.size)
    grid = np.arange(0, 2.55, 0.001)
    speed = lambda t, v: gaussian_filter1d(CubicSpline(t, v)(grid), 25, order=1)
    a, b = speed(t_ours, ours), speed(t_sensor, sensor)
    lag = (np.argmax(correlate(b, a)) - (len(a) - 1)) * 0.001
    cases.append({"ours_t": t_ours.round(6).tolist(), "ours": ours.round(4).tolist(),
                  "sensor_t": (t_sensor + shift).round(6).tolist(), "sensor": sensor.round(4).tolist(),
                  "made_shift": shift, "scipy_shift": shift + lag})
out["shift"] = cases

# Landmarks carried by segments whose rotations SciPy composes; written by c3d and ezc3d.
n, rate = 40, 100.0
phase = np.linspace(0, 1, n)
angles = {"pelvis": np.c_[45 * np.sin(3 * phase), 8 * phase, 20 - 5 * phase],
          "thorax": np.c_[160 * phase - 20, -12 + 30 * phase, 35 - 10 * phase]}
# Segment frames: x to the left, y to the back, z up; millimetres.
BODY = {"pelvis": {"RASIS": (-120, -90, 0), "LASIS": (120, -90, 0), "RPSIS": (-45, 80, 0), "LPSIS": (45, 80, 0)},
        "thorax": {"IJ": (0, -70, 160), "PX": (0, -95, 0), "C7": (0, 75, 210), "T8": (0, 105, 10)}}
# Wu's thorax axes follow the landmarks; turn the cluster so that its own y is along z.
low = (np.array(BODY["thorax"]["PX"]) + np.array(BODY["thorax"]["T8"])) / 2
up = (np.array(BODY["thorax"]["IJ"]) + np.array(BODY["thorax"]["C7"])) / 2 - low
tilt = Rotation.from_euler("x", np.arctan2(up[1], up[2]))
BODY["thorax"] = {k: tuple(tilt.apply(v)) for k, v in BODY["thorax"].items()}
origin = {"pelvis": (0, 0, 950), "thorax": (0, -60, 1250)}
marks = {}
for seg, a in angles.items():
    r = Rotation.from_euler("ZYX", np.c_[-a[:, 0], a[:, 1], a[:, 2]], degrees=True)
    for label, p in BODY[seg].items():
        marks[label] = r.apply(p) + origin[seg]
seen = np.ones(n, bool); seen[17] = False
out["markers"] = {"rate_hz": rate, "angles": {k: v.tolist() for k, v in angles.items()}, "hidden_frame": 17, "top_s": 0.25}

labels = list(marks)
w = c3d.Writer(point_rate=rate, point_scale=-1.0, point_units="mm ")
w.set_point_labels(labels)
for f in range(n):
    pts = np.array([[*marks[l][f], 0.0 if seen[f] or l != "C7" else -1.0, 0] for l in labels], np.float32)
    w.add_frames([(pts, np.zeros((0, 1)))])
buf = io.BytesIO(); w.write(buf)
open(os.path.join(HERE, "landmarks_by_c3d.c3d"), "wb").write(buf.getvalue())

z = ezc3d.c3d()
z["parameters"]["POINT"]["RATE"]["value"] = [rate]
z["parameters"]["POINT"]["UNITS"]["value"] = ["mm"]
z["parameters"]["POINT"]["LABELS"]["value"] = [f"Player:{l}" for l in labels]
data = np.ones((4, len(labels), n))
for i, l in enumerate(labels):
    data[:3, i] = marks[l].T
data[:3, labels.index("C7"), 17] = np.nan
z["data"]["points"] = data
z.add_event([0.0, 0.25], "General", "Top", "", "", 0, 0) if hasattr(z, "add_event") else None
z.write(os.path.join(HERE, "landmarks_by_ezc3d.c3d"))
json.dump(out, open(os.path.join(HERE, "agreement.json"), "w"), indent=None, separators=(",", ":"))
print({k: (v if k in ("versions", "clustered") else "…") for k, v in out.items()})

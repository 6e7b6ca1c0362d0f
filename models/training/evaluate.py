"""How well a torso network reads turn, one frame at a time: no smoothing, cameras known, one view.

usage: evaluate.py NET.onnx [NET.onnx ...] --clips FOLDER [FOLDER ...] [--every 2] [--jitter SEED]
       evaluate.py NET.onnx [...] --rendered --bodies data/bodies.npz [--bank BANK.npz] [--count 600]
Folders hold clips and NAME_truth.json as the referee writes them. With several networks each is read alike.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Callable, Iterator

import numpy as np
import onnxruntime

Array = np.ndarray
Reader = Callable[[Array], tuple[Array, Array]]
SEGMENTS = ("pelvis", "thorax")
CROP = 256

FLIP = np.diag([-1.0, 1.0, 1.0])


def open_network(path: str) -> Reader:
    """Crop (256,256,3), 0..1, to rotation (2,3,3) and sigma (2,3), on one thread; of a file with two networks, both on their images, the surer counting more."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(path, options, providers=["CPUExecutionProvider"])
    three = any(i.name == "mirrored" for i in session.get_inputs())

    def read(crop: Array) -> tuple[Array, Array]:
        image = np.ascontiguousarray(crop.transpose(2, 0, 1)[None], dtype=np.float32)
        if not three:
            rotation, log_sigma = session.run(["rotation", "log_sigma"], {"image": image})
            return rotation[0], np.exp(log_sigma[0])
        total, logs, weights = np.zeros((2, 3, 3)), np.zeros((2, 3)), np.zeros(2)
        for mirrored in (False, True):
            shown = np.ascontiguousarray(image[..., ::-1]) if mirrored else image
            rotation, log_sigma = (x[0] for x in session.run(["rotation", "log_sigma"], {"image": shown, "mirrored": np.array([mirrored]), "contradicted": np.array([False])}))
            weight = 1 / np.exp(2 * log_sigma).mean(-1)
            total += weight[:, None, None] * (FLIP @ rotation @ FLIP if mirrored else rotation)
            logs += weight[:, None] * log_sigma
            weights += weight
        u, _, v = np.linalg.svd(total)
        u[..., 2] *= np.linalg.det(u @ v)[:, None]
        return u @ v, np.exp(logs / weights[:, None])

    return read


def wrap(degrees: Array | float) -> Any:
    """To -180..180."""
    return (np.asarray(degrees) + 180) % 360 - 180


def turn(world: Array) -> Array:
    """Azimuth of the left-right axis, degrees, + closed, of (..., 3, 3) world rotations."""
    return -np.degrees(np.arctan2(world[..., 1, 0], world[..., 0, 0]))


def turn_sigma(turned: Array, rotation: Array, sigma: Array) -> Array:
    """Standard deviation of turn, degrees, to first order, from sigmas about the turned camera's axes."""
    base = turn(np.swapaxes(turned, -1, -2) @ rotation)
    out = np.zeros(len(rotation))
    step = 1e-3
    for axis in range(3):
        k = np.zeros((3, 3))
        i, j = (axis + 1) % 3, (axis + 2) % 3
        k[i, j], k[j, i] = -step, step
        moved = turn(turned.T @ ((np.eye(3) + k) @ rotation))
        out += (wrap(moved - base) / step * sigma[:, axis]) ** 2
    return np.sqrt(out)


@dataclass
class Rows:
    """One line for every frame and segment."""

    clip: list[str] = field(default_factory=list)
    view: list[str] = field(default_factory=list)
    segment: list[int] = field(default_factory=list)
    when: list[float] = field(default_factory=list)
    at_top: list[bool] = field(default_factory=list)
    truth: list[float] = field(default_factory=list)
    error: list[float] = field(default_factory=list)
    sigma: list[float] = field(default_factory=list)

    def table(self) -> dict[str, Array]:
        return {k: np.array(v) for k, v in self.__dict__.items()}


class Clip:
    """One view of one truth file: frames with their crops and true turns."""

    def __init__(self, truth: dict[str, Any], name: str, folder: Path, jitter: int | None):
        v = truth["views"][name]
        self.path, self.fps, self.start = folder / v["file"], v["fps"], v["starts_at_s"]
        self.size, self.focal = (v["width"], v["height"]), v["focal_px"]
        back = np.array(v["camera_to_world"])
        # columns right, up, back; the network's camera has x right, y down, z forward
        self.rows = np.stack((back[:, 0], -back[:, 1], -back[:, 2]))
        self.eye = np.array(v["camera_position_m"])
        self.events, self.samples = truth["events"], truth["samples"]
        self.lefty = truth["handedness"] == "left"
        self.rng = None if jitter is None else np.random.default_rng(jitter)

    def at(self, t: float) -> dict[str, Any]:
        """The truth nearest to a time."""
        return self.samples[min(max(round(t * 240), 0), len(self.samples) - 1)]

    def crop_square(self, joints: dict[str, list[float]]) -> tuple[Array, float]:
        """The crop rule on the true joints: centre and side in pixels; the head is set above the shoulders."""
        p = {k: np.array(x) for k, x in joints.items()}
        shoulders = 0.5 * (p["shoulder_lead"] + p["shoulder_trail"])
        hips = 0.5 * (p["hip_lead"] + p["hip_trail"])
        spine = shoulders - hips
        head = shoulders + spine / np.linalg.norm(spine) * 0.30
        points = np.stack((p["hip_lead"], p["hip_trail"], head, p["ankle_lead"], p["ankle_trail"]))
        c = (points - self.eye) @ self.rows.T
        flat = c[:, :2] / c[:, 2:] * self.focal + np.array(self.size) / 2
        centre = flat[:2].mean(0)
        side = 2.5 * np.linalg.norm(flat[2:] - centre, axis=1).max()
        if self.rng is not None:
            centre = centre + side * self.rng.uniform(-0.06, 0.06, 2)
            side = side * np.exp(self.rng.uniform(-0.12, 0.12))
        return centre, float(side)

    def frames(self, every: int) -> Iterator[tuple[float, Array, Array, dict[str, Any]]]:
        """Time, crop, turned camera (world to it) and truth, from address to finish; always a frame at the top."""
        import cv2

        capture = cv2.VideoCapture(str(self.path))
        top = round((self.events_at("top") - self.start) * self.fps)
        i = -1
        while True:
            ok, frame = capture.read()
            i += 1
            if not ok:
                break
            t = self.start + i / self.fps
            if not self.events_at("addr") <= t <= self.events_at("fin") or (i % every and i != top):
                continue
            truth = self.at(t)
            centre, side = self.crop_square(truth["joints"])
            scale = CROP / side
            m = np.array([[scale, 0, CROP / 2 - centre[0] * scale], [0, scale, CROP / 2 - centre[1] * scale]])
            # shrink in two steps so that no pixel is left out
            half = cv2.resize(frame, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) if scale < 0.5 else frame
            if scale < 0.5:
                m[:, :2] *= 2
            crop = cv2.warpAffine(half, m, (CROP, CROP), flags=cv2.INTER_LINEAR)[:, :, ::-1] / 255.0
            yield t, crop, self.turned(centre), truth
        capture.release()

    def events_at(self, name: str) -> float:
        return float(self.events.get(name, self.events.get("t_" + name)))

    def turned(self, centre: Array) -> Array:
        """World to the camera turned to look through the crop's centre."""
        ray = np.append((centre - np.array(self.size) / 2) / self.focal, 1.0)
        ray /= np.linalg.norm(ray)
        x = np.array([1.0, 0, 0]) - ray[0] * ray
        x /= np.linalg.norm(x)
        return np.stack((x, np.cross(ray, x), ray)) @ self.rows


def read_clips(networks: dict[str, Reader], folders: list[str], every: int, jitter: int | None) -> dict[str, Rows]:
    """All clips of some folders through all networks."""
    out = {name: Rows() for name in networks}
    for folder in folders:
        for path in sorted(Path(folder).glob("*_truth.json")):
            truth = json.loads(path.read_text())
            for view in truth["views"]:
                clip = Clip(truth, view, Path(folder), jitter)
                top = clip.events_at("top")
                for t, crop, turned, true in clip.frames(every):
                    for name, read in networks.items():
                        rotation, sigma = read(crop)
                        world = turned.T @ rotation
                        turns = turn(world)
                        if clip.lefty:
                            turns = -turns
                        spread = turn_sigma(turned, rotation, sigma)
                        for s, segment in enumerate(SEGMENTS):
                            rows = out[name]
                            rows.clip.append(path.name[:-len("_truth.json")])
                            rows.view.append(view)
                            rows.segment.append(s)
                            rows.when.append(t)
                            rows.at_top.append(abs(t - top) <= 0.5 / clip.fps + 1e-9)
                            rows.truth.append(true[segment + "_turn"])
                            rows.error.append(float(wrap(turns[s] - true[segment + "_turn"])))
                            rows.sigma.append(float(spread[s]))
    return out


def read_rendered(networks: dict[str, Reader], bodies: str, bank: str | None, count: int, seed: int = 5) -> dict[str, Rows]:
    """Held-out bodies of the training renderer, both roles, with everything that spoils pictures."""
    import torch

    from export import BODIES, HELD_OUT
    from draw import Draw
    from poses import draw_poses
    from renderer import Renderer

    out = {name: Rows() for name in networks}
    renderer, generator = Renderer(bodies, bank, "cpu"), torch.Generator().manual_seed(seed)
    for view, azimuth in (("face_on", 0.0), ("down_the_line", -90.0)):
        for _ in range(count // 25):
            pose = draw_poses(25, HELD_OUT, BODIES, "cpu", generator, blend=False)
            d = Draw(25, "cpu", generator)
            batch = renderer.render(renderer.skeleton.pose(pose), renderer.wardrobe.dress(d, pose.mix, pose.stretch), generator, azimuth + d.uniform(-12, 12))
            # half of the pictures are mirrored: their turns are read in the mirrored world
            for i in range(25):
                turned, true = batch.turned[i].numpy(), batch.rotation[i].numpy()
                crop = batch.image[i].permute(1, 2, 0).numpy()
                for name, read in networks.items():
                    rotation, sigma = read(crop)
                    spread = turn_sigma(turned, rotation, sigma)
                    for s in range(2):
                        was = float(turn(turned.T @ true[s]))
                        rows = out[name]
                        rows.clip.append("rendered")
                        rows.view.append(view)
                        rows.segment.append(s)
                        rows.when.append(0.0)
                        rows.at_top.append(abs(was) > 70)
                        rows.truth.append(was)
                        rows.error.append(float(wrap(turn(turned.T @ rotation[s]) - was)))
                        rows.sigma.append(float(spread[s]))
    return out


def slope(truth: Array, error: Array) -> float:
    """Slope of read against true turn."""
    return float(np.polyfit(truth, truth + error, 1)[0]) if len(truth) > 2 else float("nan")


def report(name: str, rows: Rows, clips: bool) -> None:
    """Print the table of one network."""
    t = rows.table()
    print(name)
    for view in ("face_on", "down_the_line"):
        for s, segment in enumerate(SEGMENTS):
            m = (t["view"] == view) & (t["segment"] == s)
            top = m & t["at_top"]
            e, inside = np.abs(t["error"][m]), np.abs(t["error"][m]) <= 1.96 * t["sigma"][m]
            at, inside_top = np.abs(t["error"][top]), np.abs(t["error"][top]) <= 1.96 * t["sigma"][top]
            print(f"  {view:14s} {segment}: mean {e.mean():5.2f} median {np.median(e):5.2f} p95 {np.percentile(e, 95):5.1f} bias {t['error'][m].mean():+5.2f} "
                  f"inside {inside.mean() * 100:5.1f}% sigma {np.median(t['sigma'][m]):4.1f} | {'top' if clips else 'large turns'} "
                  f"mean {at.mean():5.2f} worst {at.max():5.1f} slope {slope(t['truth'][top], t['error'][top]):.3f} inside {inside_top.mean() * 100:5.1f}% (n {len(e)}, {len(at)})")


def from_address(rows: Rows) -> None:
    """Print the error at the top less the error at address (first frame), both views and their plain average."""
    t = rows.table()
    per: dict[tuple[str, int], dict[str, float]] = {}
    for clip in np.unique(t["clip"]):
        for s in range(2):
            for view in np.unique(t["view"]):
                m = (t["clip"] == clip) & (t["segment"] == s) & (t["view"] == view)
                if (m & t["at_top"]).any():
                    first = t["error"][m][np.argsort(t["when"][m])[:3]].mean()
                    per.setdefault((str(clip), s), {})[str(view)] = float(t["error"][m & t["at_top"]].mean() - first)
    values = {v: np.array([p[v] for p in per.values() if v in p]) for v in ("face_on", "down_the_line")}
    both = np.array([np.mean(list(p.values())) for p in per.values() if len(p) == 2])
    for label, x in (*values.items(), ("average of the two", both)):
        print(f"  from address at the top, {label}: mean {np.abs(x).mean():.2f} worst {np.abs(x).max():.1f} bias {x.mean():+.2f} (n {len(x)})")


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("networks", nargs="+")
    p.add_argument("--clips", nargs="*", default=[])
    p.add_argument("--every", type=int, default=2)
    p.add_argument("--jitter", type=int, default=None)
    p.add_argument("--rendered", action="store_true")
    p.add_argument("--bodies", default="data/bodies.npz")
    p.add_argument("--bank", default=None)
    p.add_argument("--count", type=int, default=600)
    p.add_argument("--by-clip", action="store_true", help="also the error at the top of every clip")
    a = p.parse_args()
    networks = {path: open_network(path) for path in a.networks}
    if a.clips:
        for name, rows in read_clips(networks, a.clips, a.every, a.jitter).items():
            report(name, rows, True)
            from_address(rows)
            if a.by_clip:
                t = rows.table()
                for clip in np.unique(t["clip"]):
                    m = (t["clip"] == clip) & t["at_top"]
                    print("   ", clip, [(str(v)[0], SEGMENTS[s][0], round(float(e), 1), round(float(g), 1)) for v, s, e, g in zip(t["view"][m], t["segment"][m], t["error"][m], t["sigma"][m])])
    if a.rendered:
        for name, rows in read_rendered(networks, a.bodies, a.bank, a.count).items():
            report(name, rows, False)


if __name__ == "__main__":
    main()

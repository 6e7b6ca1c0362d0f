"""Small golfers in wide pictures: 150 to 250 px of them in up to 3840 x 2160, on each of the ten places.

usage: far_clips.py BODIES_FOLDER OUT_FOLDER [COUNT]
Takes are drawn at random with a seed of their own, always the same ones; no body, outfit or camera is in another set. The camera
stands still, so the place is rendered once and of each frame only the part round the golfer. Beside NAME.mp4 stands
NAME_places.json: for each frame the middle of the hips, the box round the skin (px) and the height from top to sole (px).
PROCESSES, FFMPEG and PYOPENGL_PLATFORM as for make_clips.py.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np

from draw_configs import KINDS, small_view
from draw_swings import draw_swing
from lens import camera
from places import PLACES
from take import Take
from turning import Array

FFMPEG = os.environ.get("FFMPEG", "ffmpeg")
SEED = 37
SIZES = ([1280, 720], [1920, 1080], [2560, 1440], [3840, 2160])
MARGIN = 24     # px of place rendered again round everything that moves


def draw(i: int) -> dict[str, Any]:
    """The i-th take: places in turn, each with every size."""
    rng = np.random.default_rng([SEED, i])
    place, size = list(PLACES)[i % len(PLACES)], SIZES[(i // len(PLACES) + i) % len(SIZES)]
    role = ("face_on", "down_the_line")[(i // 2 + i) % 2]
    view = {**small_view(role, rng, size), "fps": 30, "start": 0.0}
    kind = KINDS[i % len(KINDS)]
    return dict(name=f"far-{i + 1:02d}", set="far", body=f"d{SEED * 1000 + i}", scene=SEED * 1000 + i, size=size, place=place, lefty=i % 5 == 2,
                kind=kind, white=place == "white", views={role: view}, swing=draw_swing(kind, rng))


def project(k: Array, m: Array, points: Array) -> Array:
    """Pixels of points in the world."""
    p = (points - m[:3, 3]) @ m[:3, :3]
    return np.stack((k[0, 2] - k[0, 0] * p[:, 0] / p[:, 2], k[1, 2] + k[1, 1] * p[:, 1] / p[:, 2]), 1)


def render(job: tuple[str, dict[str, Any], Path]) -> str:
    """One clip with the golfer's places."""
    bodies, config, folder = job
    (role, view), name, (width, height) = next(iter(config["views"].items())), config["name"], config["size"]
    if (folder / f"{name}_places.json").exists():
        return ""
    from headless import pyrender

    from scene import Scene

    take = Take(bodies, config)
    times, (k, m) = take.frame_times(view), camera(width, height, view)
    poses = [take.pose(t) for t in times]
    hull = [project(k, m, np.vstack((p.skin, p.wrists + np.outer((0, 1.3), p.shaft)))) for p in poses]
    low = np.floor(np.min([h.min(0) for h in hull], 0) - MARGIN).astype(int).clip(0)
    high = np.ceil(np.max([h.max(0) for h in hull], 0) + MARGIN).astype(int).clip(None, (width, height))
    (x, y), (w, h) = low, high - low
    scene = Scene(take)
    whole, part = pyrender.OffscreenRenderer(width, height), None
    place = scene.shoot(whole, k, m).astype(np.int16)
    whole.delete()
    part = pyrender.OffscreenRenderer(int(w), int(h))
    near = k.copy()
    near[:2, 2] -= low
    rng = np.random.default_rng([config["scene"], 5])
    grain = (rng.standard_normal((512, 512, 3)) * view["noise"]).astype(np.int16)
    grain = np.tile(grain, (-(-height // 512) + 1, -(-width // 512) + 1, 1))
    encoder = subprocess.Popen(
        [FFMPEG, "-y", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}", "-r", str(view["fps"]), "-i", "-",
         "-c:v", "libx264", "-threads", "2", "-crf", str(view["crf"]), "-preset", "veryfast", "-pix_fmt", "yuv420p", str(folder / f"{name}.mp4")],
        stdin=subprocess.PIPE)
    places = []
    for t, pose, seen in zip(times, poses, hull):
        scene.set(t)
        picture = place.copy()
        picture[y:y + h, x:x + w] = scene.shoot(part, near, m)
        dx, dy = rng.integers(0, 511, 2)
        picture = np.clip(picture * view["exposure"] + grain[dy:dy + height, dx:dx + width], 0, 255).astype(np.uint8)
        encoder.stdin.write(np.ascontiguousarray(picture[:, ::-1] if config["lefty"] else picture).tobytes())
        skin = seen[:-2]
        hips = project(k, m, np.array([pose.truth["joints"]["hip_l"], pose.truth["joints"]["hip_r"]])).mean(0)
        box = [*skin.min(0), *skin.max(0)]
        if config["lefty"]:
            hips[0], box[0], box[2] = width - hips[0], width - box[2], width - box[0]
        places.append(dict(t=round(float(t), 6), hips=[round(float(v), 1) for v in hips], box=[round(float(v), 1) for v in box]))
    encoder.stdin.close()
    part.delete()
    if encoder.wait():
        raise RuntimeError(f"{FFMPEG} failed on {name}")
    # The stature stands for the height: a golfer who bends is no smaller.
    ends = project(k, m, np.array([[0, -0.1, 0], [0, -0.1, float(np.ptp(take.golfer.vertices[:, 2]))]]))
    about = dict(place=config["place"], size=config["size"], role=role, tall_px=round(float(abs(ends[0, 1] - ends[1, 1])), 1), fps=view["fps"], frames=places)
    (folder / f"{name}_places.json").write_text(json.dumps(about, separators=(",", ":")))
    return f"{name} {config['place']} {width}x{height} {about['tall_px']:.0f} px"


def main(bodies: str, out: str, count: int = 40) -> None:
    """Every take, in order."""
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    jobs = [(bodies, draw(i), folder) for i in range(count)]
    with multiprocessing.get_context("spawn").Pool(int(os.environ.get("PROCESSES", os.cpu_count() or 1))) as pool:
        for line in pool.imap_unordered(render, jobs, chunksize=1):
            print(line, flush=True) if line else None


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], *(int(x) for x in sys.argv[3:4]))

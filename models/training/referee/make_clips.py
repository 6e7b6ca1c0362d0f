"""Render takes to pairs of phone-like clips with exact truth.

usage: make_clips.py BODIES_FOLDER OUT_FOLDER CONFIG.json [CONFIG.json ...]
One process a take, PROCESSES at once (as many as there are cores unless set); takes whose truth is there already are left
alone, and none is begun after SECONDS (no limit unless set). PICTURES=no writes truths alone, TRUTH_RATE
samples a second (240 unless set). ffmpeg encodes (FFMPEG names another binary). PYOPENGL_PLATFORM picks egl (usual) or
osmesa; with egl the processes share the cards that GPUS counts.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

import sound
from lens import camera
from take import Take
from turning import rz

FFMPEG = os.environ.get("FFMPEG", "ffmpeg")
TRUTH_RATE = int(os.environ.get("TRUTH_RATE", "240"))


def render(take: Take, name: str, folder: Path) -> None:
    """One clip with its sound."""
    from headless import pyrender

    from scene import Scene

    config = take.config
    view, (width, height), seed = config["views"][name], config.get("size", [540, 960]), config.get("scene", 0)
    times = take.frame_times(view)
    path = folder / f"{config['name']}_{name}.mp4"
    track = path.with_suffix(".wav")
    away = float(np.linalg.norm(np.array(view["eye"]) - [0, -0.8, 0])) / sound.SPEED
    struck = [take.on_clip(s["imp"]) - times[0] + away for s in take.swings if s["ball"] and config.get("strike", True)]
    sound.write(track, len(times) / view["fps"], struck, seed + 77)
    scene, renderer = Scene(take), pyrender.OffscreenRenderer(width, height)
    k, still = camera(width, height, view)
    phase = np.random.default_rng([seed, len(name)]).uniform(0, 6, 4)
    shake = view.get("wobble", 0.0)
    encoder = subprocess.Popen(
        [FFMPEG, "-y", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}",
         "-r", str(view["fps"]), "-i", "-", "-i", str(track), "-c:v", "libx264", "-threads", "1", "-crf", str(view.get("crf", 24)),
         "-preset", "medium", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "64k", "-shortest", str(path)],
        stdin=subprocess.PIPE)
    for i, t in enumerate(times):
        m = still.copy()
        scene.set(t)
        m[:3, 3] += shake * np.sin(2 * np.pi * np.array([0.7, 0.9, 1.1]) * t + phase[:3])
        m[:3, :3] = m[:3, :3] @ rz(shake * 0.5 * np.sin(2 * np.pi * 0.5 * t + phase[3]))
        noise = np.random.default_rng([seed, i]).standard_normal((height, width, 3), np.float32) * view.get("noise", 4)
        image = np.clip(scene.shoot(renderer, k, m) * view.get("exposure", 1.0) + noise, 0, 255).astype(np.uint8)
        encoder.stdin.write(np.ascontiguousarray(image[:, ::-1] if config.get("lefty") else image).tobytes())
    encoder.stdin.close()
    renderer.delete()
    track.unlink()
    if encoder.wait():
        raise RuntimeError(f"{FFMPEG} failed on {path.name}")


def truth(take: Take) -> dict[str, Any]:
    """Everything that is known of one take, sampled at 240 Hz."""
    config = take.config
    mirrored = bool(config.get("lefty", False))
    sign, samples = (-1 if mirrored else 1), []
    for i in range(int(take.end * TRUTH_RATE) + 1):
        t = i / TRUTH_RATE
        s = take.pose(t, dressed=False).truth
        names = {j: j.replace("_l", "_lead").replace("_r", "_trail") for j in s["joints"]}
        joints = {names[j]: [round(float(v), 4) for v in p * [sign, 1, 1]] for j, p in s["joints"].items()}
        angles = {f"{seg}_{a}": round(v, 3) for seg in ("pelvis", "thorax") for a, v in zip(("turn", "side", "fwd"), s[seg])}
        samples.append(dict(t=round(t, 6), **angles, shoulder_line_turn=round(s["shoulder_line_turn"], 3),
                            knee_lead_flexion=round(s["knee_lead"], 3), knee_trail_flexion=round(s["knee_trail"], 3), joints=joints))
    width, height = config.get("size", [540, 960])
    views = {}
    for name, view in config["views"].items():
        k, m = camera(width, height, view)
        if mirrored:
            flip = np.diag([-1.0, 1, 1])
            m[:3, :3], m[0, 3] = flip @ m[:3, :3] @ flip, -m[0, 3]
        views[name] = dict(
            file=f"{config['name']}_{name}.mp4", fps=view["fps"], starts_at_s=float(take.frame_times(view)[0]), width=width,
            height=height, focal_px=float(k[0, 0]), camera_position_m=m[:3, 3].tolist(),
            camera_to_world=m[:3, :3].tolist(), rotation_metadata_deg=0)
    return dict(config=config, handedness="left" if mirrored else "right", stature_m=float(np.ptp(take.golfer.vertices[:, 2])),
                events=take.events(take.real) if take.real else {},
                swings=[dict(ball=s["ball"], **take.events(s)) for s in take.swings], rests=take.rests, views=views, samples=samples)


def make(job: tuple[str, dict[str, Any], Path, float]) -> str:
    """One take; its truth comes last, so that a truth file means that all is there."""
    bodies, config, folder, until = job
    if (folder / f"{config['name']}_truth.json").exists() or time.time() > until:
        return ""
    if "GPUS" in os.environ:
        os.environ["EGL_DEVICE_ID"] = str(os.getpid() % int(os.environ["GPUS"]))
    begun, take = time.time(), Take(bodies, config)
    for name in config["views"] if os.environ.get("PICTURES") != "no" else ():
        render(take, name, folder)
    part = folder / f"{config['name']}_truth.part"
    part.write_text(json.dumps(truth(take), separators=(",", ":")))
    part.rename(part.with_suffix(".json"))
    return f"{config['name']} {time.time() - begun:.0f} s"


def main(bodies: str, out: str, configs: list[str]) -> None:
    """Make every take, in the order given."""
    folder, until = Path(out), time.time() + float(os.environ.get("SECONDS", "inf"))
    folder.mkdir(parents=True, exist_ok=True)
    jobs = [(bodies, json.loads(Path(c).read_text()), folder, until) for c in configs]
    with multiprocessing.get_context("spawn").Pool(int(os.environ.get("PROCESSES", os.cpu_count() or 1))) as pool:
        for line in pool.imap_unordered(make, jobs, chunksize=1):
            print(line, flush=True) if line else None


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3:])

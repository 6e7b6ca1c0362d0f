"""Render swings to pairs of phone-like clips with exact truth.

usage: make_clips.py BODIES_FOLDER OUT_FOLDER CONFIG.json [CONFIG.json ...]
Frames are rendered by several processes (PROCESSES, as many as there are cores unless set) and encoded
by ffmpeg (FFMPEG names another binary). PYOPENGL_PLATFORM picks egl (usual) or osmesa.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
import wave
from pathlib import Path
from typing import Any

import numpy as np

from golfer import Array, Golfer, rz, swing
from lens import camera

FFMPEG = os.environ.get("FFMPEG", "ffmpeg")
RATE = 48000
SOUND = 343.0
TRUTH_RATE = 240


def load_golfer(bodies: str, config: dict[str, Any]) -> Golfer:
    """The golfer of a configuration; `body` is b0 to b55, or r0 to r15 of the referee's own."""
    z = np.load(Path(bodies) / {"b": "bodies.npz", "r": "referee_bodies.npz"}[config["body"][0]])
    i = int(config["body"][1:])
    body = {k: z[k] for k in ("labels", "parents", "w", "wi", "f")}
    return Golfer({**body, "V": z["V"][i], "H": z["H"][i]}, swing(config.get("swing")))


def strike(frames: int, hit_s: float, rng: np.random.Generator) -> Array:
    """Quiet noise with one short ringing knock, 16 bit."""
    x = rng.normal(0, 0.004, frames)
    k = np.arange(int(0.02 * RATE))
    knock = np.exp(-k / (0.0025 * RATE)) * np.sin(2 * np.pi * 3200 * k / RATE) * 0.8
    i = int(hit_s * RATE)
    if 0 <= i < frames:
        m = min(len(knock), frames - i)
        x[i:i + m] += knock[:m]
    return (np.clip(x, -1, 1) * 32767).astype(np.int16)


def frame_times(config: dict[str, Any], view: dict[str, Any]) -> Array:
    """The time of every frame on the truth's clock."""
    start = view.get("start", 0.0)
    end = swing(config.get("swing"))["t_end"]
    return start + np.arange(int((min(view.get("end", end), end) - start) * view["fps"])) / view["fps"]


def render_chunk(job: tuple[str, dict[str, Any], str, int, int]) -> bytes:
    """Frames first..last of one view, raw RGB."""
    import pyrender

    from scene import Scene

    bodies, config, name, first, last = job
    view = config["views"][name]
    width, height = config.get("size", [540, 960])
    seed = config.get("scene", 0)
    scene = Scene(load_golfer(bodies, config), seed, config.get("indoor", False), config.get("club", 0.9))
    renderer = pyrender.OffscreenRenderer(width, height)
    k, still = camera(width, height, view)
    phase = np.random.default_rng([seed, len(name)]).uniform(0, 6, 4)
    shake = view.get("wobble", 0.0)
    times, out = frame_times(config, view), []
    for i in range(first, last):
        t, m = times[i], still.copy()
        scene.set(t)
        m[:3, 3] += shake * np.sin(2 * np.pi * np.array([0.7, 0.9, 1.1]) * t + phase[:3])
        m[:3, :3] = m[:3, :3] @ rz(shake * 0.5 * np.sin(2 * np.pi * 0.5 * t + phase[3]))
        noise = np.random.default_rng(i + 1000 * seed).normal(0, view.get("noise", 4), (height, width, 3))
        image = np.clip(scene.shoot(renderer, k, m) + noise, 0, 255).astype(np.uint8)
        out.append(np.ascontiguousarray(image[:, ::-1] if config.get("lefty") else image).tobytes())
    renderer.delete()
    return b"".join(out)


def encode(frames: bytes, config: dict[str, Any], name: str, folder: Path) -> str:
    """Write one clip with its sound; gives its file name."""
    view = config["views"][name]
    width, height = config.get("size", [540, 960])
    times = frame_times(config, view)
    path = folder / f"{config['name']}_{name}.mp4"
    sound = path.with_suffix(".wav")
    away = float(np.linalg.norm(np.array(view["eye"]) - [0, -0.8, 0]))
    hit = swing(config.get("swing"))["t_imp"] - times[0] + away / SOUND
    rng = np.random.default_rng(config.get("scene", 0) + 77)
    with wave.open(str(sound), "wb") as w:
        w.setparams((1, 2, RATE, 0, "NONE", ""))
        w.writeframes(strike(int(len(times) / view["fps"] * RATE), hit, rng).tobytes())
    subprocess.run(
        [FFMPEG, "-y", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}",
         "-r", str(view["fps"]), "-i", "-", "-i", str(sound), "-c:v", "libx264", "-crf", str(view.get("crf", 24)),
         "-preset", "medium", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "64k", "-shortest", str(path)],
        input=frames, check=True)
    sound.unlink()
    return path.name


def truth(bodies: str, config: dict[str, Any]) -> dict[str, Any]:
    """Everything that is known of one swing, sampled at 240 Hz."""
    golfer = load_golfer(bodies, config)
    mirrored = bool(config.get("lefty", False))
    sign = -1 if mirrored else 1
    samples = []
    for i in range(int(golfer.swing["t_end"] * TRUTH_RATE) + 1):
        t = i / TRUTH_RATE
        s = golfer.pose(t)[1]
        names = {j: j.replace("_l", "_lead").replace("_r", "_trail") for j in s["joints"]}
        joints = {names[j]: [round(float(v), 5) for v in p * [sign, 1, 1]] for j, p in s["joints"].items()}
        angles = {f"{seg}_{a}": v for seg in ("pelvis", "thorax") for a, v in zip(("turn", "side", "fwd"), s[seg])}
        samples.append(dict(t=round(t, 6), **angles, shoulder_line_turn=s["shoulder_line_turn"],
                            knee_lead_flexion=s["knee_lead"], knee_trail_flexion=s["knee_trail"], joints=joints))
    width, height = config.get("size", [540, 960])
    views = {}
    for name, view in config["views"].items():
        k, m = camera(width, height, view)
        if mirrored:
            flip = np.diag([-1.0, 1, 1])
            m[:3, :3], m[0, 3] = flip @ m[:3, :3] @ flip, -m[0, 3]
        views[name] = dict(
            file=f"{config['name']}_{name}.mp4", fps=view["fps"], starts_at_s=view.get("start", 0.0), width=width,
            height=height, focal_px=float(k[0, 0]), camera_position_m=m[:3, 3].tolist(),
            camera_to_world=m[:3, :3].tolist(), rotation_metadata_deg=0)
    return dict(config=config, handedness="left" if mirrored else "right", stature_m=float(np.ptp(golfer.vertices[:, 2])),
                events={e: golfer.swing["t_" + e] for e in ("addr", "top", "imp", "fin")}, views=views, samples=samples)


def write_truth(job: tuple[str, dict[str, Any], Path]) -> None:
    """One process's share of the truth files."""
    bodies, config, folder = job
    (folder / f"{config['name']}_truth.json").write_text(json.dumps(truth(bodies, config)))


def main(bodies: str, out: str, configs: list[str], step: int = 30) -> None:
    """Render every configuration."""
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    swings = [json.loads(Path(c).read_text()) for c in configs]
    jobs, owners = [], []
    for config in swings:
        for name, view in config["views"].items():
            n = len(frame_times(config, view))
            for a in range(0, n, step):
                jobs.append((bodies, config, name, a, min(n, a + step)))
                owners.append((config["name"], name))
    context = multiprocessing.get_context("spawn")
    with context.Pool(int(os.environ.get("PROCESSES", os.cpu_count() or 1))) as pool:
        truths = pool.map_async(write_truth, [(bodies, c, folder) for c in swings])
        frames: dict[tuple[str, str], list[bytes]] = {}
        by_name = {c["name"]: c for c in swings}
        for job_number, (owner, chunk) in enumerate(zip(owners, pool.imap(render_chunk, jobs))):
            frames.setdefault(owner, []).append(chunk)
            if job_number + 1 == len(owners) or owners[job_number + 1] != owner:
                file = encode(b"".join(frames.pop(owner)), by_name[owner[0]], owner[1], folder)
                print(file, (folder / file).stat().st_size, flush=True)
        truths.get()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], sys.argv[3:])

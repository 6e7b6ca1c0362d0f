"""What was seen of simulated swings as small numbers, and back to tracks and truth."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any, Callable, Sequence

import numpy as np

from simulate_film import Film, Shot
from simulate_look import BOTH, PLAIN, Looks
from simulate_plan import ROLES, SETS, SOUND_M_S, Plan, View, events_of

Array = np.ndarray
POINTS = (0, 1, 6, 7, 22, 23)                                         # of the torso network's, what measuring uses
LANDMARKS = (0, 11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28, 31, 32)
WORLD = (11, 12, 23, 24, 25, 26, 27, 28)
STEP = 2.0**14                          # steps of a place in sides of the rendered picture
MIRROR = np.diag([-1.0, 1.0, 1.0])
SETS_IN_ORDER = tuple(SETS)


def short(x: Any, step: float) -> Array:
    """Two-byte numbers."""
    return np.clip(np.round(np.asarray(x.detach().cpu() if hasattr(x, "detach") else x, np.float64) * step), -32767, 32767).astype(np.int16)


def byte(x: Any, low: float, high: float) -> Array:
    """One-byte numbers."""
    v = np.asarray(x.detach().cpu(), np.float64)
    return np.clip(np.round((v - low) / (high - low) * 255), 0, 255).astype(np.uint8)


def wide(x: Array, low: float, high: float) -> Array:
    """The reverse."""
    return low + x.astype(np.float64) / 255 * (high - low)


def vector_of(r: Array) -> Array:
    """Rotation vectors of matrices (..., 3, 3)."""
    from scipy.spatial.transform import Rotation

    return Rotation.from_matrix(r.reshape(-1, 3, 3)).as_rotvec().reshape(*r.shape[:-2], 3)


def matrix_of(v: Array) -> Array:
    """The reverse."""
    from scipy.spatial.transform import Rotation

    return Rotation.from_rotvec(v.reshape(-1, 3)).as_matrix().reshape(*v.shape[:-1], 3, 3)


def pack(shots: list[Shot], film: Film, looks: Looks) -> dict[str, Array]:
    """One row a moment; places against the rendered picture's middle, in its sides."""
    side = film.side[:, None, None]

    def place(p: Any) -> Array:
        return short((p - film.centre[:, None]) / side, STEP)

    who = np.concatenate([np.repeat([[SETS_IN_ORDER.index(s.plan.group), int(s.plan.student.rsplit("-", 1)[1]), "ab".find(s.plan.name[-1]),
                                      ROLES.index(s.view.role)]], len(s.view.frames), 0) for s in shots]).astype(np.int16)
    return dict(
        who=who, frame=np.concatenate([s.view.frames for s in shots]).astype(np.int16),
        middle=film.centre.cpu().numpy().astype(np.float32), side=film.side.cpu().numpy().astype(np.float32),
        region=np.concatenate((place(looks.region[:, None, :2])[:, 0], short(looks.region[:, 2:3] / side[:, 0], STEP), short(looks.region[:, 3:4], 1e4)), 1),
        crop=np.concatenate((place(looks.crop[:, None, :2])[:, 0], short(looks.crop[:, 2:3] / side[:, 0], STEP)), 1),
        landmarks=place(looks.landmarks[:, LANDMARKS, :2]), seen=byte(looks.landmarks[:, LANDMARKS, 2:], 0, 1),
        world=short(looks.world[:, WORLD], 1e4), presence=byte(looks.presence, 0, 1), images=looks.images.cpu().numpy().astype(np.uint8),
        rotation=short(vector_of(looks.rotation.double().cpu().numpy()), 1e4), log_sigma=byte(looks.log_sigma, -5.0, 1.0),
        points=place(looks.points[:, POINTS]), log_scale=byte(looks.log_scale[:, POINTS] - film.side.log()[:, None, None], -10.0, -1.0),
        knees=short(film.knees, 100), shoulders=short(film.shoulders, 100))


def unpack(folder: Path, path: str, student: Callable[[str, int], list[Plan]], shifts: tuple[Sequence[float], Sequence[float]]) -> None:
    """Tracks and truths of one film."""
    z = dict(np.load(path))
    who = z["who"]
    swings, start = np.unique(who[:, :3], axis=0, return_inverse=True)
    start = start.ravel()
    shift = np.array([shifts[0], shifts[1], np.mean(shifts, 0)]).reshape(3, 2, 3)
    for k, (group, number, letter) in enumerate(swings.tolist()):
        plans = student(SETS_IN_ORDER[group], number)
        plan = plans[max(letter, 0)]
        out = folder / plan.group
        for sub in ("tracks", "truth"):
            (out / sub).mkdir(parents=True, exist_ok=True)
        own = np.flatnonzero(start == k)
        by_role = {v.role: own[who[own, 3] == ROLES.index(v.role)] for v in plan.views}
        for v in plan.views:
            rows = {name: z[name][by_role[v.role]] for name in z if name not in ("who", "characters")}
            (out / "tracks" / f"{plan.name}_{v.role}.json").write_text(json.dumps(track(plan, v, rows, shift), separators=(",", ":")))
        joints = {name: (np.concatenate([v.time_s(z["frame"][by_role[v.role]]) for v in plan.views]), np.concatenate([z[name][by_role[v.role]] for v in plan.views]) / 100)
                  for name in ("knees", "shoulders")}
        (out / "truth" / f"{plan.name}_truth.json").write_text(json.dumps(truth(plan, joints), separators=(",", ":")))


def _places(x: Array, rows: dict[str, Array]) -> Array:
    """Pixels of the frame."""
    return rows["middle"][:, None].astype(float) + x / STEP * rows["side"][:, None, None]


def track(plan: Plan, v: View, rows: dict[str, Array], shift: Array) -> dict[str, Any]:
    """One view as `observe` writes it."""
    side = rows["side"].astype(float)
    region = np.concatenate((_places(rows["region"][:, None, :2], rows)[:, 0], (rows["region"][:, 2] / STEP * side)[:, None], rows["region"][:, 3:] / 1e4), 1)
    crop = np.concatenate((_places(rows["crop"][:, None, :2], rows)[:, 0], (rows["crop"][:, 2] / STEP * side)[:, None]), 1)
    marks, seen = _places(rows["landmarks"], rows), wide(rows["seen"], 0, 1)
    points = _places(rows["points"], rows)
    scale = np.exp(wide(rows["log_scale"], -10.0, -1.0)) * side[:, None, None]
    rotation, sigma = matrix_of(rows["rotation"] / 1e4), wide(rows["log_sigma"], -5.0, 1.0)
    at = {int(f): i for i, f in enumerate(rows["frame"])}
    observations = []
    for f in range(v.count):
        o: dict[str, Any] = dict(index=f, time_s=round(f / v.fps, 6), person=None, repeated=f not in at)
        i = at.get(f)
        if i is not None and rows["presence"][i] >= 128:
            nobody = dict(x_px=0.0, y_px=0.0, visibility=0.0, presence=0.0)
            landmarks, world = [dict(nobody) for _ in range(33)], [[0.0] * 3 for _ in range(33)]
            for k, j in enumerate(LANDMARKS):
                landmarks[j] = dict(x_px=round(marks[i, k, 0], 2), y_px=round(marks[i, k, 1], 2), visibility=round(seen[i, k, 0], 3), presence=round(seen[i, k, 1], 3))
            for k, j in enumerate(WORLD):
                world[j] = [round(x / 1e4, 4) for x in rows["world"][i, k].tolist()]
            places, scales = [[round(float(crop[i, 0]), 1), round(float(crop[i, 1]), 1)] for _ in range(25)], [[1e3, 1e3] for _ in range(25)]
            for k, j in enumerate(POINTS):
                places[j], scales[j] = [round(x, 2) for x in points[i, k].tolist()], [round(x, 3) for x in scale[i, k].tolist()]
            images = int(rows["images"][i])
            log_sigma = np.clip(sigma[i] + shift[2 if images == BOTH else int(images != PLAIN)], -5.0, 1.0)
            o["person"] = dict(
                presence=round(float(rows["presence"][i]) / 255, 3),
                region=dict(centre_px=[round(x, 2) for x in region[i, :2].tolist()], side_px=round(float(region[i, 2]), 2), roll_rad=round(float(region[i, 3]), 5)),
                landmarks=landmarks, world_m=world,
                torso=dict(region=dict(centre_px=[round(x, 2) for x in crop[i, :2].tolist()], side_px=round(float(crop[i, 2]), 2), roll_rad=0.0),
                           crop_from_segment=[[round(x, 5) for x in m.T.ravel().tolist()] for m in rotation[i]], log_sigma=[[round(x, 3) for x in r] for r in log_sigma.tolist()],
                           points_px=places, scale_px=scales))
        observations.append(o)
    heard = plan.events["imp"] - v.starts_s + float(np.linalg.norm(v.eye)) / SOUND_M_S
    return dict(
        info=dict(file=f"{plan.name}_{v.role}.mp4", width=v.width, height=v.height, rotation_deg=0, mirrored=False, fps=v.fps, capture_fps=None,
                  duration_s=round(v.count / v.fps, 4), created_unix_s=None, focal_35mm=None, codec="h264", bits=8, has_sound=True),
        sha256=hashlib.sha256(f"{plan.name}_{v.role}".encode()).hexdigest(), observations=observations, strikes=[dict(time_s=round(heard, 6), sigma_s=0.0005, prominence_db=30.0)], people_seen=1, warnings=[])


def truth(plan: Plan, joints: dict[str, tuple[Array, Array]]) -> dict[str, Any]:
    """What tests/bench/truth.py reads; angles from the channels, knees and the shoulder line from the moments that were filmed."""
    e = events_of(plan)
    times = np.union1d(np.arange(0.0, plan.p["t_end"], 1 / 60), np.arange(e["top"] - 0.15, e["imp"] + 0.5, 1 / 240))
    times = np.union1d(times[times <= plan.p["t_end"]], list(e.values()))
    now = plan.keys.at(times)
    smooth = {}
    for name, (t, v) in joints.items():
        order = np.argsort(t)
        v = v[order].reshape(len(t), -1)
        smooth[name] = np.stack([np.interp(times, t[order], v[:, c]) for c in range(v.shape[1])], 1)
    samples = []
    for i, t in enumerate(times.tolist()):
        row = dict(t=round(t, 5))
        for name in ("pelvis", "thorax"):
            row.update({f"{name}_{k}": round(float(x), 3) for k, x in zip(("turn", "side", "fwd"), now[name][i])})
        row.update(shoulder_line_turn=round(float(smooth["shoulders"][i, 0]), 2), knee_lead_flexion=round(float(smooth["knees"][i, 0]), 2),
                   knee_trail_flexion=round(float(smooth["knees"][i, 1]), 2))
        samples.append(row)
    views = {}
    for v in plan.views:
        m, eye = v.world_from_camera, v.eye.copy()
        if plan.lefty:
            m = MIRROR @ m @ MIRROR
            eye[0] = -eye[0]
        views[v.role] = dict(file=f"{plan.name}_{v.role}.mp4", fps=v.fps, starts_at_s=v.starts_s, width=v.width, height=v.height, focal_px=v.focal_px,
                             camera_position_m=[round(float(x), 5) for x in eye], camera_to_world=m.tolist(), rotation_metadata_deg=0)
    return dict(config=dict(name=plan.name, set=plan.group, body=plan.student, kind=plan.kind, people="characters" if plan.character else "painted", lefty=plan.lefty),
                handedness="left" if plan.lefty else "right", events=e, swings=[dict(ball=True, **e)], rests=[], views=views, samples=samples)

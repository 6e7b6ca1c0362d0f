"""Makes tests/reference/geometry.json: fixed cases of camera geometry by OpenCV and of rotations and
the pelvic rotation order by SciPy. Run once, by hand; the tests only read the file.

usage: geometry_reference.py OUT.json      (numpy, scipy, opencv-python-headless)
"""
from __future__ import annotations

import json
import sys

import cv2
import numpy as np
import scipy
from scipy.spatial.transform import Rotation

# Camera axes (x right, y down, z ahead) of a level camera that looks along +X, as columns.
LEVEL = Rotation.from_matrix(np.array([[0, 0, 1], [-1, 0, 0], [0, -1, 0]], float))
ROLE_AZIMUTH_DEG = {"face_on": 90.0, "down_the_line": 0.0}


def camera(role: str, azimuth: float, pitch: float, roll: float, place: list[float], focal: float) -> dict:
    """A camera of this project's attitude (degrees), and what OpenCV calls its pose."""
    turned = Rotation.from_euler("Z", ROLE_AZIMUTH_DEG[role] + azimuth, degrees=True) * LEVEL
    world_from_camera = turned * Rotation.from_euler("XZ", [pitch, roll], degrees=True)
    to_camera = world_from_camera.inv()
    return {
        "role": role, "azimuth_deg": azimuth, "pitch_deg": pitch, "roll_deg": roll,
        "position_m": place, "focal_px": focal, "centre_px": [270.0, 480.0],
        "rvec": to_camera.as_rotvec().tolist(),
        "tvec": to_camera.apply(-np.array(place)).tolist(),
        "world_from_camera": world_from_camera.as_matrix().tolist(),
    }


def intrinsics(c: dict) -> np.ndarray:
    (x, y), f = c["centre_px"], c["focal_px"]
    return np.array([[f, 0, x], [0, f, y], [0, 0, 1]], float)


def project(c: dict, points: np.ndarray) -> np.ndarray:
    pixels, _ = cv2.projectPoints(points, np.array(c["rvec"]), np.array(c["tvec"]), intrinsics(c), None)
    return pixels.reshape(-1, 2)


def matrix34(c: dict) -> np.ndarray:
    r, _ = cv2.Rodrigues(np.array(c["rvec"]))
    return intrinsics(c) @ np.hstack([r, np.array(c["tvec"]).reshape(3, 1)])


def main() -> None:
    rng = np.random.default_rng(20010301)
    cameras = [
        camera("face_on", 4.0, -3.0, 1.0, [0.1, -4.1, 1.2], 1130.0),
        camera("down_the_line", -9.0, 2.0, -2.5, [-4.4, -0.3, 0.8], 980.0),
        camera("face_on", -12.0, 5.0, 0.5, [-0.8, -3.4, 1.6], 820.0),
    ]
    points = rng.uniform([-0.5, -0.9, 0.0], [0.5, 0.4, 1.8], (14, 3))
    out: dict = {
        "made_with": {"opencv": cv2.__version__, "scipy": scipy.__version__, "numpy": np.__version__},
        "cameras": cameras,
        "points_m": points.tolist(),
        "pixels": [project(c, points).tolist() for c in cameras],
    }

    triangulated = []
    for a, b, noise in [(0, 1, 0.0), (2, 1, 0.0), (0, 1, 2.0), (2, 1, 2.0)]:
        pa = project(cameras[a], points) + rng.normal(0, 1, (len(points), 2)) * noise
        pb = project(cameras[b], points) + rng.normal(0, 1, (len(points), 2)) * noise
        h = cv2.triangulatePoints(matrix34(cameras[a]), matrix34(cameras[b]), pa.T, pb.T)
        triangulated.append({
            "cameras": [a, b], "noise_px": noise, "pixels": [pa.tolist(), pb.tolist()],
            "points_m": (h[:3] / h[3]).T.tolist(),
        })
    out["triangulated"] = triangulated

    poses = []
    for k, c in enumerate(cameras):
        seen = project(c, points) + rng.normal(0, 1.0, (len(points), 2))
        ok, rvec, tvec = cv2.solvePnP(points, seen, intrinsics(c), None, flags=cv2.SOLVEPNP_ITERATIVE)
        assert ok
        found = c | {"rvec": rvec.ravel().tolist(), "tvec": tvec.ravel().tolist()}
        reprojected = project(found, points)
        poses.append({
            "camera": k, "seen": seen.tolist(), "rvec": found["rvec"], "tvec": found["tvec"],
            "reprojected": reprojected.tolist(),
            "rms_px": float(np.sqrt(np.mean(np.sum((reprojected - seen) ** 2, axis=1)))),
        })
    out["poses"] = poses

    # R = Rz(-turn) Ry(side) Rx(forward) is SciPy's intrinsic "ZYX" with (-turn, side, forward).
    rotations = []
    for turn, side, forward in rng.uniform([-170, -80, -80], [170, 80, 80], (12, 3)):
        r = Rotation.from_euler("ZYX", [-turn, side, forward], degrees=True)
        rotations.append({
            "turn_deg": turn, "side_deg": side, "forward_deg": forward,
            "matrix": r.as_matrix().tolist(), "rotvec": r.as_rotvec().tolist(),
        })
    for r in Rotation.random(12, random_state=rng):
        z, y, x = r.as_euler("ZYX", degrees=True)
        rotations.append({
            "turn_deg": -z, "side_deg": y, "forward_deg": x,
            "matrix": r.as_matrix().tolist(), "rotvec": r.as_rotvec().tolist(),
        })
    out["rotations"] = rotations

    # A level pelvis (no obliquity) that is turned and tilted, read in two orders.
    pelves = []
    for rotation, obliquity, tilt in [
        (0, 0, 20), (10, 0, 20), (20, 0, 20), (30, 0, 20), (30, 0, 10), (45, 0, 18), (42, 0, 15),
        (-42, 5, 10), (30, 6, 20), (-90, -4, -2),
    ]:
        r = Rotation.from_euler("ZYX", [-rotation, obliquity, tilt], degrees=True)
        x, y, z = r.as_euler("XYZ", degrees=True)
        pelves.append({
            "rotation_deg": rotation, "obliquity_deg": obliquity, "tilt_deg": tilt,
            "matrix": r.as_matrix().tolist(),
            "tilt_obliquity_rotation_deg": [float(x), float(y), float(-z)],
        })
    out["pelves"] = pelves
    with open(sys.argv[1], "w", encoding="utf-8") as f:
        json.dump(out, f, indent=None, separators=(",", ":"))
        f.write("\n")


if __name__ == "__main__":
    main()

"""Where a camera stands and how it projects."""

from __future__ import annotations

from typing import Any

import numpy as np

from turning import DEGREE, Array, rz


def look_at(eye: Any, at: Any) -> Array:
    """Camera-to-world matrix, columns right, up, back, place."""
    z = np.array(eye, float) - at
    z /= np.linalg.norm(z)
    x = np.cross((0, 0, 1), z)
    x /= np.linalg.norm(x)
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = x, np.cross(z, x), z, eye
    return m


def camera(width: int, height: int, view: dict[str, Any]) -> tuple[Array, Array]:
    """Intrinsics and camera-to-world of one view; `fov` is along the long side, degrees."""
    f = height / 2 / np.tan(view.get("fov", 50) * DEGREE / 2)
    k = np.array([[f, 0, width / 2], [0, f, height / 2], [0, 0, 1]])
    m = look_at(view["eye"], view["at"])
    m[:3, :3] = m[:3, :3] @ rz(view.get("roll", 0.0) * DEGREE)
    return k, m

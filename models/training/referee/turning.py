"""Rotations in numpy, one at a time. Angles are (turn, side bend, forward bend) in degrees, as in docs/measures.md."""

from __future__ import annotations

import numpy as np

DEGREE = np.pi / 180
Array = np.ndarray


def rx(a: float) -> Array:
    """Rotation about x."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def ry(a: float) -> Array:
    """Rotation about y."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])


def rz(a: float) -> Array:
    """Rotation about z."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def segment_rotation(turn: float, side: float, forward: float) -> Array:
    """R = Rz(-turn) Ry(side) Rx(forward), degrees."""
    return rz(-turn * DEGREE) @ ry(side * DEGREE) @ rx(forward * DEGREE)


def segment_angles(r: Array) -> tuple[float, float, float]:
    """The inverse of `segment_rotation`."""
    turn = -np.arctan2(r[1, 0], r[0, 0])
    side = -np.arcsin(np.clip(r[2, 0], -1, 1))
    forward = np.arctan2(r[2, 1], r[2, 2])
    return float(turn / DEGREE), float(side / DEGREE), float(forward / DEGREE)


def rotation_vector(r: Array) -> Array:
    """Axis times angle of a rotation."""
    angle = np.arccos(np.clip((np.trace(r) - 1) / 2, -1, 1))
    if angle < 1e-8:
        return np.zeros(3)
    axis = np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]])
    return angle / (2 * np.sin(angle)) * axis


def from_rotation_vector(w: Array) -> Array:
    """Rodrigues' formula."""
    angle = np.linalg.norm(w)
    if angle < 1e-8:
        return np.eye(3)
    x, y, z = w / angle
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k


def part_way(a: Array, b: Array, share: float) -> Array:
    """The rotation `share` of the way from a to b."""
    return a @ from_rotation_vector(share * rotation_vector(a.T @ b))


def twist_and_bend(r: Array) -> tuple[float, Array]:
    """r = bend · Rz(twist): the twist about the segment's long axis (radians), and what bends that axis."""
    bend = smallest_turn(np.array([0.0, 0.0, 1.0]), r[:, 2])
    rest = bend.T @ r
    return float(np.arctan2(rest[1, 0], rest[0, 0])), bend


def smallest_turn(a: Array, b: Array) -> Array:
    """The smallest rotation that brings direction a onto direction b."""
    a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
    axis = np.cross(a, b)
    s = np.linalg.norm(axis)
    return np.eye(3) if s < 1e-9 else from_rotation_vector(axis / s * np.arctan2(s, a @ b))

"""Rotations in torch, batched over any leading axes. Angles are radians unless a name says degrees."""

from __future__ import annotations

import math

import torch
from torch import Tensor

DEGREE = math.pi / 180


def about(axis: int, angle: Tensor) -> Tensor:
    """Rotation about axis 0, 1 or 2."""
    c, s = torch.cos(angle), torch.sin(angle)
    o, i = torch.zeros_like(c), torch.ones_like(c)
    rows = (
        (i, o, o, o, c, -s, o, s, c),
        (c, o, s, o, i, o, -s, o, c),
        (c, -s, o, s, c, o, o, o, i),
    )[axis]
    return torch.stack(rows, -1).unflatten(-1, (3, 3))


def segment_rotation(degrees: Tensor) -> Tensor:
    """Rz(-turn) Ry(side) Rx(forward) of (..., 3) degrees."""
    turn, side, forward = (degrees * DEGREE).unbind(-1)
    return about(2, -turn) @ about(1, side) @ about(0, forward)


def segment_angles(r: Tensor) -> Tensor:
    """Turn, side bend and forward bend in degrees; the inverse of `segment_rotation`."""
    turn = -torch.atan2(r[..., 1, 0], r[..., 0, 0])
    side = -torch.asin(r[..., 2, 0].clamp(-1, 1))
    forward = torch.atan2(r[..., 2, 1], r[..., 2, 2])
    return torch.stack((turn, side, forward), -1) / DEGREE


def rotation_vector(r: Tensor) -> Tensor:
    """Axis times angle; good up to about 179.9 degrees."""
    trace = r.diagonal(dim1=-2, dim2=-1).sum(-1)
    angle = torch.acos(((trace - 1) / 2).clamp(-0.999999, 0.999999))
    axis = torch.stack((r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] - r[..., 0, 1]), -1)
    return axis * (angle / (2 * torch.sin(angle).clamp(min=1e-6)))[..., None]


def from_rotation_vector(w: Tensor) -> Tensor:
    """Rodrigues' formula."""
    angle = w.norm(dim=-1, keepdim=True).clamp(min=1e-9)
    x, y, z = (w / angle).unbind(-1)
    o = torch.zeros_like(x)
    k = torch.stack((o, -z, y, z, o, -x, -y, x, o), -1).unflatten(-1, (3, 3))
    a = angle[..., None]
    return torch.eye(3, device=w.device) + torch.sin(a) * k + (1 - torch.cos(a)) * (k @ k)


def part_way(a: Tensor, b: Tensor, share: Tensor | float) -> Tensor:
    """The rotation `share` of the way from a to b."""
    if isinstance(share, Tensor):
        share = share[..., None]
    return a @ from_rotation_vector(rotation_vector(a.transpose(-1, -2) @ b) * share)


def smallest_turn(a: Tensor, b: Tensor) -> Tensor:
    """The smallest rotation that brings direction a onto direction b."""
    a, b = torch.nn.functional.normalize(a, dim=-1), torch.nn.functional.normalize(b, dim=-1)
    axis = torch.linalg.cross(a, b)
    s = axis.norm(dim=-1, keepdim=True)
    angle = torch.atan2(s, (a * b).sum(-1, keepdim=True))
    return from_rotation_vector(axis / s.clamp(min=1e-9) * angle)


def from_six(a: Tensor) -> Tensor:
    """A rotation from two unnormalised columns, (..., 6)."""
    x = torch.nn.functional.normalize(a[..., :3], dim=-1)
    y = a[..., 3:] - (x * a[..., 3:]).sum(-1, keepdim=True) * x
    y = torch.nn.functional.normalize(y, dim=-1)
    return torch.stack((x, y, torch.linalg.cross(x, y)), -1)

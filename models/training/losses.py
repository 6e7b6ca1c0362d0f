"""What the network is trained to do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from recorded import fixed
from network import Reading, read_places
from renderer import Batch
from rotations import rotation_vector

# Student's t with 4 degrees of freedom has its 95 % limits at 1.96 times its own standard deviation, to half a
# per cent: so sigma keeps its plain meaning while single wild errors pull less than under a normal law.
FREEDOM = 4.0
# Weights of the errors about the turned camera's x, y and z: y is nearly the turn, which is what coaches read.
AXES = (0.8, 1.4, 0.8)


@dataclass
class Losses:
    """The parts, each a scalar, and the errors they came from."""

    total: Tensor
    rotation: Tensor
    spread: Tensor
    points: Tensor
    angle: Tensor        # n,2 radians


def student_t(error: Tensor, log_sigma: Tensor) -> Tensor:
    """Negative log likelihood, constants left out, of errors with standard deviation sigma."""
    log_scale = log_sigma - 0.5 * math.log(FREEDOM / (FREEDOM - 2))
    z = error * torch.exp(-log_scale)
    return log_scale + 0.5 * (FREEDOM + 1) * torch.log1p(z.square() / FREEDOM)


def rotation_error(reading: Reading, truth: Tensor) -> Tensor:
    """Rotation vector from truth to reading, in the turned camera's axes, (n, 2, 3)."""
    return rotation_vector(reading.rotation @ truth.transpose(-1, -2))


def losses(reading: Reading, batch: Batch, settled: float) -> Losses:
    """`settled` 0..1 moves weight from plain rotation distance to the likelihood."""
    error = rotation_error(reading, batch.rotation)
    distance = (reading.rotation - batch.rotation).square().sum((-1, -2)).mean()
    spread = (student_t(error, reading.log_sigma) * fixed(AXES, error.device)).mean()
    inside = ((batch.points > 0) & (batch.points < 1)).all(-1)
    off = (reading.points - batch.points).abs()
    points = ((off * torch.exp(-reading.log_b) + reading.log_b).mean(-1) * inside).sum() / inside.sum().clamp(min=1)
    depth = (reading.depth - batch.depth).abs().clamp(max=1.0).mean()
    total = distance * (1.5 - settled) + 0.6 * settled * spread + 0.35 * points + depth
    return Losses(total, distance, spread, points, error.detach().norm(dim=-1))


def of_places(places: Tensor, batch: Batch) -> Tensor:
    """The same rotations read from the landmarks alone."""
    rotation, log_sigma = read_places(places)
    error = rotation_vector(rotation @ batch.rotation.transpose(-1, -2))
    distance = (rotation - batch.rotation).square().sum((-1, -2)).mean()
    return distance + 0.6 * (student_t(error, log_sigma) * fixed(AXES, error.device)).mean()

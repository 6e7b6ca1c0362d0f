"""Poses from a swing: what coaches film most. Every amplitude is drawn apart, and the arms only half follow the turn."""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn.functional import normalize

from draw import Draw
from rotations import DEGREE, about

MOMENTS = (0.0, 1.0, 2.0, 3.0)     # address, top, impact, finish
# Directions in the world of a right-handed golfer who faces -y:
# of the hands from the lead shoulder, and of the club.
HANDS_AT = (0.0, 0.35, 0.65, 1.0, 1.55, 2.0, 2.2, 2.5, 3.0)
HANDS = (
    (-0.30, -0.30, -0.90), (-0.80, -0.35, -0.48), (-0.80, 0.00, 0.20), (-0.55, 0.50, 0.50), (-0.80, -0.12, -0.25),
    (-0.12, -0.30, -0.94), (0.70, -0.45, -0.45), (0.62, -0.15, 0.55), (-0.25, 0.45, 0.55))
CLUB = (
    (-0.05, -0.55, -0.83), (-0.90, -0.30, 0.30), (-0.30, -0.10, 0.95), (0.92, -0.25, -0.25), (-0.50, -0.10, 0.85),
    (0.02, -0.56, -0.83), (0.90, -0.40, 0.00), (0.20, 0.00, 0.98), (-0.75, 0.40, -0.50))
REACH = (0.965, 0.965, 0.96, 0.96, 0.97, 0.97, 0.97, 0.85, 0.62)
NOMINAL_TURN = (0.0, 30.0, 60.0, 90.0, 25.0, -28.0, -50.0, -75.0, -98.0)
# turn at the four moments: (low, high) of an even draw
THORAX_TURN = ((-14.0, 14.0), (20.0, 130.0), (-65.0, 20.0), (-150.0, -55.0))
PELVIS_TURN = ((-11.0, 11.0), (0.0, 75.0), (-75.0, 10.0), (-125.0, -45.0))


@dataclass
class SwingMoment:
    """A moment of a drawn swing: turns in degrees, and the arms in the thorax's frame."""

    phase: Tensor        # n, 0..3
    pelvis_turn: Tensor
    thorax_turn: Tensor
    slide: Tensor        # n,2 of each shoulder girdle, degrees about the thorax's long axis


def between(at: tuple[float, ...], values: Tensor, phase: Tensor) -> Tensor:
    """Linear interpolation; `values` (k, c) shared by the batch, or (n, k, c)."""
    knots = torch.tensor(at, device=phase.device, dtype=phase.dtype)
    low = (torch.searchsorted(knots, phase.contiguous(), right=True) - 1).clamp(0, len(at) - 2)
    share = ((phase - knots[low]) / (knots[low + 1] - knots[low]))[:, None]
    if values.dim() == 2:
        return values[low] * (1 - share) + values[low + 1] * share
    rows = torch.arange(len(phase), device=phase.device)
    return values[rows, low] * (1 - share) + values[rows, low + 1] * share


def draw_moment(d: Draw) -> SwingMoment:
    """A phase (the top a little more often) and the turns there."""
    near_top = d.normal(1.0, 0.12)
    phase = torch.where(d.chance(0.25), near_top, d.uniform(0, 3)).clamp(0, 3)
    part = phase - phase.floor()
    eased = phase.floor() + part * part * (3 - 2 * part)
    keys = [torch.stack([d.uniform(*span) for span in spans], 1)[..., None] for spans in (PELVIS_TURN, THORAX_TURN)]
    pelvis, thorax = (between(MOMENTS, k, eased)[:, 0] for k in keys)
    slide = d.uniform(0, 22) * between(MOMENTS, torch.tensor([[0.0], [1.0], [0.0], [-1.0]], device=d.device), eased)[:, 0]
    both = torch.stack((slide, 0.6 * slide), 1) + d.normal(0, 4, 2)
    return SwingMoment(phase, pelvis + d.normal(0, 5), thorax + d.normal(0, 5), both)


def draw_swing_arms(d: Draw, moment: SwingMoment) -> dict[str, Tensor]:
    """Arms and club: partly fixed in the world, partly in the chest, each picture in its own proportion."""
    def key(values: tuple) -> Tensor:
        table = torch.tensor(values, device=d.device)
        return between(HANDS_AT, table if table.dim() == 2 else table[:, None], moment.phase)

    wish = key(HANDS) + d.normal(0, 0.2, 3)
    nominal = key(NOMINAL_TURN)[:, 0]
    follows = d.uniform(0, 1)
    turn = moment.thorax_turn + follows * (nominal - moment.thorax_turn)
    hand = normalize(torch.einsum("nji,nj->ni", about(2, -turn * DEGREE), wish), dim=-1)
    reach = (key(REACH)[:, 0] * d.normal(1.0, 0.04)).clamp(0.4, 1.0)
    return dict(
        hand=hand[:, None].expand(-1, 2, -1), reach=reach[:, None].expand(-1, 2),
        shaft=normalize(key(CLUB) + d.normal(0, 0.25, 3), dim=-1))

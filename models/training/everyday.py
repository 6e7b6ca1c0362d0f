"""Poses that are no golf: standing, walking, balancing, reaching, arms held out or up, bends to every side."""

from __future__ import annotations

from dataclasses import replace

import torch
from torch import Tensor

from draw import Draw
from golfer import Pose
from poses import direction

GIRDLE_LIFT = 0.28    # degrees that a shoulder girdle rises for each degree of the arm above 30 below level (common practice: about a third)


def draw_arms(d: Draw) -> tuple[Tensor, Tensor, Tensor]:
    """Hands in the thorax (n,2,3), reach (n,2) and elevation in degrees (n,2): both sides mostly do alike."""
    kind, other = d.uniform(0, 1), d.uniform(0, 1)
    hands, reach, lift = [], [], []
    for sign in (1.0, -1.0):
        k = kind if sign > 0 else torch.where(d.chance(0.7), kind, other)
        out = (sign * d.normal(85, 20), d.normal(0, 25), d.uniform(0.85, 1.0))
        up = (sign * d.normal(50, 45), d.uniform(40, 88), d.uniform(0.7, 1.0))
        hang = (sign * d.normal(60, 40), d.uniform(-88, -60), d.uniform(0.85, 1.0))
        ahead = (sign * d.normal(0, 30), d.uniform(-60, 30), d.uniform(0.45, 1.0))
        hip = (sign * d.uniform(10, 80), d.uniform(-85, -55), d.uniform(0.45, 0.7))
        chosen = list(hang)
        for edge, what in ((0.72, ahead), (0.5, up), (0.38, out), (0.10, hip)):
            chosen = [torch.where(k < edge, w, c) for w, c in zip(what, chosen)]
        hands.append(direction(chosen[0], chosen[1]))
        reach.append(chosen[2])
        lift.append(chosen[1])
    return torch.stack(hands, 1), torch.stack(reach, 1), torch.stack(lift, 1)


def everyday(d: Draw, pose: Pose, which: Tensor) -> Pose:
    """The same pictures, those of `which` in a pose that is no golf; bodies, trunk and stretch stay as they are."""
    n = d.n
    pelvis = torch.stack((d.normal(0, 16), d.normal(0, 8), d.normal(4, 12)), -1)
    bend = torch.where(d.chance(0.5), d.normal(0, 9), d.uniform(-60, 60))
    # a chest that bends takes part of the pelvis with it
    pelvis[:, 1] += 0.25 * bend * d.uniform(0, 1)
    thorax = torch.stack((pelvis[:, 0] + d.normal(0, 20), bend, pelvis[:, 2] + d.normal(3, 14)), -1)
    pelvis, thorax = pelvis.clamp(-45, 60), torch.stack((thorax[:, 0].clamp(-80, 80), thorax[:, 1].clamp(-62, 62), thorax[:, 2].clamp(-30, 75)), -1)
    head = torch.stack((thorax[:, 0] + d.normal(0, 28), thorax[:, 1] * d.uniform(-0.1, 0.9) + d.normal(0, 8), d.normal(6, 14)), -1)
    hand, reach, lift = draw_arms(d)
    girdle = pose.clavicle.clone()
    rise = GIRDLE_LIFT * (lift + 30).clamp(min=0) * d.uniform(0.3, 1.2, 1)
    girdle[:, 0, 1] -= rise[:, 0]
    girdle[:, 1, 1] += rise[:, 1]
    half = torch.where(d.chance(0.4), d.normal(0.0, 0.03), d.uniform(0.04, 0.2))
    stride = torch.where(d.chance(0.55), d.normal(0, 0.18), d.normal(0, 0.03))
    ankle = torch.stack((torch.stack((half, stride), -1), torch.stack((-half, -stride), -1)), 1)
    grip = torch.zeros(n, dtype=torch.bool, device=d.device)
    new = dict(pelvis=pelvis, thorax=thorax, head=head, clavicle=girdle, hand=hand, reach=reach, grip=grip, shaft=1e-3 * pose.shaft,
               curl=d.uniform(0, 0.6, 2), ankle=ankle, foot_yaw=d.normal(12, 12, 2), hips=torch.stack((d.normal(0, 0.04), d.normal(0, 0.04)), -1), knee=d.uniform(2, 30))
    return replace(pose, **{k: torch.where(which.view(-1, *[1] * (v.dim() - 1)), v, getattr(pose, k)) for k, v in new.items()})

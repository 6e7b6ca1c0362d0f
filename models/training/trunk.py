"""A trunk like people's: where along its height the skin turns and bends from the pelvis to the upper rib cage.

Heights are metres above the hip centres for a trunk of 0.53 m from there to the neck. The pelvis is rigid up to the iliac
crest, the upper rib cage from 0.42 m up. Of the twist between them the lumbar spine takes 0.1 to 0.4 (1.2 to 1.7 degrees a
segment in 45 degrees of trunk rotation: Fujii et al. 2007, doi 10.1007/s00586-007-0373-3), the lower ribs most of the rest;
side and forward bend have shares of their own, for they do bend the lumbar spine. All shares are drawn for every picture.
"""

from __future__ import annotations

import numpy as np
import torch
from torch import Tensor

from draw import Draw
from rotations import DEGREE, about, part_way, smallest_turn

LENGTH = 0.53
# bones whose share of the way is drawn, from below, and the heights at which the skin is wholly theirs
CHAIN = ("root", "spine05", "spine04", "spine03", "spine02", "spine01")
HEIGHTS = (0.115, 0.145, 0.19, 0.25, 0.32, 0.42)
SHARED = CHAIN[1:5]
CREST, LUMBAR_TWIST, LOWER_RIBS_TWIST = (0.115, 0.145), (0.1, 0.4), (0.4, 0.85)
LUMBAR_BEND, LOWER_RIBS_BEND = (0.3, 0.7), (0.6, 0.95)
# the breastbone and the ribs on it are one with the upper rib cage down to the xiphoid: the skin there follows higher bones
STERNUM = (0.25, 0.30, 0.09, 0.14)   # from, to, half width, how much higher
BLADE_MIDDLE, BLADE_SIZE, BLADE_SHARE = (0.095, 0.40), (0.05, 0.075), (0.65, 0.35)   # x, z; back, front


def draw_shares(d: Draw) -> Tensor:
    """Shares of twist and of bend at the four bones of `SHARED`, (n, 2, 4)."""
    crest = d.uniform(*CREST)
    out = []
    for low, high in ((LUMBAR_TWIST, LOWER_RIBS_TWIST), (LUMBAR_BEND, LOWER_RIBS_BEND)):
        lumbar = d.uniform(*low)
        ribs = torch.maximum(d.uniform(*high), lumbar + 0.1)
        slope = lumbar / (HEIGHTS[3] - crest)
        out.append(torch.stack((slope * (HEIGHTS[1] - crest), slope * (HEIGHTS[2] - crest), lumbar, ribs), -1))
    return torch.stack(out, 1)


def draw_posture(d: Draw) -> Tensor:
    """Degrees by which the bones of `SHARED` lean forward beyond their share: flat and round backs, (n, 4)."""
    round_ = d.normal(2.0, 5.0)
    hollow = d.normal(0.0, 3.0)
    return torch.stack((torch.zeros_like(round_), -hollow, round_ - hollow, round_), -1)


def spine_rotations(pelvis: Tensor, thorax: Tensor, shares: Tensor, posture: Tensor) -> dict[str, Tensor]:
    """World rotations of the bones between pelvis and upper rib cage."""
    between = pelvis.transpose(-1, -2) @ thorax
    up = torch.tensor([0.0, 0.0, 1.0], device=pelvis.device).expand(len(pelvis), 3)
    bend = smallest_turn(up, between[..., 2])
    twist = bend.transpose(-1, -2) @ between
    still = torch.eye(3, device=pelvis.device).expand_as(pelvis)
    out = {}
    for i, bone in enumerate(SHARED):
        part = part_way(still, bend, shares[:, 1, i]) @ part_way(still, twist, shares[:, 0, i])
        out[bone] = pelvis @ part @ about(0, posture[:, i] * DEGREE)
    return out


def reskin(weights: np.ndarray, rest: np.ndarray, normal: np.ndarray, joint: np.ndarray, bone: dict[str, int]) -> None:
    """Trunk skin by anatomy, in place: by height along `CHAIN`, with shoulder blades that slide over the ribs."""
    hip = 0.5 * (joint[bone["upperleg01.L"]] + joint[bone["upperleg01.R"]])
    place = (rest - hip) * LENGTH / (joint[bone["neck01"]][2] - hip[2])
    z = place[:, 2]
    trunk = [bone[b] for b in (*CHAIN, "pelvis.L", "pelvis.R", "breast.L", "breast.R") if b in bone]
    # no leg pulls at the skin of the pelvis's bony points
    legs = [i for b, i in bone.items() if b.startswith("upperleg")]
    keep = np.clip((0.09 - z) / 0.05, 0, 1)[:, None].astype(np.float32)
    weights[:, bone["root"]] += (weights[:, legs] * (1 - keep)).sum(1)
    weights[:, legs] *= keep
    total = weights[:, trunk].sum(1)
    weights[:, trunk] = 0
    foot, top, half, lift = STERNUM
    front = np.clip(-2 * normal[:, 1], 0, 1) * np.exp(-((place[:, 0] / half) ** 4))
    z = z + lift * front * np.clip((z - foot) / (top - foot), 0, 1)
    knots = np.array(HEIGHTS)
    k = np.clip(np.searchsorted(knots, z, side="right") - 1, 0, len(knots) - 2)
    f = np.clip((z - knots[k]) / (knots[k + 1] - knots[k]), 0, 1)
    ids, row = np.array([bone[b] for b in CHAIN]), np.arange(len(rest))
    # the skin over a blade follows it in part, more on the back than on the chest
    share = np.where(normal[:, 1] > 0, BLADE_SHARE[0] * np.clip(normal[:, 1] * 2, 0, 1), BLADE_SHARE[1])
    for side, sign in (("L", 1.0), ("R", -1.0)):
        off = ((sign * place[:, 0] - BLADE_MIDDLE[0]) / BLADE_SIZE[0]) ** 2 + ((place[:, 2] - BLADE_MIDDLE[1]) / BLADE_SIZE[1]) ** 2
        taken = total * share * np.exp(-off) * (sign * place[:, 0] > 0.03)
        weights[:, bone["shoulder01." + side]] += taken.astype(np.float32)
        total = total - taken
    weights[row, ids[k]] += (total * (1 - f)).astype(np.float32)
    weights[row, ids[k + 1]] += (total * f).astype(np.float32)

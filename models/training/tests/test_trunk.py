"""The drawn trunk against anatomy: what the skin's landmarks say and what the bones say is the same."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import torch
from torch import Tensor
from torch.nn.functional import normalize

HERE = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(HERE))

from draw import Draw  # noqa: E402
from golfer import Posed, Skeleton  # noqa: E402
from poses import draw_poses  # noqa: E402
from renderer import _blend, _move  # noqa: E402
from rotations import DEGREE, rotation_vector, segment_rotation  # noqa: E402
from trunk import HEIGHTS, draw_shares, spine_rotations  # noqa: E402
from wardrobe import Wardrobe  # noqa: E402

BODIES = str(HERE / "data" / "bodies.npz")


def isb_frames(p: Tensor) -> tuple[Tensor, Tensor]:
    """Pelvis and thorax from surface landmarks by the recipes of Wu et al. 2002 and 2005, axes as the network's: left, back, up.

    `p` is (n, 8, 3): ASIS left and right, PSIS left and right, C7, suprasternal notch, xiphoid, T8.
    """
    la, ra, lp, rp, c7, ij, px, t8 = p.unbind(1)
    x = normalize(la - ra, dim=-1)
    back = (lp + rp - la - ra) / 2
    y = normalize(back - (back * x).sum(-1, keepdim=True) * x, dim=-1)
    pelvis = torch.stack((x, y, torch.linalg.cross(x, y)), -1)
    low = (px + t8) / 2
    z = normalize((c7 + ij) / 2 - low, dim=-1)
    x = normalize(torch.linalg.cross(low - ij, c7 - ij), dim=-1)
    return pelvis, torch.stack((x, torch.linalg.cross(z, x), z), -1)


@pytest.fixture(scope="module")
def moments() -> tuple[Posed, Tensor, Tensor]:
    """Drawn poses with their landmarks at rest and in the pose."""
    skeleton, wardrobe = Skeleton(BODIES, "cpu"), Wardrobe(BODIES, "cpu")
    pose = draw_poses(600, list(range(48)), 56, "cpu", torch.Generator().manual_seed(1))
    posed = skeleton.pose(pose)
    rest = wardrobe.bare(pose.mix, pose.stretch)[:, wardrobe.marked]
    m = _blend(wardrobe.weights[wardrobe.marked], posed)
    return posed, rest[:, :8], (_move(m, rest) + m[..., 9:])[:, :8]


def test_landmarks_and_bones_tell_the_same_rotation(moments: tuple[Posed, Tensor, Tensor]) -> None:
    posed, rest, now = moments
    between = posed.segments[:, 0].transpose(-1, -2) @ posed.segments[:, 1]
    usual = rotation_vector(between)[:, 2].abs() < 55 * DEGREE       # as far as swings twist
    assert usual.float().mean() > 0.8
    off = [rotation_vector(b @ a.transpose(-1, -2) @ r.transpose(-1, -2)).norm(dim=-1)[usual] / DEGREE
           for a, b, r in zip(isb_frames(rest), isb_frames(now), posed.segments.unbind(1))]
    assert off[0].max() < 1.0
    assert off[1].median() < 3.0 and off[1].max() < 9.0


def test_the_lumbar_spine_twists_little_and_the_ribs_take_the_rest() -> None:
    # Fujii et al. 2007 (doi 10.1007/s00586-007-0373-3): 1.2 to 1.7 degrees a lumbar segment, so 6 to 8.5 of 45 over five;
    # the range drawn holds it
    shares = draw_shares(Draw(4000, "cpu", torch.Generator().manual_seed(2)))
    lumbar, ribs = shares[:, 0, 2], shares[:, 0, 3]
    assert 0.1 <= lumbar.min() and lumbar.max() <= 0.4 and 0.4 <= ribs.min() and ribs.max() <= 0.85
    assert lumbar.min() < 6 / 45 < 8.5 / 45 < lumbar.max()
    assert (shares.diff(dim=2) >= -1e-6).all() and HEIGHTS[0] >= 0.10 and HEIGHTS[-1] <= 0.46


def test_shares_are_of_the_way_from_pelvis_to_thorax() -> None:
    pelvis, thorax = segment_rotation(torch.tensor([[10.0, 0.0, 0.0]])), segment_rotation(torch.tensor([[60.0, 0.0, 0.0]]))
    shares = torch.tensor([[[0.0, 0.1, 0.2, 0.6], [0.0, 0.3, 0.5, 0.8]]])
    bones = spine_rotations(pelvis, thorax, shares, torch.zeros(1, 4))
    turned = [float(-torch.atan2(r[0, 1, 0], r[0, 0, 0]) / DEGREE) for r in bones.values()]
    assert torch.allclose(torch.tensor(turned), torch.tensor([10.0, 15.0, 20.0, 40.0]), atol=0.01)

"""Draw poses. The arms, the shoulder blades, the club, the head and the legs do not follow the turn."""

from __future__ import annotations

import torch
from torch import Tensor

from draw import Draw
from golfer import Pose
from swings import draw_moment, draw_swing_arms
from trunk import draw_posture, draw_shares

TURN_RANGE = (-150.0, 135.0)      # thorax, degrees; + is away from the target
PELVIS_RANGE = (-125.0, 80.0)
LARGEST_TWIST = 80.0              # between pelvis and thorax
SWINGS = 0.6                      # share of pictures whose pose is a moment of a swing
BOTH_HANDS, ONE_HAND = 0.55, 0.65  # shares of the other pictures with both hands, or at least one, on a club


def draw_turns(d: Draw) -> tuple[Tensor, Tensor]:
    """Thorax and pelvis turn: even over the whole range, with some near square where every swing starts."""
    thorax = torch.where(d.chance(0.8), d.uniform(*TURN_RANGE), d.normal(0, 14))
    together = torch.where(d.chance(0.15), d.uniform(-0.2, 0.2), d.uniform(0.1, 1.15))
    pelvis = (thorax * together + d.normal(0, 13)).clamp(*PELVIS_RANGE)
    return thorax, torch.minimum(torch.maximum(pelvis, thorax - LARGEST_TWIST), thorax + LARGEST_TWIST)


def draw_segments(d: Draw, thorax: Tensor, pelvis: Tensor, free: Tensor) -> tuple[Tensor, Tensor]:
    """Pelvis and thorax angles: turned about a leaning spine, with bends on top; those that are free stand anyhow."""
    out = []
    for turn, lean, spread, rush in ((pelvis, (15.0, 8.0), 7.0, 4.0), (thorax, (32.0, 11.0), 11.0, 10.0)):
        tilt = d.normal(*lean) * torch.where(turn < -60, d.uniform(-0.1, 1.0), 1.0)
        a = turn * (torch.pi / 180)
        side = tilt * torch.sin(a) - rush * torch.exp(-(((turn + 30) / 35) ** 2)) + d.normal(0, spread)
        forward = tilt * torch.cos(a).clamp(min=-0.3) + d.normal(0, spread)
        side = torch.where(free, d.normal(0, 1.6 * spread), side)
        forward = torch.where(free, d.uniform(-15, 50) * (0.5 if rush < 5 else 1.0), forward)
        out.append(torch.stack((turn, side.clamp(-60, 60), forward.clamp(-35, 70)), -1))
    return out[0], out[1]


def draw_head(d: Draw, thorax: Tensor) -> Tensor:
    """Looking at the ball, along with the chest, or anywhere the neck allows."""
    at_ball = torch.stack((d.normal(0, 22), d.normal(0, 13), d.normal(35, 12)), -1)
    with_chest = thorax * d.uniform(0, 1.1, 1) + d.normal(0, 15, 3)
    head = torch.where(d.chance(0.5)[:, None], at_ball, with_chest)
    turn = torch.minimum(torch.maximum(head[:, 0], thorax[:, 0] - 85), thorax[:, 0] + 85)
    return torch.stack((turn, head[:, 1].clamp(-45, 45), head[:, 2].clamp(-30, 60)), -1)


def direction(azimuth: Tensor, elevation: Tensor) -> Tensor:
    """In the thorax: azimuth 0 is straight ahead, + to the body's left; elevation + upwards. Degrees."""
    a, e = azimuth * (torch.pi / 180), elevation * (torch.pi / 180)
    return torch.stack((torch.sin(a) * torch.cos(e), -torch.cos(a) * torch.cos(e), torch.sin(e)), -1)


def draw_hands(d: Draw) -> dict[str, Tensor]:
    """Where the hands are in the chest's own frame: gripping a club, one-armed, or free."""
    lead_left = d.chance(0.6)
    inward = torch.where(lead_left, -1.0, 1.0)
    grip_azimuth = inward * d.uniform(-45, 85)
    grip = direction(grip_azimuth, d.uniform(-88, 75))
    grip_reach = torch.where(d.chance(0.6), d.uniform(0.88, 1.0), d.uniform(0.45, 1.0))
    kind = d.uniform(0, 1)
    both = kind < BOTH_HANDS
    hand, reach = [], []
    for k, sign in ((0, 1.0), (1, -1.0)):
        hanging = direction(d.normal(0, 40), d.uniform(-90, -60))
        crossed = direction(-sign * d.uniform(35, 75), d.uniform(-40, 20))
        on_hip = direction(sign * d.uniform(10, 60), d.uniform(-85, -60))
        anywhere = direction(sign * d.uniform(-70, 110), d.uniform(-90, 85))
        pick = d.uniform(0, 1)
        free, length = anywhere, d.uniform(0.4, 1.0)
        for share, where, span in ((0.25, hanging, (0.8, 1.0)), (0.4, crossed, (0.35, 0.65)), (0.52, on_hip, (0.45, 0.7))):
            chosen = (pick < share) & (pick >= {0.25: 0.0, 0.4: 0.25, 0.52: 0.4}[share])
            free = torch.where(chosen[:, None], where, free)
            length = torch.where(chosen, d.uniform(*span), length)
        leads = lead_left if k == 0 else ~lead_left
        gripping = both | ((kind < ONE_HAND) & leads)
        hand.append(torch.where(gripping[:, None], grip, free))
        reach.append(torch.where(gripping, grip_reach, length))
    curl = torch.where((kind < ONE_HAND)[:, None], 1.0, d.uniform(0, 1, 2))
    return dict(hand=torch.stack(hand, 1), reach=torch.stack(reach, 1), grip=both, grip_lead=lead_left, curl=curl)


def draw_legs(d: Draw) -> dict[str, Tensor]:
    """Stance, knees, feet and where the hips are above them."""
    half = torch.where(d.chance(0.85), d.uniform(0.13, 0.36), d.uniform(0.06, 0.2))
    ankle = torch.stack((torch.stack((half, d.normal(0.03, 0.04)), -1), torch.stack((-half, d.normal(0.03, 0.04)), -1)), 1)
    up = torch.stack((d.chance(0.15), d.chance(0.35)), 1)
    heel = torch.where(up, d.uniform(0, 0.15, 2), 0.0)
    yaw = d.normal(18, 13, 2) - torch.where(up, d.uniform(0, 75, 2), 0.0)
    # steps, and one foot in the air
    stepping = d.chance(0.12)
    ankle[:, :, 1] += torch.where(stepping[:, None], d.normal(0, 0.15, 2), 0.0)
    raised = torch.nn.functional.one_hot((d.uniform(0, 2)).long().clamp(0, 1), 2) * (stepping & d.chance(0.6))[:, None]
    heel = heel + raised * d.uniform(0.1, 0.5, 1)
    ankle[:, :, 0] += raised * d.normal(0, 0.25, 1)
    hips = torch.stack((d.normal(0.03, 0.09), d.normal(0.02, 0.035)), -1)
    return dict(ankle=ankle, heel=heel, foot_yaw=yaw, hips=hips, knee=d.uniform(4, 42))


def draw_bodies(d: Draw, bodies: list[int], total: int) -> Tensor:
    """Blends of two or three of the given bodies, sometimes one alone, a little beyond them too."""
    owned = torch.tensor(bodies, device=d.device)
    pick = owned[(d.uniform(0, 1, 3) * len(bodies)).long().clamp(max=len(bodies) - 1)]
    raw = d.uniform(0, 1, 3) ** 2 + 1e-3
    share = raw / raw.sum(1, keepdim=True)
    alone = torch.tensor([1.0, 0.0, 0.0], device=d.device)
    share = torch.where(d.chance(0.25)[:, None], alone, share)
    beyond = torch.tensor([1.3, -0.3, 0.0], device=d.device)
    share = torch.where(d.chance(0.12)[:, None], beyond, share)
    return torch.zeros(d.n, total, device=d.device).scatter_add_(1, pick, share)


def draw_clavicles(d: Draw, swung: Tensor, slide: Tensor) -> Tensor:
    """Shoulder girdles: as a swing slides them, or anyhow."""
    anyhow = torch.where(d.chance(0.5), d.uniform(-20, 20), d.normal(0, 6))
    clavicle = d.normal(0, 4, 2, 3)
    clavicle[:, 0, 1] -= d.normal(4, 8)
    clavicle[:, 1, 1] += d.normal(4, 8)
    clavicle[swung] *= 0.6
    clavicle[:, :, 2] -= torch.where(swung[:, None], slide, anyhow[:, None])
    return clavicle


def draw_poses(n: int, bodies: list[int], total: int, device: str, generator: torch.Generator, blend: bool = True) -> Pose:
    """A batch of poses on (blends of) the given bodies: moments of swings, and poses of any kind."""
    d = Draw(n, device, generator)
    swung = d.chance(SWINGS)
    moment = draw_moment(d)
    thorax, pelvis = draw_turns(d)
    thorax, pelvis = torch.where(swung, moment.thorax_turn, thorax), torch.where(swung, moment.pelvis_turn, pelvis)
    pelvis = torch.minimum(torch.maximum(pelvis, thorax - LARGEST_TWIST), thorax + LARGEST_TWIST)
    pelvis, thorax = draw_segments(d, thorax, pelvis, ~swung & d.chance(0.5))
    elbow = d.normal(0, 0.45, 2, 3) * torch.where(swung, 0.5, 1.0)[:, None, None] + torch.tensor([[0.3, 0.0, -1.0], [-0.3, 0.0, -1.0]], device=device)
    if blend:
        mix = draw_bodies(d, bodies, total)
    else:
        mix = torch.nn.functional.one_hot(torch.tensor(bodies, device=device)[(d.uniform(0, 1) * len(bodies)).long()], total).float()
    arms = dict(draw_hands(d), shaft=torch.nn.functional.normalize(d.normal(0, 1, 3), dim=-1))
    of_swing = dict(draw_swing_arms(d, moment), grip=True, grip_lead=True, curl=1.0)
    for name, free in arms.items():
        wanted = of_swing[name]
        mask = swung.view(-1, *[1] * (free.dim() - 1))
        arms[name] = torch.where(mask, wanted, free) if isinstance(wanted, Tensor) else torch.where(mask, torch.full_like(free, wanted), free)
    stretch = 1 + d.normal(0, 0.045, 3) * torch.tensor([1.0, 1.2, 0.6], device=device) if blend else torch.ones(n, 3, device=device)
    return Pose(pelvis=pelvis, thorax=thorax, head=draw_head(d, thorax), spine=draw_shares(d), posture=draw_posture(d), stretch=stretch, clavicle=draw_clavicles(d, swung, moment.slide),
                elbow=elbow, mix=mix, **arms, **draw_legs(d))

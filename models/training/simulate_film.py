"""Pictures of whole swings: one student, outfit, place and light for all moments of a view, as a phone would film them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Callable

import numpy as np
import torch
from torch import Tensor
from torch.nn.functional import interpolate, normalize

from camera import Camera, crop_rule
from draw import Draw
from golfer import Pose, Posed
from renderer import Renderer
from rotations import segment_rotation
from simulate_plan import Plan, View
from spoil import colours, compress, exposure, sharpen, smear
from wardrobe import Dressed

WIDE = 1.6            # side of a rendered picture in sides of the crop rule: room for where tracking looks
SIDE = 448            # its pixels: some 280 a crop


class Same(Draw):
    """One draw for all pictures of an owner: what lasts as long as a take."""

    def __init__(self, owner: Tensor, device: str, generator: torch.Generator, dtype: torch.dtype = torch.float32):
        super().__init__(len(owner), device, generator, dtype)
        self.owner = owner
        self.owners = int(owner.max()) + 1 if len(owner) else 0

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        return (low + (high - low) * torch.rand(self.owners, *shape, device=self.device, generator=self.generator, dtype=self.dtype))[self.owner]

    def normal(self, middle: float, spread: float, *shape: int) -> Tensor:
        return (middle + spread * torch.randn(self.owners, *shape, device=self.device, generator=self.generator, dtype=self.dtype))[self.owner]

    def index(self, count: int) -> Tensor:
        return torch.randint(count, (self.owners,), device=self.device, generator=self.generator)[self.owner]

    def part(self, n: int) -> Draw:
        return self if n == self.n else Same(self.owner[:n], self.device, self.generator, self.dtype)

    def some(self, which: Tensor) -> "Same":
        """For the pictures of some owners."""
        return Same(self.owner[which], self.device, self.generator, self.dtype)


@dataclass
class Shot:
    """The moments of one view of one swing."""

    plan: Plan
    view: View
    student: int          # row of the dressed bodies
    scene: int            # views of one student share a scene by role

    def times(self) -> np.ndarray:
        """The swing's times of the moments, s."""
        return self.view.time_s(self.view.frames)


@dataclass
class Film:
    """What was filmed, moment by moment of each shot in turn."""

    pictures: Tensor      # n,3,SIDE,SIDE uint8
    centre: Tensor        # n,2 middle of each picture, pixels of the frame
    side: Tensor          # n, its side in those pixels
    knees: Tensor         # n,2 flexion of the lead and trail knee, degrees
    shoulders: Tensor     # n, turn of the shoulder line, degrees


def poses(shots: list[Shot], device: str) -> Pose:
    """The poses of all moments, from the referee's channels to the training renderer's."""
    rows: dict[str, list[np.ndarray]] = {k: [] for k in (
        "pelvis", "thorax", "head", "spine", "posture", "clavicle", "hand", "reach", "elbow", "shaft", "hips", "ankle", "foot_yaw", "heel", "knee", "mix", "stretch")}
    for s in shots:
        p, t = s.plan.p, s.times()
        n = len(t)
        now = {k: np.broadcast_to(v, (n, np.shape(v)[-1])) for k, v in s.plan.keys.at(t).items()}

        def fixed(v: np.ndarray) -> np.ndarray:
            return np.broadcast_to(v, (n, *np.shape(v)))

        for k in ("pelvis", "thorax", "head"):
            rows[k].append(now[k])
        slide = now["girdle"][:, :1]
        girdle = fixed(s.plan.girdle).copy()
        girdle[:, :, 2] -= slide * (1.0, 0.6)
        foot = now["foot_r"]
        ankle = np.zeros((n, 2, 2))
        ankle[:, 0, 0], ankle[:, 1, 0], ankle[:, :, 1] = p["stance"], -p["stance"] + foot[:, 0], 0.03
        values = dict(spine=fixed(s.plan.shares), posture=fixed(s.plan.posture), clavicle=girdle, hand=now["hand_l"], reach=now["reach_l"][:, :1] * (1, 1),
                      elbow=fixed(s.plan.elbow), shaft=now["shaft"], hips=now["hips"][:, :2] + (0, 0.02), ankle=ankle,
                      foot_yaw=np.stack((np.full(n, 20.0), 20.0 - foot[:, 3]), 1), heel=np.stack((np.zeros(n), foot[:, 2]), 1),
                      knee=np.full(n, p["knee0"]), mix=fixed(s.plan.mix), stretch=fixed(s.plan.stretch))
        for k, v in values.items():
            rows[k].append(v)
    v = {k: torch.tensor(np.concatenate(x), dtype=torch.float32, device=device) for k, x in rows.items()}
    n = len(v["knee"])
    # the lead hand's direction is the world's; the renderer wants the chest's
    hand = torch.einsum("nji,nj->ni", segment_rotation(v["thorax"]), normalize(v["hand"], dim=-1))
    grip = torch.ones(n, dtype=torch.bool, device=device)
    return Pose(**{**v, "hand": hand[:, None].expand(-1, 2, -1), "shaft": normalize(v["shaft"], dim=-1)},
                grip=grip, grip_lead=grip, curl=torch.ones(n, 2, device=device))


def cameras(shots: list[Shot], posed: Posed, head: Tensor) -> tuple[Camera, Tensor, Tensor]:
    """Cameras that look at squares round the golfer, and those squares' middles and sides in pixels of the frame."""
    device = head.device

    def each(of: Callable[[View], object]) -> Tensor:
        v = np.concatenate([np.repeat(np.asarray(of(s.view), np.float32)[None], len(s.view.frames), 0) for s in shots])
        return torch.tensor(v, device=device)

    m, focal, size = each(lambda v: v.world_from_camera), each(lambda v: v.focal_px), each(lambda v: (v.width, v.height))
    rows = torch.stack((m[:, :, 0], -m[:, :, 1], -m[:, :, 2]), 1)
    n = len(rows)
    nothing = torch.zeros(n, device=device)
    camera = Camera(each(lambda v: v.eye), rows, nothing, torch.zeros(n, 2, device=device), nothing + 1, nothing, nothing, rows)
    flat = camera.plane(torch.cat((posed.joints[:, :6], head[:, None]), 1))[..., :2]
    camera.centre, side = crop_rule(flat[:, :2], flat[:, 6], flat[:, 4:6])
    camera.size = WIDE * side
    return camera, camera.centre * focal[:, None] + size / 2, camera.size * focal


def knees(posed: Posed) -> Tensor:
    """Flexion of lead and trail knee, degrees (n, 2)."""
    j = posed.joints
    a, b = j[:, 0:2] - j[:, 2:4], j[:, 4:6] - j[:, 2:4]
    return 180 - torch.rad2deg(torch.acos((normalize(a, dim=-1) * normalize(b, dim=-1)).sum(-1).clamp(-1, 1)))


def metered(h: Same, image: Tensor, cover: Tensor) -> Tensor:
    """The exposure that a phone chooses for a take: golfer and place together of a middling brightness."""
    grey, cover = image.float().mean(1, keepdim=True), cover.float()
    golfer = (grey * cover).sum((1, 2, 3)) / cover.sum((1, 2, 3)).clamp(min=1)
    bright = (0.5 * golfer + 0.5 * grey.mean((1, 2, 3))).float()
    total = torch.zeros(h.owners, device=h.device).index_add_(0, h.owner, bright)
    of_take = total / torch.bincount(h.owner, minlength=h.owners)
    gain = (h.uniform(0.25, 0.55) / of_take[h.owner].clamp(min=0.02)).clamp(0.5, 4.0)
    return image * gain.to(image.dtype)[:, None, None, None]


def phone(h: Same, image: Tensor, noise: Callable[[Tensor], Tensor]) -> Tensor:
    """What the phone does to a take: the same to all its pictures, but for noise."""
    kind = h.uniform(0, 1)
    for low, high, what in ((0.0, 0.25, smear), (0.25, 0.5, colours), (0.5, 0.75, sharpen)):
        which = (kind >= low) & (kind < high)
        if which.any():
            image[which] = what(h.some(which), image[which]).to(image.dtype)
    fine = h.uniform(0, 1)
    for low, high, share in ((0.0, 0.25, 0.8), (0.25, 0.4, 0.6)):
        which = (fine >= low) & (fine < high)
        if which.any():
            small = int(image.shape[-1] * share) // 8 * 8
            part = interpolate(image[which].float(), (small, small), mode="bilinear", antialias=True)
            image[which] = interpolate(part, image.shape[-2:], mode="bilinear").to(image.dtype)
    sigma = 0.047 * h.uniform(0, 1) ** 2
    image = (image + sigma[:, None, None, None] * noise(image)).clamp(0, 1)
    coded = h.chance(0.8)
    quality = h.uniform(0.35, 1.1)
    if coded.any():
        image[coded] = compress(image[coded], quality[coded])
    return image


class Studio(Renderer):
    """Films whole swings."""

    def dress(self, d: Draw, plans: list[Plan]) -> Dressed:
        """An outfit for each student."""
        mix, stretch = (torch.tensor(np.stack([getattr(p, k) for p in plans]), device=self.device) for k in ("mix", "stretch"))
        return self.wardrobe.dress(d, mix, stretch)

    @torch.no_grad()
    def film(self, shots: list[Shot], dressed: Dressed, generator: torch.Generator, batch: int = 400) -> Film:
        """All moments of the shots; whole scenes at a time, as many pictures as fit."""
        parts: list[list[Shot]] = []
        for s in sorted(shots, key=lambda x: x.scene):
            if parts and (parts[-1][-1].scene == s.scene or sum(len(x.view.frames) for x in parts[-1]) < batch):
                parts[-1].append(s)
            else:
                parts.append([s])
        shots[:] = [s for part in parts for s in part]
        films = [self._film(part, dressed, generator) for part in parts]
        return Film(*(torch.cat([getattr(f, k) for f in films]) for k in ("pictures", "centre", "side", "knees", "shoulders")))

    def _film(self, shots: list[Shot], dressed: Dressed, generator: torch.Generator) -> Film:
        first = min(s.scene for s in shots)
        counts = torch.tensor([len(s.view.frames) for s in shots], device=self.device)

        def owners(of: Callable[[Shot], int]) -> Tensor:
            return torch.tensor([of(s) for s in shots], device=self.device).repeat_interleave(counts)

        owner = owners(lambda s: s.scene - first)
        d, h = Same(owner, self.device, generator), Same(owner, self.device, generator, self.dtype)
        worn = dressed.take(owners(lambda s: s.student))
        posed = self.skeleton.pose(poses(shots, self.device))
        place, normal = self._skin(posed, worn.rest, worn.normal)
        marks = self._marks(posed, worn)
        camera, centre, side = cameras(shots, posed, marks[:, -1])
        light, level, ground_shade = self._light(d, place, *self._face_shape(place, normal, camera), posed.joints[:, :2].mean(1))
        layer, depth = self._golfer(h, place, worn, light, camera)
        image = self.surroundings.behind(h) * h.uniform(0.5, 1.1, 1, 1, 1)
        image = self.surroundings.ground(d, camera, image, ground_shade, level)
        image = image * (1 - layer[:, 3:]) + layer[:, :3]
        image = self._club(d, posed, camera, image, depth)
        image = exposure(h, self._hands_blur(h, image, camera, posed).clamp(0, 1))
        image = metered(h, image, layer[:, 3:]).clamp(0, 1)
        image = phone(h, image.to(self.dtype), lambda x: torch.randn(x.shape, device=self.device, dtype=x.dtype, generator=generator))
        # left-handers are mirrored pictures
        flip = torch.tensor([s.plan.lefty for s in shots], device=self.device).repeat_interleave(counts)
        width = torch.tensor([float(s.view.width) for s in shots], device=self.device).repeat_interleave(counts)
        image = torch.where(flip[:, None, None, None], image.flip(-1), image)
        centre[:, 0] = torch.where(flip, width - centre[:, 0], centre[:, 0])
        line = posed.joints[:, 6] - posed.joints[:, 7]
        shoulders = -torch.rad2deg(torch.atan2(line[:, 1], line[:, 0]))
        return Film((image.float().nan_to_num(0.5).clamp(0, 1) * 255).round().byte(), centre, side, knees(posed), shoulders)

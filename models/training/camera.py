"""Draw cameras and crops, and say what a segment rotation looks like in the crop."""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn.functional import normalize

from golfer import Posed
from draw import Draw
from recorded import fixed
from rotations import DEGREE

FACE_ON, DOWN_THE_LINE = 0.0, -90.0
# place in the crop, crop size in units of the rule, as the 33-landmark network's own errors make them
CENTRE_JITTER, SIZE_JITTER = 0.05, 0.10


@dataclass
class Camera:
    """A batch of cameras with their crops."""

    eye: Tensor        # n,3
    rows: Tensor       # n,3,3 world to camera: x right, y down, z forward
    bend: Tensor       # n radial distortion
    centre: Tensor     # n,2 crop centre on the image plane at distance 1
    size: Tensor       # n crop side on that plane
    tilt: Tensor       # n crop roll
    shear: Tensor      # n rolling shutter: sideways shift over the crop's height, crop units
    turned: Tensor     # n,3,3 world to the camera turned to look through the crop's centre

    def plane(self, points: Tensor) -> Tensor:
        """World points to the image plane at distance 1, and depth: (n, k, 3)."""
        c = torch.einsum("nij,nkj->nki", self.rows, points - self.eye[:, None])
        depth = c[..., 2:].clamp(min=0.05)
        xy = c[..., :2] / depth
        return torch.cat((xy * (1 + self.bend[:, None, None] * xy.square().sum(-1, keepdim=True)), depth), -1)

    def crop(self, plane: Tensor) -> Tensor:
        """Image plane to crop units, 0..1 inside."""
        d = plane[..., :2] - self.centre[:, None]
        c, s = torch.cos(self.tilt)[:, None], torch.sin(self.tilt)[:, None]
        u = (c * d[..., 0] + s * d[..., 1]) / self.size[:, None] + 0.5
        v = (c * d[..., 1] - s * d[..., 0]) / self.size[:, None] + 0.5
        return torch.stack((u + self.shear[:, None] * (v - 0.5), v), -1)

    def rays(self, grid: Tensor) -> Tensor:
        """Crop places (k, 2) to world directions (n, k, 3); distortion and shutter are left out."""
        d = (grid[None] - 0.5) * self.size[:, None, None]
        c, s = torch.cos(self.tilt)[:, None], torch.sin(self.tilt)[:, None]
        x = c * d[..., 0] - s * d[..., 1] + self.centre[:, None, 0]
        y = s * d[..., 0] + c * d[..., 1] + self.centre[:, None, 1]
        return torch.einsum("nji,nkj->nki", self.rows, torch.stack((x, y, torch.ones_like(x)), -1))


def crop_rule(hips: Tensor, head: Tensor, ankles: Tensor) -> tuple[Tensor, Tensor]:
    """The rule of the region of interest: middle of the hips, 2.5 times the way to the farthest of head and ankles."""
    middle = hips.mean(1)
    ends = torch.cat((head[:, None], ankles), 1)
    return middle, 2.5 * (ends - middle[:, None]).norm(dim=-1).max(1).values


def draw_azimuth(d: Draw) -> Tensor:
    """Degrees: mostly near one of the two roles, some from anywhere."""
    pick = d.uniform(0, 1)
    near = torch.where(d.chance(0.5), d.normal(0, 9), d.uniform(-24, 24))
    azimuth = torch.where(pick < 0.33, FACE_ON + near, DOWN_THE_LINE + near)
    return torch.where(pick > 0.78, d.uniform(-180, 180), azimuth)


def draw_camera(d: Draw, posed: Posed, head_top: Tensor, azimuth: Tensor | None = None, jitter: float = 1.0) -> Camera:
    """A phone somewhere round the golfer; `azimuth` fixes the role in degrees."""
    a = (draw_azimuth(d) if azimuth is None else azimuth) * DEGREE
    away, height = d.uniform(2.3, 8.0), torch.where(d.chance(0.35), d.uniform(0.4, 2.4), d.uniform(0.6, 1.7))
    joints = posed.joints
    person = joints[:, :2].mean(1)
    aim = person + d.normal(0, 0.12, 3)
    eye = torch.stack((person[:, 0] + away * torch.sin(a), person[:, 1] - away * torch.cos(a), height), -1)
    forward = normalize(aim - eye + 0.13 * away[:, None] * d.normal(0, 1, 3), dim=-1)
    up = fixed((0.0, 0.0, 1.0), eye.device).expand_as(eye)
    right = normalize(torch.linalg.cross(forward, up), dim=-1)
    down = torch.linalg.cross(forward, right)
    roll = d.normal(0, 2.5) * DEGREE
    c, s = torch.cos(roll)[:, None], torch.sin(roll)[:, None]
    rows = torch.stack((c * right + s * down, c * down - s * right, forward), 1)
    n = len(a)
    blank = torch.zeros(n, device=eye.device)
    camera = Camera(eye, rows, d.normal(0, 0.04), torch.zeros(n, 2, device=eye.device), blank + 1, blank, d.normal(0, 0.012), rows)
    flat = camera.plane(torch.cat((joints[:, :6], head_top[:, None]), 1))[..., :2]
    centre, size = crop_rule(flat[:, :2], flat[:, 6], flat[:, 4:6])
    camera.size = size * torch.exp(jitter * d.normal(0.0, SIZE_JITTER).clamp(-0.25, 0.3))
    camera.centre = centre + jitter * CENTRE_JITTER * size[:, None] * d.normal(0, 1, 2).clamp(-2.5, 2.5)
    upright = torch.einsum("nij,j->ni", rows, fixed((0.0, 0.0, -1.0), eye.device))
    # the crop is kept upright up to a few degrees, whatever the phone's roll
    level = torch.atan2(-upright[:, 0], upright[:, 1])
    camera.tilt = torch.where(d.chance(0.5), blank, level) + jitter * d.normal(0, 3.0) * DEGREE
    camera.turned = turned_rows(camera)
    return camera


def turned_rows(camera: Camera) -> Tensor:
    """World to the camera turned to look through the crop's centre, x right in the crop."""
    ray = normalize(torch.cat((camera.centre, torch.ones_like(camera.centre[:, :1])), -1), dim=-1)
    x = torch.stack((torch.cos(camera.tilt), torch.sin(camera.tilt), torch.zeros_like(camera.tilt)), -1)
    x = normalize(x - (x * ray).sum(-1, keepdim=True) * ray, dim=-1)
    return torch.stack((x, torch.linalg.cross(ray, x), ray), 1) @ camera.rows

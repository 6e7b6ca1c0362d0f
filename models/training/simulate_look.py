"""The program's way of looking at filmed swings: tracking by the landmark network, upright crops for the torso network."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Callable

import torch
from torch import Tensor
from torch.nn.functional import grid_sample

from network import POINTS, General, Seen, TorsoHead, TorsoNet, fold, load_weights, read
from renderer import MIRRORED
from simulate_film import Film, Shot

CROP = 256
HIPS, ANKLES, NOSE = (23, 24), (27, 28), 0
SIDE_PER_RADIUS = TORSO_SCALE = 2.5
INERTIA, INERTIA_PER_S = 0.5, 60.0     # pose.crop_inertia of pipelines/two-view.toml
PLAIN, FLIPPED, BOTH = 0, 1, 2
ALTERNATE_BELOW_S, SPARSE_BELOW_S = 0.025, 0.065


@dataclass
class Looks:
    """What was read in each moment; pixels of the frame."""

    region: Tensor       # n,4 landmark crop: centre, side, roll
    landmarks: Tensor    # n,33,4 x, y, visibility, presence
    world: Tensor        # n,33,3 metres
    presence: Tensor     # n
    crop: Tensor         # n,3 torso crop: centre, side
    images: Tensor       # n, PLAIN, FLIPPED or BOTH
    rotation: Tensor     # n,2,3,3
    log_sigma: Tensor    # n,2,3
    points: Tensor       # n,25,2
    log_scale: Tensor    # n,25,2 log of pixels


class PlainHead(TorsoHead):
    """The torso head of before landmarks were read as places."""

    def forward(self, m32: Tensor, m16: Tensor, m8: Tensor, m2: Tensor, places: Tensor) -> Tensor:
        """As its parent, without them."""
        fine = torch.cat((fold(m32[:, :, 4:20, 8:24]), m16[:, :, 2:10, 4:12]), 1)
        whole = torch.cat((m8, fold(m16)), 1)
        x = torch.cat((
            self.whole(whole.flatten(2).transpose(1, 2)), self.window(fine.flatten(2).transpose(1, 2)),
            self.small(m2.flatten(2).transpose(1, 2)), torch.zeros(len(m2), self.ASK, self.place.shape[1], device=m2.device)), 1) + self.place
        for layer in self.layers:
            x = layer(x)
        return self.out(self.norm(x[:, -self.ASK:]).flatten(1))


def start(path: str | Path, device: str) -> TorsoNet:
    """A trained network, of either kind of head."""
    net = TorsoNet()
    if "head.of_landmark" not in torch.load(path, map_location="cpu"):
        net.head = PlainHead(TorsoNet.OUTPUTS + POINTS)
        load_weights(net, path, strict=False)
    else:
        load_weights(net, path)
    return net.to(device).to(memory_format=torch.channels_last).eval()


def cut(film: Film, rows: Tensor, region: Tensor, frame: Tensor) -> Tensor:
    """Crops of some pictures: region (k, 4) in pixels of the frame, whose edge (k, 2) is repeated outside, (k, 3, 256, 256)."""
    a = (torch.arange(CROP, device=rows.device) + 0.5) / CROP - 0.5
    v, u = torch.meshgrid(a, a, indexing="ij")
    c, s = torch.cos(region[:, 3])[:, None, None], torch.sin(region[:, 3])[:, None, None]
    at = torch.stack((u * c - v * s, u * s + v * c), -1) * region[:, 2, None, None, None] + region[:, None, None, :2]
    at = torch.minimum(at.clamp(min=0.5), frame[:, None, None] - 0.5)
    place = (at - film.centre[rows][:, None, None]) * 2 / film.side[rows][:, None, None, None]
    return grid_sample(film.pictures[rows].float() / 255, place, padding_mode="border", align_corners=False)


def to_frame(xy: Tensor, region: Tensor) -> Tensor:
    """Places in crops (k, m, 2; 0..256) to pixels of the frame."""
    d = (xy / CROP - 0.5) * region[:, None, 2:3]
    c, s = torch.cos(region[:, 3])[:, None], torch.sin(region[:, 3])[:, None]
    return region[:, None, :2] + torch.stack((d[..., 0] * c - d[..., 1] * s, d[..., 0] * s + d[..., 1] * c), -1)


def around(hips: Tensor, circle: Tensor) -> Tensor:
    """The next landmark crop from the two points that tell it."""
    d = circle - hips
    return torch.cat((hips, SIDE_PER_RADIUS * d.norm(dim=-1, keepdim=True), torch.atan2(d[:, :1], -d[:, 1:])), -1)


def upright(landmarks: Tensor) -> Tensor:
    """The torso crop's centre and side from landmarks in pixels."""
    middle = landmarks[:, HIPS].mean(1)
    far = (landmarks[:, (NOSE, *ANKLES)] - middle[:, None]).norm(dim=-1).max(1).values
    return torch.cat((middle, TORSO_SCALE * far[:, None]), -1)


def images_of(shot: Shot) -> list[int]:
    """Which images of each moment's crop are read."""
    frames, fps = shot.view.frames, shot.view.fps
    out, before = [], None
    for f in frames.tolist():
        gap = None if before is None else (f - before) / fps
        near = gap is not None and gap < SPARSE_BELOW_S
        out.append(BOTH if 1 / fps >= ALTERNATE_BELOW_S or not near else FLIPPED if f % 2 == 0 else PLAIN)
        before = f
    return out


class Eyes:
    """The networks, and tracking."""

    def __init__(self, landmarks: Callable[[Tensor], Seen], plain: TorsoNet, mirrored: TorsoNet, device: str, batch: int = 512):
        self.landmarks, self.plain, self.mirrored, self.device, self.batch = landmarks, plain, mirrored, device, batch

    @classmethod
    def open(cls, general: str, plain: str, mirrored: str, device: str) -> "Eyes":
        """From files: GENERAL as .onnx, or `own` for the plain network's own landmark head."""
        first = start(plain, device)
        second = first if mirrored == plain else start(mirrored, device)
        if general == "own":
            return cls(lambda x: first(x).seen, first, second, device)
        net = General(general).to(device).to(memory_format=torch.channels_last)
        return cls(lambda x: net(x)[0], first, second, device)

    @torch.no_grad()
    def look(self, film: Film, shots: list[Shot]) -> Looks:
        """Everything, all views at once from moment to moment."""
        device = self.device
        counts = [len(s.view.frames) for s in shots]
        first = torch.tensor([sum(counts[:i]) for i in range(len(counts))], device=device)
        frame = torch.tensor([[float(s.view.width), float(s.view.height)] for s in shots], device=device)
        n = len(film.side)
        region, marks = torch.zeros(n, 4, device=device), torch.zeros(n, 33, 4, device=device)
        world, presence, crop = torch.zeros(n, 33, 3, device=device), torch.zeros(n, device=device), torch.zeros(n, 3, device=device)
        # the first look is where the detector would send it
        side = film.side[first] / 1.6
        now = torch.cat((film.centre[first], 1.1 * side[:, None], torch.zeros_like(side)[:, None]), -1)
        last_crop, last_s = None, None
        times = [torch.tensor(s.view.frames / s.view.fps, device=device, dtype=torch.float32) for s in shots]
        longest = max(counts)
        padded = torch.stack([torch.cat((t, t[-1:].expand(longest - len(t)))) for t in times])
        for k in range(-2, longest):
            active = torch.tensor([i for i, c in enumerate(counts) if k < c], device=device)
            rows = first[active] + max(k, 0)
            here = now[active]
            seen = self.landmarks(cut(film, rows, here, frame[active]).contiguous(memory_format=torch.channels_last))
            raw = seen.landmarks.float()
            xy = to_frame(raw[:, :35, :2], here)
            now[active] = around(xy[:, 33], xy[:, 34])
            if k < 0:
                continue
            region[rows], presence[rows] = here, seen.presence.float()[:, 0]
            marks[rows] = torch.cat((xy[:, :33], raw[:, :33, 3:].sigmoid()), -1)
            c, s = torch.cos(here[:, 3])[:, None], torch.sin(here[:, 3])[:, None]
            w = seen.world.float()[:, :33]
            world[rows] = torch.stack((w[..., 0] * c - w[..., 1] * s, w[..., 0] * s + w[..., 1] * c, w[..., 2]), -1)
            fresh = upright(xy)
            if last_crop is not None and last_s is not None:
                keep = INERTIA ** ((padded[active, k] - last_s[active]) * INERTIA_PER_S)
                fresh = torch.lerp(fresh, last_crop[active], keep[:, None])
            if last_crop is None:
                last_crop, last_s = torch.zeros(len(counts), 3, device=device), torch.zeros(len(counts), device=device)
            last_crop[active], last_s[active] = fresh, padded[active, k]
            crop[rows] = fresh
        images = torch.tensor([i for s in shots for i in images_of(s)], device=device)
        frames = frame.repeat_interleave(torch.tensor(counts, device=device), 0)
        read_ = [self._torso(film, torch.arange(i, min(i + self.batch, n), device=device), crop, frames, images) for i in range(0, n, self.batch)]
        rotation, log_sigma, points, log_scale = (torch.cat(x) for x in zip(*read_))
        return Looks(region, marks, world, presence, crop, images, rotation, log_sigma, points, log_scale)

    def _torso(self, film: Film, rows: Tensor, crop: Tensor, frames: Tensor, images: Tensor) -> tuple[Tensor, ...]:
        """Readings of some moments, mirrored ones turned back, of two the surer one counting for more."""
        region = torch.cat((crop[rows], torch.zeros(len(rows), 1, device=self.device)), -1)
        image = cut(film, rows, region, frames[rows]).contiguous(memory_format=torch.channels_last)
        a, b = read(self.plain(image).raw.float()), read(self.mirrored(image.flip(-1)).raw.float())
        f = torch.diag(torch.tensor([-1.0, 1, 1], device=self.device))
        swap = torch.tensor(MIRRORED, device=self.device)
        turned = f @ b.rotation @ f
        points = b.points[:, swap] * torch.tensor([-1.0, 1], device=self.device) + torch.tensor([1.0, 0], device=self.device)
        log_b = b.log_b[:, swap]
        weight = [1 / (2 * x.log_sigma).exp().mean(-1).clamp(min=1e-8) for x in (a, b)]
        kind = images[rows]
        share = torch.where((kind == BOTH)[:, None], weight[0] / (weight[0] + weight[1]), (kind == PLAIN).float()[:, None])
        mixed = share[..., None, None] * a.rotation + (1 - share)[..., None, None] * turned
        u, _, v = torch.linalg.svd(mixed)
        u = torch.cat((u[..., :2], u[..., 2:] * torch.linalg.det(u @ v)[..., None, None]), -1)
        half = torch.where(kind == BOTH, 0.5, (kind == PLAIN).float())[:, None, None]
        at = half * a.points + (1 - half) * points
        scale = torch.log(half * a.log_b.exp() + (1 - half) * log_b.exp())
        sigma = share[..., None] * a.log_sigma + (1 - share[..., None]) * b.log_sigma
        return u @ v, sigma, crop[rows][:, None, :2] + (at - 0.5) * crop[rows][:, None, 2:], scale + crop[rows][:, 2].log()[:, None, None]

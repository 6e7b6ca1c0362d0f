"""What is behind, under and in front of the golfer: pictures, ground, mats, boxes, nets, other people, things in the way."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Callable

import numpy as np
import torch
from PIL import Image
from torch import Tensor
from torch.nn.functional import grid_sample, interpolate

from camera import Camera
from draw import Draw


def load_bank(path: str | None, device: str, size: int = 384) -> Tensor:
    """Background squares as uint8 (k, 3, s, s); without a file, soft random colour fields."""
    if path is None or not Path(path).exists():
        g = torch.Generator().manual_seed(3)
        fields = torch.rand(8, 3, 7, 7, generator=g)
        return (interpolate(fields, (size, size), mode="bicubic").clamp(0, 1) * 255).byte().to(device)
    z = np.load(path)
    pictures = [np.asarray(Image.open(io.BytesIO(z[k].tobytes())).convert("RGB")) for k in z.files]
    return torch.tensor(np.stack(pictures), device=device).permute(0, 3, 1, 2)


def make_textures(device: str, count: int = 24, size: int = 256) -> Tensor:
    """Grey noise of several coarsenesses that tiles, mean 0 (count, 1, s, s)."""
    g = torch.Generator().manual_seed(4)
    out = torch.zeros(count, 1, size, size)
    for octave in (4, 8, 16, 32, 64, 128, 256):
        noise = torch.randn(count, 1, octave, octave, generator=g)
        out += torch.rand(count, 1, 1, 1, generator=g) * interpolate(noise, (size, size), mode="nearest")
    return (out / out.std((2, 3), keepdim=True)).to(device)


def grid_of(size: int, device: str) -> Tensor:
    """Pixel centres in crop units, (size*size, 2)."""
    a = (torch.arange(size, device=device) + 0.5) / size
    y, x = torch.meshgrid(a, a, indexing="ij")
    return torch.stack((x, y), -1).view(-1, 2)


class Surroundings:
    """Draws everything but the golfer."""

    def __init__(self, bank: str | None, size: int, device: str):
        self.bank, self.textures = load_bank(bank, device), make_textures(device)
        self.size, self.device, self.grid = size, device, grid_of(size, device)

    def _look_up(self, image: Tensor, zoom_x: Tensor, zoom_y: Tensor, shift: Tensor, mode: str) -> Tensor:
        """Sample images at crop places scaled about the middle and shifted, (-1..1 units)."""
        grid = self.grid * 2 - 1
        at = torch.stack((grid[:, 0] * zoom_x[:, None] + shift[:, :1], grid[:, 1] * zoom_y[:, None] + shift[:, 1:]), -1)
        at = at.float().view(len(image), self.size, self.size, 2)
        return grid_sample(image.float(), at, padding_mode=mode, align_corners=False).to(image.dtype)

    def behind(self, d: Draw) -> Tensor:
        """A picture from the bank, a plain wall, or blocks of colour."""
        s = self.size
        picture = self.bank[d.index(len(self.bank))].to(d.dtype) / 255
        zoom = d.uniform(0.35, 1.0)
        picture = self._look_up(picture, torch.where(d.chance(0.5), zoom, -zoom), zoom, (1 - zoom)[:, None] * d.uniform(-1, 1, 2), "reflection")
        blocks = interpolate(d.normal(0, 0.14, 3, 7, 7), (s, s), mode="nearest") + d.uniform(0.05, 0.95, 3, 1, 1)
        wall = interpolate(d.normal(0, 0.05, 3, 3, 3), (s, s), mode="bilinear") + d.uniform(0.05, 0.95, 1, 1, 1) + d.normal(0, 0.05, 3, 1, 1)
        kind = d.uniform(0, 1)[:, None, None, None]
        out = torch.where(kind < 0.6, picture, torch.where(kind < 0.8, wall, blocks))
        return self._things(d, out, 3, 0.5, 0.35).clamp(0, 1)

    def weave(self, d: Draw, layer: Tensor) -> Tensor:
        """Skin and cloth of some golfers with the grain of a picture, faint or strong: nothing real is of one colour."""
        picture = self.bank[d.index(len(self.bank))].to(d.dtype) / 255
        zoom = d.uniform(0.1, 0.9)
        picture = self._look_up(picture, zoom, zoom, (1 - zoom)[:, None] * d.uniform(-1, 1, 2), "reflection")
        picture = torch.where(d.chance(0.6)[:, None, None, None], picture.mean(1, keepdim=True), picture)
        picture = picture - picture.mean((2, 3), keepdim=True)
        strength = torch.where(d.chance(0.12), d.uniform(0.6, 1.6), 0.6 * d.uniform(0, 1) ** 2) * d.chance(0.7)
        woven = (layer[:, :3] * (1 + 2 * strength[:, None, None, None] * picture).clamp(0, 3)).clamp(0, 1.3)
        return torch.cat((woven, layer[:, 3:]), 1)

    def _things(self, d: Draw, image: Tensor, count: int, share: float, largest: float) -> Tensor:
        """Boxes, poles and round things of one colour."""
        x, y = (self.grid[:, k].view(self.size, -1).to(d.dtype) for k in (0, 1))
        for _ in range(count):
            middle, half = d.uniform(0, 1, 2, 1, 1), d.uniform(0.01, largest, 2, 1, 1) * d.uniform(0.2, 1, 2, 1, 1)
            u, v = (x - middle[:, 0]) / half[:, 0], (y - middle[:, 1]) / half[:, 1]
            inside = torch.where(d.chance(0.6)[:, None, None], torch.maximum(u.abs(), v.abs()), (u * u + v * v).sqrt()) < 1
            shade = d.uniform(0, 1, 3, 1, 1) * (1 + d.normal(0, 0.2, 1, 1, 1) * v[:, None])
            image = torch.where((inside & d.chance(share)[:, None, None])[:, None], shade, image)
        return image

    def ground(self, d: Draw, camera: Camera, image: Tensor, shade_at: Callable[[Tensor], Tensor], light: Tensor) -> Tensor:
        """Grass, mat or floor under the golfer, with the golfer's shadow; above the horizon the image stays."""
        n, s = d.n, self.size
        ray = camera.rays(self.grid)
        far = -camera.eye[:, None, 2] / ray[..., 2].clamp(max=-1e-4)
        place = camera.eye[:, None] + ray * far[..., None]
        edge = d.uniform(3, 30, 1)
        here = (ray[..., 2] < -1e-3) & (place[..., :2].norm(dim=-1) < edge) & d.chance(0.85)[:, None]
        scale = torch.exp(d.uniform(-1.0, 1.2, 1, 1))
        spot = (place[..., :2].clamp(-60, 60) * scale) % 2 - 1
        texture = self.textures[(d.uniform(0, 1) * len(self.textures)).long()]
        grain = grid_sample(texture, spot.view(n, s, s, 2), align_corners=False)[:, 0].reshape(n, -1)
        green = torch.stack((d.uniform(0.1, 0.4), d.uniform(0.25, 0.6), d.uniform(0.05, 0.3)), -1)
        base = torch.where(d.chance(0.6)[:, None], green, d.uniform(0.05, 0.9, 1) + d.normal(0, 0.06, 3))
        mat = torch.where(d.chance(0.5)[:, None], green * d.uniform(0.5, 1.6, 1), d.uniform(0.05, 0.8, 3))
        centre, half = d.normal(0, 0.3, 2), d.uniform(0.5, 1.3, 2)
        on_mat = ((place[..., :2] - centre[:, None]).abs() < half[:, None]).all(-1) & d.chance(0.35)[:, None]
        colour = torch.where(on_mat[..., None], mat[:, None], base[:, None])
        strength = d.uniform(0, 0.25, 1)
        stripes = torch.sin(place[..., 0] * d.uniform(1, 8, 1) + place[..., 1] * d.uniform(-4, 4, 1)) * (d.chance(0.2)[:, None] * 0.08)
        colour = colour * (1 + (strength * grain / (1 + 0.05 * far) + stripes))[..., None] * light[:, None]
        colour = colour * shade_at(place)[..., None]
        flat = image.flatten(2)
        return torch.where(here[:, None], colour.to(image.dtype).transpose(1, 2).clamp(0, 1), flat).view_as(image)

    def others(self, d: Draw, image: Tensor, layer: Tensor) -> Tensor:
        """Golfers of the neighbouring pictures as people further back."""
        zoom = d.uniform(1.1, 2.6)
        aside = zoom * torch.where(d.chance(0.5), 1.0, -1.0) * d.uniform(0.4, 0.95)
        shift = torch.stack((aside, zoom * d.uniform(-0.1, 0.25)), -1)
        moved = self._look_up(layer.roll(1, 0), torch.where(d.chance(0.5), zoom, -zoom), zoom, shift, "zeros")
        there = d.chance(0.25)[:, None, None, None]
        # colours come multiplied by their cover
        return image * (1 - moved[:, 3:] * there) + moved[:, :3] * there

    def in_front(self, d: Draw, image: Tensor) -> Tensor:
        """Things in the way on some pictures, and now and then a net."""
        image = self._things(d, image, 2, 0.06, 0.1)
        x, y = (self.grid[:, k].view(self.size, -1).to(d.dtype) for k in (0, 1))
        pitch = d.uniform(40, 160, 1, 1)
        # the picture's own edge cuts off head, feet or a side
        low, high = torch.where(d.chance(0.08), d.uniform(0.7, 1.0), 1.0), torch.where(d.chance(0.05), d.uniform(0.0, 0.2), 0.0)
        left, right = torch.where(d.chance(0.04), d.uniform(0, 0.3), 0.0), torch.where(d.chance(0.04), d.uniform(0.7, 1), 1.0)
        out = (y > low[:, None, None]) | (y < high[:, None, None]) | (x < left[:, None, None]) | (x > right[:, None, None])
        image = torch.where(out[:, None], (d.chance(0.15) * 0.5).to(d.dtype)[:, None, None, None], image)
        net = ((torch.sin(x * pitch) > 0.95) | (torch.sin(y * pitch) > 0.95)) & d.chance(0.05)[:, None, None]
        return torch.where(net[:, None], d.uniform(0, 1, 1, 1, 1), image)

"""What phones do to pictures: exposure, focus, movement, scaling, compression, noise. All on (n, 3, s, s), 0..1."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn.functional import avg_pool2d, conv2d, interpolate

from draw import Draw
from recorded import fixed

LUMA_TABLE = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99)


def exposure(d: Draw, image: Tensor) -> Tensor:
    """Gain, black level, colour cast and tone curve; some far over or under."""
    gain = torch.exp(torch.where(d.chance(0.1), d.normal(0, 0.5), d.normal(0, 0.2)))
    cast = torch.exp(d.normal(0, 0.06, 3))
    image = image * (gain[:, None] * cast)[:, :, None, None] + d.normal(0, 0.04, 1, 1, 1)
    image = image.clamp(0, 1) ** torch.exp(d.normal(0, 0.25, 1, 1, 1))
    grey = image.mean(1, keepdim=True)
    return (grey + (image - grey) * d.uniform(0.4, 1.35, 1, 1, 1)).clamp(0, 1)


def smear(d: Draw, image: Tensor, longest: int = 11) -> Tensor:
    """Straight movement or a little defocus: one line-shaped or round kernel a picture."""
    n = len(image)
    if n == 0:
        return image
    angle, length, width = d.uniform(0, math.pi), d.uniform(0, 1) ** 2 * longest / 2, d.uniform(0.3, 1.0)
    axis = torch.arange(longest, device=image.device, dtype=image.dtype) - longest // 2
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    along = x * torch.cos(angle)[:, None, None] + y * torch.sin(angle)[:, None, None]
    across = y * torch.cos(angle)[:, None, None] - x * torch.sin(angle)[:, None, None]
    kernel = torch.sigmoid((length[:, None, None] + 0.5 - along.abs()) * 4) * torch.exp(-0.5 * (across / width[:, None, None]) ** 2)
    kernel = kernel / kernel.sum((1, 2), keepdim=True)
    flat = image.permute(1, 0, 2, 3)
    return conv2d(flat, kernel[:, None], padding=longest // 2, groups=n).permute(1, 0, 2, 3)


def colours(d: Draw, image: Tensor) -> Tensor:
    """Hues mixed, and brightness bent by an S-shaped curve either way."""
    mix = torch.eye(3, device=image.device, dtype=image.dtype) + d.normal(0, 0.12, 3, 3)
    mix = mix / mix.sum(2, keepdim=True).clamp(min=0.3)
    bent = torch.einsum("nij,njhw->nihw", mix, image).clamp(0, 1)
    return (bent + d.uniform(-0.5, 0.9, 1, 1, 1) * bent * (1 - bent) * (2 * bent - 1)).clamp(0, 1)


def sharpen(d: Draw, image: Tensor) -> Tensor:
    """Edges raised, as phones do."""
    soft = avg_pool2d(image, 3, 1, 1, count_include_pad=False)
    return (image + d.uniform(0, 2.2, 1, 1, 1) * (image - soft)).clamp(0, 1)


def strange(d: Draw, image: Tensor, side: int) -> Tensor:
    """A random small filter across space and colour, blended in: looks that no camera gives, so that shape must tell."""
    n, _, s, _ = image.shape
    if n == 0:
        return image
    kernel = d.normal(0, 1, 3, 3, side, side)
    out = conv2d(image.reshape(1, 3 * n, s, s), kernel.view(3 * n, 3, side, side), padding=side // 2, groups=n).view(n, 3, s, s)
    out = out.float()
    out = (out - out.mean((1, 2, 3), keepdim=True)) / out.std((1, 2, 3), keepdim=True).clamp(min=1e-3)
    out = (0.5 + 0.22 * out).clamp(0, 1).to(image.dtype)
    share = d.uniform(0.1, 0.9, 1, 1, 1)
    return image * (1 - share) + out * share


def _cosines(device: torch.device, dtype: torch.dtype) -> Tensor:
    k = torch.arange(8, device=device)
    m = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    m[0] /= math.sqrt(2)
    return m.to(dtype)


def compress(image: Tensor, quality: Tensor) -> Tensor:
    """Block-transform rounding as still and video coders do; `quality` 0..1 a picture, side a multiple of 8."""
    n, c, s, _ = image.shape
    table = fixed(LUMA_TABLE, image.device, image.dtype).view(8, 8) / 255
    scale = torch.exp((0.35 - quality) * 4)
    step = table * scale[:, None, None, None, None, None]
    m = _cosines(image.device, image.dtype)
    # brightness and two colour differences, the colours rounded twice as coarsely
    y = image.mean(1, keepdim=True)
    planes = torch.cat((y, image[:, 0:1] - y, image[:, 2:3] - y), 1)
    coarse = fixed((1.0, 2.0, 2.0), image.device, image.dtype).view(1, 3, 1, 1, 1, 1)
    blocks = planes.view(n, 3, s // 8, 8, s // 8, 8).permute(0, 1, 2, 4, 3, 5)
    # one side of the block at a time, so that each is one large matrix product; blocks come out transposed
    steps = step.transpose(-1, -2) * coarse
    f = torch.round(((blocks @ m.T).transpose(-1, -2) @ m.T) / steps) * steps
    planes = ((f @ m).transpose(-1, -2) @ m).permute(0, 1, 2, 4, 3, 5).reshape(n, 3, s, s)
    y, red, blue = planes.unbind(1)
    return torch.stack((y + red, y - red - blue, y + blue), 1).clamp(0, 1)


def augment(d: Draw, image: Tensor) -> Tensor:
    """All of it, each on its share of the batch. The batch is taken in four parts, each at its own working size."""
    n, _, s, _ = image.shape
    image = exposure(d, image)
    fifth = n // 5
    tenth, rest = fifth // 2, n - 4 * fifth - fifth // 2
    image = torch.cat((
        image[:rest], smear(d.part(fifth), image[rest:rest + fifth]), colours(d.part(fifth), image[rest + fifth:rest + 2 * fifth]),
        sharpen(d.part(2 * fifth), image[rest + 2 * fifth:rest + 4 * fifth]), strange(d.part(tenth), image[rest + 4 * fifth:], 3)))
    order = d.part(n).uniform(0, 1).argsort()
    image = image[order]
    out = []
    for part, share in zip(image.chunk(4), (1.0, 1.0, 0.8, 0.5)):
        q = d.part(len(part))
        small = max(8, int(s * share) // 8 * 8)
        if small != s:
            part = interpolate(part.float(), (small, small), mode="bilinear", antialias=True).to(part.dtype)
        # noise of the sensor comes before the coder, up to about 12 of 255, seldom more
        sigma = torch.where(q.chance(0.92), 0.047 * q.uniform(0, 1) ** 2, q.uniform(0.02, 0.06))
        noise = torch.randn(part.shape, device=d.device, dtype=part.dtype, generator=d.generator)
        part = (part + sigma[:, None, None, None] * noise).clamp(0, 1)
        coded = compress(part, q.uniform(0.35, 1.1))
        part = torch.where(q.chance(0.6)[:, None, None, None], coded, part)
        if small != s:
            part = interpolate(part, (s, s), mode="bilinear")
        out.append(part)
    back = torch.empty_like(order)
    back[order] = torch.arange(n, device=d.device)
    return torch.cat(out)[back]

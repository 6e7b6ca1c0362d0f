"""Save a sheet of rendered training pictures with their points and axes drawn in, to look at.

usage: sheet.py BODIES.npz BANK.npz|none OUT.png [ROWS] [COLUMNS] [DEVICE] [SHARE OF POSES THAT ARE NO GOLF]
"""

from __future__ import annotations

import sys

import torch
from PIL import Image
from torch import Tensor

from renderer import Batch, Renderer
from stream import Stream

COLOURS = torch.tensor([[1.0, 0.1, 0.1], [0.1, 1.0, 0.1], [0.2, 0.4, 1.0]])


def draw_on(batch: Batch) -> Tensor:
    """Pictures with a dot for every point and both segments' axes (x red, y green, z blue)."""
    image = batch.image.float().cpu().clone()
    s = image.shape[-1]

    def dot(i: int, x: float, y: float, colour: Tensor, r: int = 1) -> None:
        u, v = int(x * s), int(y * s)
        if r <= u < s - r and r <= v < s - r:
            image[i, :, v - r:v + r, u - r:u + r] = colour[:, None, None]

    for i in range(len(image)):
        points, rotation = batch.points[i].cpu(), batch.rotation[i].cpu()
        for p in points:
            dot(i, float(p[0]), float(p[1]), torch.tensor([1.0, 1.0, 0.0]))
        for segment, origin in ((0, points[:2].mean(0)), (1, points[[16, 17]].mean(0))):
            for axis in range(3):
                for step in torch.linspace(0, 0.1, 26).tolist():
                    tip = origin + rotation[segment, :2, axis] * step
                    dot(i, float(tip[0]), float(tip[1]), COLOURS[axis])
    return image


def main(bodies: str, bank: str, out: str, rows: int = 4, columns: int = 8, device: str = "cpu", no_golf: float = 0.0) -> None:
    """Render rows x columns pictures, the upper half with the axes drawn in."""
    renderer = Renderer(bodies, None if bank == "none" else bank, device)
    generator = torch.Generator(device).manual_seed(11)
    total = len(renderer.wardrobe.body_rest)
    batch = Stream(renderer, list(range(total * 6 // 7)), total, rows * columns, generator, no_golf).next()
    image = batch.image.float().cpu()
    half = rows * columns // 2
    image[:half] = draw_on(batch)[:half]
    s = image.shape[-1]
    sheet = image.view(rows, columns, 3, s, s).permute(0, 3, 1, 4, 2).reshape(rows * s, columns * s, 3)
    Image.fromarray((sheet.clamp(0, 1) * 255).byte().numpy()).save(out)


if __name__ == "__main__":
    args = sys.argv[1:]
    main(*args[:3], *(int(a) for a in args[3:5]), *args[5:6], *(float(a) for a in args[6:7]))

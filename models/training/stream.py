"""Batches without end from one source of bodies: poses drawn in pools, outfits shared by a few batches, pictures."""

from __future__ import annotations

import torch

from draw import Draw
from everyday import everyday
from poses import draw_poses
from renderer import Batch, Renderer
from camera import draw_azimuth

POOL = 60          # batches of poses drawn at a time
REUSE = 3          # batches that share their dressed bodies, each in new poses, light and places


class Stream:
    """Gives `batch` pictures at a time."""

    def __init__(self, renderer: Renderer, bodies: list[int], total: int, batch: int, generator: torch.Generator, no_golf: float = 0.0, anywhere: float = 0.0):
        self.renderer, self.bodies, self.total, self.batch, self.generator = renderer, bodies, total, batch, generator
        self.no_golf, self.anywhere, self.step = no_golf, anywhere, 0

    def next(self) -> Batch:
        """The next pictures with what is true in them."""
        device, n, at = self.renderer.device, self.batch, self.step % POOL
        if at == 0:
            self.pool = draw_poses(n * POOL, self.bodies, self.total, device, self.generator)
            d = Draw(n * POOL, device, self.generator)
            self.strange = d.chance(self.no_golf)
            self.pool = everyday(d, self.pool, self.strange)
            self.pool.mix, self.pool.stretch = (x.view(POOL, n, -1)[::REUSE].repeat_interleave(REUSE, 0).flatten(0, 1) for x in (self.pool.mix, self.pool.stretch))
            self.posed = self.renderer.skeleton.pose(self.pool)
        rows = torch.arange(at * n, (at + 1) * n, device=device)
        d = Draw(n, device, self.generator)
        if self.step % REUSE == 0:
            with torch.no_grad():
                self.dressed = self.renderer.wardrobe.dress(d, self.pool.mix[rows], self.pool.stretch[rows])
        self.step += 1
        azimuth = torch.where(self.strange[rows] | d.chance(self.anywhere), d.uniform(-180, 180), draw_azimuth(d))
        return self.renderer.render(self.posed.take(rows), self.dressed, self.generator, azimuth)


def joined(batches: list[Batch]) -> Batch:
    """Several batches as one."""
    return Batch(*(torch.cat([getattr(b, k) for b in batches]) for k in ("image", "rotation", "points", "depth", "turned")))

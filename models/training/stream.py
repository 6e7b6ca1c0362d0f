"""Batches without end from one source of bodies: poses drawn in pools, outfits shared by a few batches, pictures."""

from __future__ import annotations

from dataclasses import fields

import torch

from draw import Draw
from everyday import everyday
from golfer import Posed
from poses import draw_poses
from recorded import Recorded
from renderer import Batch, Renderer
from camera import draw_azimuth
from wardrobe import Dressed

POOL = 60          # batches of poses drawn at a time
REUSE = 3          # batches that share their dressed bodies, each in new poses, light and places


class Stream:
    """Gives `batch` pictures at a time."""

    def __init__(self, renderer: Renderer, bodies: list[int], total: int, batch: int, generator: torch.Generator, no_golf: float = 0.0, anywhere: float = 0.0):
        self.renderer, self.bodies, self.total, self.batch, self.generator = renderer, bodies, total, batch, generator
        self.no_golf, self.anywhere, self.step = no_golf, anywhere, 0
        self.dress = Recorded(self._dress, renderer.device, generator)
        self.picture = Recorded(self._picture, renderer.device, generator)

    def next(self) -> Batch:
        """The next pictures with what is true in them; on a GPU they stand where the ones before stood."""
        at = self.step % POOL
        if at == 0:
            self._fill_pool()
        rows = slice(at * self.batch, (at + 1) * self.batch)
        now = (*(getattr(self.posed, f.name)[rows] for f in fields(Posed)), self.strange[rows])
        if self.step == 0:
            self.standing = tuple(x.clone() for x in now)
            self.body = self.pool.mix[rows].clone(), self.pool.stretch[rows].clone()
        torch._foreach_copy_(self.standing, now)
        if self.step % REUSE == 0:
            torch._foreach_copy_(self.body, (self.pool.mix[rows], self.pool.stretch[rows]))
            self.dressed = self.dress()
        self.step += 1
        return self.picture()

    def _fill_pool(self) -> None:
        device, n = self.renderer.device, self.batch
        self.pool = draw_poses(n * POOL, self.bodies, self.total, device, self.generator)
        d = Draw(n * POOL, device, self.generator)
        self.strange = d.chance(self.no_golf)
        self.pool = everyday(d, self.pool, self.strange)
        self.pool.mix, self.pool.stretch = (x.view(POOL, n, -1)[::REUSE].repeat_interleave(REUSE, 0).flatten(0, 1) for x in (self.pool.mix, self.pool.stretch))
        self.posed = self.renderer.skeleton.pose(self.pool)

    def _draw(self) -> Draw:
        return Draw(self.batch, self.renderer.device, self.generator)

    @torch.no_grad()
    def _dress(self) -> Dressed:
        return self.renderer.wardrobe.dress(self._draw(), *self.body)

    def _picture(self) -> Batch:
        *posed, strange = self.standing
        d = self._draw()
        azimuth = torch.where(strange | d.chance(self.anywhere), d.uniform(-180, 180), draw_azimuth(d))
        return self.renderer.render(Posed(*posed), self.dressed, self.generator, azimuth)


def joined(batches: list[Batch]) -> Batch:
    """Several batches as one."""
    return Batch(*(torch.cat([getattr(b, k) for b in batches]) for k in ("image", "rotation", "points", "depth", "turned")))

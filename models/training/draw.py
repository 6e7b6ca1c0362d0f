"""Random numbers of a batch, from an own generator."""

from __future__ import annotations

import torch
from torch import Tensor


class Draw:
    """Random numbers of one batch on one device, from an own generator."""

    def __init__(self, n: int, device: str, generator: torch.Generator, dtype: torch.dtype = torch.float32):
        self.n, self.device, self.generator, self.dtype = n, device, generator, dtype

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        return low + (high - low) * torch.rand(self.n, *shape, device=self.device, generator=self.generator, dtype=self.dtype)

    def normal(self, middle: float, spread: float, *shape: int) -> Tensor:
        return middle + spread * torch.randn(self.n, *shape, device=self.device, generator=self.generator, dtype=self.dtype)

    def index(self, count: int) -> Tensor:
        """One of so many for each picture."""
        return torch.randint(count, (self.n,), device=self.device, generator=self.generator)

    def part(self, n: int) -> "Draw":
        """The same source for another number of pictures."""
        return Draw(n, self.device, self.generator, self.dtype)

    def chance(self, p: float) -> Tensor:
        return self.uniform(0, 1) < p

"""Steps recorded once and replayed: on a GPU small batches are slowed by their many launches, not by their arithmetic."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Callable

import torch
from torch import Tensor


@lru_cache(maxsize=None)
def _made(values: Any, device: torch.device, dtype: torch.dtype) -> Tensor:
    return torch.tensor(values, device=device, dtype=dtype)


def fixed(values: Any, device: str | torch.device, dtype: torch.dtype = torch.float32) -> Tensor:
    """A constant, nested tuples of numbers, brought to the device once: a step that is recorded must copy nothing there."""
    return _made(values, torch.device(device), dtype)


class Recorded:
    """A function of tensors that stand at one place.

    On a GPU its first call runs it WARM_UP times, records it, and from then on every call replays the record: same shapes, same
    places, new random numbers. What it gives then stands at one place too and is written over by the next call. Elsewhere it is
    simply called.
    """

    WARM_UP = 3

    def __init__(self, function: Callable[[], Any], device: str, *generators: torch.Generator):
        self.function, self.device, self.generators = function, device, generators
        self.graph: Any = None

    def __call__(self) -> Any:
        if not self.device.startswith("cuda"):
            return self.function()
        if self.graph is None:
            self._record()
        self.graph.replay()
        return self.out

    def _record(self) -> None:
        aside = torch.cuda.Stream()
        aside.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(aside):
            for _ in range(self.WARM_UP):
                self.function()
        torch.cuda.current_stream().wait_stream(aside)
        torch.cuda.synchronize()
        self.graph = torch.cuda.CUDAGraph()
        for generator in self.generators:
            self.graph.register_generator_state(generator)
        # other threads of the process (of the exchange between cards, say) may go on with their own calls
        with torch.cuda.graph(self.graph, capture_error_mode="thread_local"):
            self.out = self.function()

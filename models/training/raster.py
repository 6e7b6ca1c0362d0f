"""Which face is seen at each pixel: a z-buffer as one CUDA kernel, and a slow plain version for the CPU."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import torch
from torch import Tensor

NEAR = 0.05
EMPTY = 2**63 - 1
KERNEL = r"""
extern "C" __global__ void raster(const float* v, const int* f, unsigned long long* zb, int B, int V, int F, int S) {
  long long i = (long long)blockIdx.x * blockDim.x + threadIdx.x;
  if (i >= (long long)B * F) return;
  int b = i / F, t = i % F;
  const float* vb = v + (long long)b * V * 3;
  const float *p0 = vb + f[t*3] * 3, *p1 = vb + f[t*3+1] * 3, *p2 = vb + f[t*3+2] * 3;
  float x0 = p0[0], y0 = p0[1], x1 = p1[0], y1 = p1[1], x2 = p2[0], y2 = p2[1];
  float A = (x1-x0) * (y2-y0) - (x2-x0) * (y1-y0);
  if (!(fabsf(A) > 1e-6f)) return;
  int xa = max(0, (int)floorf(fminf(x0, fminf(x1, x2)))), xb = min(S-1, (int)ceilf(fmaxf(x0, fmaxf(x1, x2))));
  int ya = max(0, (int)floorf(fminf(y0, fminf(y1, y2)))), yb = min(S-1, (int)ceilf(fmaxf(y0, fmaxf(y1, y2))));
  if (xb - xa > 160 || yb - ya > 160) return;
  float iA = 1.f / A;
  for (int y = ya; y <= yb; y++) for (int x = xa; x <= xb; x++) {
    float px = x + .5f, py = y + .5f;
    float w1 = ((px-x0) * (y2-y0) - (x2-x0) * (py-y0)) * iA;
    float w2 = ((x1-x0) * (py-y0) - (px-x0) * (y1-y0)) * iA;
    float w0 = 1 - w1 - w2;
    if (w0 < 0 || w1 < 0 || w2 < 0) continue;
    float z = w0 * p0[2] + w1 * p1[2] + w2 * p2[2];
    if (!(z > 0.05f)) continue;
    unsigned long long k = ((unsigned long long)__float_as_uint(z) << 32) | (unsigned int)t;
    atomicMin(zb + ((long long)b * S + y) * S + x, k);
  }
}
"""


@lru_cache(maxsize=1)
def _kernel() -> Any:
    import cupy

    return cupy.RawKernel(KERNEL, "raster")


def _on_gpu(points: Tensor, faces: Tensor, size: int) -> Tensor:
    import cupy
    import numpy as np

    n, vertices, _ = points.shape
    packed = torch.full((n, size, size), -1, dtype=torch.int64, device=points.device)
    count = n * len(faces)
    with cupy.cuda.Device(points.device.index or 0), cupy.cuda.ExternalStream(torch.cuda.current_stream().cuda_stream):
        _kernel()(((count + 255) // 256,), (256,), (
            # addresses rather than arrays: handing arrays over waits for the device, which a recorded step must not
            np.uintp(points.data_ptr()), np.uintp(faces.data_ptr()), np.uintp(packed.data_ptr()),
            np.int32(n), np.int32(vertices), np.int32(len(faces)), np.int32(size)))
    return packed


def _on_cpu(points: Tensor, faces: Tensor, size: int, steps: int = 8) -> Tensor:
    """Dots strewn over every face instead of filled triangles: right where faces are a few pixels at most."""
    corners = points[:, faces.long()]
    packed = torch.full((len(points), size * size), EMPTY, dtype=torch.int64)
    for i in range(steps):
        for j in range(steps - i):
            a, b = (i + 1 / 3) / steps, (j + 1 / 3) / steps
            p = corners[:, :, 0] * (1 - a - b) + corners[:, :, 1] * a + corners[:, :, 2] * b
            x, y = p[..., 0].floor().long(), p[..., 1].floor().long()
            seen = (x >= 0) & (x < size) & (y >= 0) & (y < size) & (p[..., 2] > NEAR)
            key = (p[..., 2].contiguous().view(torch.int32).long() << 32) | torch.arange(len(faces))
            key = torch.where(seen, key, EMPTY)
            packed.scatter_reduce_(1, torch.where(seen, y * size + x, 0), key, "amin")
    return torch.where(packed == EMPTY, -1, packed).view(len(points), size, size)


def rasterise(points: Tensor, faces: Tensor, size: int) -> tuple[Tensor, Tensor, Tensor]:
    """Seen or not, index of the seen face, and its depth, each (n, size, size).

    `points` is (n, vertices, 3): pixel x, pixel y and depth; `faces` is (faces, 3) int32.
    """
    points = points.contiguous().float()
    packed = (_on_gpu if points.is_cuda else _on_cpu)(points, faces, size)
    seen = packed != -1
    index = torch.where(seen, packed & 0xFFFFFFFF, 0)
    depth = (packed >> 32).to(torch.int32).view(torch.float32)
    return seen, index, torch.where(seen, depth, float("inf"))

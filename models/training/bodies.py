"""Sample adult body shapes from the `anny` package (Apache-2.0 code, CC0 body assets): pip install anny torch

usage: bodies.py BODIES.npz [COUNT SEED]     56 and 5 made data/bodies.npz, 16 and 61 data/referee_bodies.npz
"""

from __future__ import annotations

import sys

import numpy as np

COUNT, SEED = 56, 5


def main(out: str, count: int = COUNT, seed: int = SEED) -> None:
    """Draw the bodies and write skin, bones, weights and faces."""
    import anny
    import torch

    model = anny.Anny(rig="makehuman").to(dtype=torch.float32)
    still = torch.eye(4)[None, None].repeat(1, model.bone_count, 1, 1)
    rng = np.random.default_rng(seed)
    vertices, heads = [], []
    for _ in range(count):
        shape = {k: 0.5 for k in model.phenotype_labels}
        shape.update(
            gender=float(np.clip(rng.choice([0.05, 0.95]) + rng.normal(0, 0.08), 0, 1)), age=float(rng.uniform(0.42, 0.92)),
            muscle=float(rng.uniform(0.3, 0.85)), weight=float(rng.uniform(0.25, 0.85)),
            height=float(rng.uniform(0.25, 0.75)), proportions=float(rng.uniform(0.2, 0.8)))
        body = model(pose_parameters=still, phenotype_kwargs=shape)
        vertices.append(body["rest_vertices"][0].numpy())
        heads.append(body["rest_bone_heads"][0].numpy())
    np.savez_compressed(
        out, V=np.array(vertices, np.float16), H=np.array(heads, np.float32), f=np.asarray(model.faces).astype(np.int32),
        w=model.vertex_bone_weights.numpy().astype(np.float32), wi=model.vertex_bone_indices.numpy().astype(np.int16),
        labels=np.array(model.bone_labels), parents=np.array([-1 if p is None else p for p in model.bone_parents]))


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:4]))

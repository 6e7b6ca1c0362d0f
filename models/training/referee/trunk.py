"""A trunk by anatomy: how the skin and the bones between hips and neck share the way from pelvis to thorax.

The pelvis is one bone: its skin is rigid up to the iliac crest. Lumbar joints hardly twist (1.2 to 1.7 degrees a segment in
45 degrees of trunk rotation: Fujii et al. 2007, doi 10.1007/s00586-007-0373-3), most of the twist goes through the lower
ribs, and the upper rib cage is rigid again. Bending, forwards and to the side, has shares of its own: the lumbar spine does bend.
Heights are metres above the hip centres of a body with 0.53 m from hip centres to neck.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from turning import Array, from_rotation_vector, rotation_vector, rz, twist_and_bend

HIPS_TO_NECK = 0.53
LUMBAR_END, LOWER_RIBS, UPPER_RIBS, RIGID_RIBS = 0.25, 0.32, 0.35, 0.46
THIGH_ENDS, NECK_BEGINS = (0.03, 0.07), (0.525, 0.56)
COLLAR_BEGINS = (0.02, 0.07)      # from the middle, m
RIB_SLOPE = 0.1                   # how much lower a rib ends in front than behind, m
CHAIN = ("root", "spine04", "spine03", "spine02", "spine01")
TRUNK = ("root", "pelvis.L", "pelvis.R", "spine05", "spine04", "spine03", "spine02", "spine01")
INFLUENCES = 12   # bones that may move one vertex


@dataclass(frozen=True)
class Rig:
    """One body's trunk; the ranges it is drawn from are in `draw`."""

    crest: float = 0.12         # height of the iliac crest, m
    lumbar: float = 0.28        # share of the twist reached at the last lumbar vertebra
    lower: float = 0.62         # share of the twist reached at the lower ribs
    bend_lumbar: float = 0.6    # the same two shares of the bending
    bend_lower: float = 0.93

    @staticmethod
    def draw(rng: np.random.Generator) -> "Rig":
        """Shares differ from body to body."""
        return Rig(*(round(float(rng.uniform(a, b)), 3) for a, b in (
            (0.10, 0.14), (0.1, 0.4), (0.4, 0.85), (0.45, 0.75), (0.88, 0.98))))

    def twist(self) -> tuple[float, ...]:
        """Share of the twist at each bone of CHAIN."""
        return 0.0, 0.15 * self.lumbar, self.lumbar, self.lower, 1.0

    def bend(self) -> tuple[float, ...]:
        """Share of the bending at each bone of CHAIN."""
        return 0.0, 0.15 * self.bend_lumbar, self.bend_lumbar, self.bend_lower, 1.0

    def skin_share(self, height: Array, front: Array) -> Array:
        """Share of the twist of skin at a height, `front` from 0 at the back and sides to 1 on the breastbone."""
        # ribs slope: what hangs on the breastbone goes with higher vertebrae than the skin behind it
        height = height + RIB_SLOPE * front * np.interp(height, [0.2, 0.3], [0, 1])
        return np.interp(height, [self.crest, self.crest + 0.06, LUMBAR_END, LOWER_RIBS, UPPER_RIBS, RIGID_RIBS],
                         [0, 0.4 * self.lumbar, self.lumbar, self.lower, 0.97, 1])

    def spine(self, pelvis: Array, thorax: Array) -> dict[str, Array]:
        """Rotations of the trunk's bones."""
        twist, bend = twist_and_bend(pelvis.T @ thorax)
        lean = rotation_vector(bend)
        bones = {"spine05": pelvis}
        for name, t, b in list(zip(CHAIN, self.twist(), self.bend()))[1:]:
            bones[name] = pelvis @ from_rotation_vector(b * lean) @ rz(t * twist)
        return bones


def skin_weights(rig: Rig, vertices: Array, height: Array, bone: dict[str, int], weights: Array, bones: Array) -> Array:
    """Dense skinning weights (vertices x bones): the trunk's part dealt out anew by height, the rest as it was."""
    rows = np.arange(len(vertices))
    dense = np.zeros((len(vertices), len(bone)))
    np.add.at(dense, (np.repeat(rows, weights.shape[1]), bones.ravel()), weights.ravel())
    trunk = [bone[b] for b in TRUNK if b in bone]
    part = dense[:, trunk].sum(1)
    dense[:, trunk] = 0
    # bony landmarks belong to their segment: thighs, neck and collar bones do not drag the skin over it
    for starts, kept in ((("upperleg",), np.interp(height, THIGH_ENDS, [1, 0])), (("neck",), np.interp(height, NECK_BEGINS, [0, 1])),
                         (("clavicle",), np.interp(np.abs(vertices[:, 0]), COLLAR_BEGINS, [0, 1]))):
        own = [i for name, i in bone.items() if name.startswith(starts)]
        part += (dense[:, own] * (1 - kept)[:, None]).sum(1)
        dense[:, own] *= kept[:, None]
    depth = np.interp(-vertices[:, 1], np.percentile(-vertices[part > 0.5, 1], [50, 90]), [0, 1])
    shares, share = np.array(rig.twist()), rig.skin_share(height, depth)
    k = np.clip(np.searchsorted(shares, share, side="right") - 1, 0, len(shares) - 2)
    f = (share - shares[k]) / (shares[k + 1] - shares[k])
    chain = np.array([bone[c] for c in CHAIN])
    dense[rows, chain[k]] += part * (1 - f)
    dense[rows, chain[k + 1]] += part * f
    kept = np.argsort(-dense, 1)[:, :INFLUENCES]
    out = np.zeros_like(dense)
    np.put_along_axis(out, kept, np.take_along_axis(dense, kept, 1), 1)
    return out / out.sum(1, keepdims=True)

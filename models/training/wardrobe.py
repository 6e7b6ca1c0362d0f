"""Clothes, hair and hats: paint and thickness on the body's own skin, and a few loose extra surfaces.

Everything is drawn in the rest pose and carried along by the skinning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn.functional import normalize

from draw import Draw
from recorded import fixed
from photographed import Outfits
from trunk import reskin

HEAD_BONES = ("head", "temporalis", "levator", "oris", "orbicularis", "risorius", "jaw", "special", "oculi", "eye", "tongue")
TORSO_BONES = ("root", "pelvis", "spine", "breast", "clavicle", "shoulder01")
COLUMNS = 28
TUBE_HEIGHTS = (0.36, 0.30, 0.24, 0.18, 0.12, 0.06, 0.0, -0.06, -0.12)
SKIRT_ROWS = 7
SKIN_TONES = ((0.88, 0.68, 0.55), (0.75, 0.52, 0.38), (0.45, 0.30, 0.22), (0.95, 0.77, 0.68), (0.60, 0.42, 0.30), (0.30, 0.20, 0.15))


@dataclass
class Dressed:
    """Rest-pose surface of a batch: places, normals and colours of every vertex."""

    rest: Tensor       # n,v,3
    normal: Tensor     # n,v,3
    colour: Tensor     # n,v,3
    marks: Tensor      # n,11,3 surface landmarks on the bare skin, the top of the head last


def grid_faces(rows: int, columns: int, first: int, closed: bool = True) -> np.ndarray:
    """Triangles of a rows x columns sheet of vertices, closed round the columns."""
    out = []
    for i in range(rows - 1):
        for j in range(columns if closed else columns - 1):
            a, b = first + i * columns + j, first + i * columns + (j + 1) % columns
            out += [(a, b, a + columns), (b, b + columns, a + columns)]
    return np.array(out, np.int32)


class Wardrobe:
    """Knows the body's regions and dresses batches."""

    def __init__(self, path: str, device: str, outfits: str | None = None):
        z = np.load(path)
        vertices, heads = z["V"].astype(np.float32), z["H"]
        labels = [str(x) for x in z["labels"]]
        bone = {b: i for i, b in enumerate(labels)}
        count = vertices.shape[1]
        owner = z["wi"][np.arange(count), z["w"].argmax(1)]
        names = np.array([labels[i] for i in owner])
        weights = np.zeros((count, len(labels)), np.float32)
        np.add.at(weights, (np.arange(count)[:, None], z["wi"].astype(int)), z["w"])
        reskin(weights, vertices[0], self._normals(vertices[0], z["f"]), heads[0], bone)
        self.device, self.count = device, count
        self.body_rest = torch.tensor(vertices, device=device)
        self.body_normal = torch.tensor(np.stack([self._normals(v, z["f"]) for v in vertices]), device=device)
        rest, joint = vertices[0], heads[0]
        self._regions(rest, joint, bone, names)
        self._rings(rest, joint, bone, names)
        self._extras(weights, bone, z["f"])
        hip = 0.5 * (joint[bone["upperleg01.L"]] + joint[bone["upperleg01.R"]])
        place = torch.tensor((rest - hip).astype(np.float32), device=device)
        self.rest0 = place
        self._markers(rest, joint, bone, names, hip)
        self.outfits = Outfits(outfits, device, place, self.faces) if outfits else None

    @staticmethod
    def _normals(v: np.ndarray, f: np.ndarray) -> np.ndarray:
        face = np.cross(v[f[:, 1]] - v[f[:, 0]], v[f[:, 2]] - v[f[:, 0]])
        out = np.zeros_like(v)
        for k in range(3):
            np.add.at(out, f[:, k], face)
        return out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12)

    def _regions(self, rest: np.ndarray, joint: np.ndarray, bone: dict[str, int], names: np.ndarray) -> None:
        def on(*starts: str) -> Tensor:
            return torch.tensor([n.startswith(starts) for n in names], device=self.device)

        self.arm = on("upperarm", "lowerarm")
        self.leg = on("upperleg", "lowerleg")
        self.torso = on(*TORSO_BONES)
        self.foot, self.hand = on("foot", "toe"), on("wrist", "finger", "metacarpal")
        self.left = torch.tensor([n.endswith(".L") for n in names], device=self.device)
        self.head, self.neck = on(*HEAD_BONES), on("neck")
        along = np.zeros(len(rest), np.float32)
        for side in "LR":
            s, w = joint[bone["upperarm01." + side]], joint[bone["wrist." + side]]
            here = np.array([n.endswith("." + side) for n in names])
            along[here] = ((rest[here] - s) @ (w - s)) / ((w - s) @ (w - s))
        self.along_arm = torch.tensor(along, device=self.device)
        hip, ankle = joint[bone["upperleg01.L"]][2], joint[bone["foot.L"]][2]
        self.down_leg = torch.tensor(((hip - rest[:, 2]) / (hip - ankle)).astype(np.float32), device=self.device)
        head = self.head.cpu().numpy()
        top, middle = rest[head][:, 2].max(), rest[head].mean(0)
        self.above_brow = torch.tensor((rest[:, 2] - top).astype(np.float32), device=self.device)
        self.behind_face = torch.tensor((rest[:, 1] - middle[1]).astype(np.float32), device=self.device)
        self.head_top = int(np.argmax(np.where(head, rest[:, 2], -9)))
        brow = head & (abs(rest[:, 2] - (top - 0.085)) < 0.012)
        self.brow = int(np.flatnonzero(brow)[np.argmin(rest[brow][:, 1])])
        self.nape = int(np.flatnonzero(head)[np.argmax(rest[head][:, 1] - 0.3 * abs(rest[head][:, 0]))])

    def _rings(self, rest: np.ndarray, joint: np.ndarray, bone: dict[str, int], names: np.ndarray) -> None:
        """Rows of torso vertices at set heights above the hips, in order of angle."""
        hip = 0.5 * (joint[bone["upperleg01.L"]] + joint[bone["upperleg01.R"]])
        trunk = np.array([n.startswith(("root", "pelvis", "spine", "breast", "upperleg01", "upperleg02")) for n in names])
        angles = np.linspace(0, 2 * np.pi, COLUMNS, endpoint=False)

        def ring(height: float) -> list[int]:
            near = np.flatnonzero(trunk & (abs(rest[:, 2] - hip[2] - height) < 0.03))
            rel = rest[near, :2] - rest[near, :2].mean(0)
            a, r = np.arctan2(rel[:, 1], rel[:, 0]), np.hypot(rel[:, 0], rel[:, 1])
            out = []
            for t in angles:
                off = abs((a - t + np.pi) % (2 * np.pi) - np.pi)
                out.append(int(near[np.argmax(r - 0.6 * off)]))
            return out

        self.tube = torch.tensor([ring(h) for h in TUBE_HEIGHTS], device=self.device)
        self.waist = torch.tensor(ring(0.05), device=self.device)

    def _extras(self, weights: np.ndarray, bone: dict[str, int], faces: np.ndarray) -> None:
        """Skinning weights and faces of the extra surfaces: tube, skirt, brim, hair."""
        tube = weights[self.tube.cpu().numpy()]
        tube = (tube + np.roll(tube, 1, 1) + np.roll(tube, -1, 1)) / 3
        one = np.eye(weights.shape[1], dtype=np.float32)
        waist = weights[self.waist.cpu().numpy()]
        a = np.cos(np.linspace(0, 2 * np.pi, COLUMNS, endpoint=False))
        left = 1 / (1 + np.exp(-a * 4))
        thighs = left[:, None] * one[bone["upperleg01.L"]] + (1 - left)[:, None] * one[bone["upperleg01.R"]]
        t = np.linspace(0, 0.8, SKIRT_ROWS)[:, None, None]
        skirt = waist[None] * (1 - t) + thighs[None] * t
        head = np.repeat(one[bone["head"]][None], 3 * COLUMNS + 10 * COLUMNS, 0)
        rows = [weights, tube.reshape(-1, weights.shape[1]), skirt.reshape(-1, weights.shape[1]), head]
        self.weights = torch.tensor(np.concatenate(rows).astype(np.float32), device=self.device)
        f, first = [faces.astype(np.int32)], self.count
        for n_rows in (len(TUBE_HEIGHTS), SKIRT_ROWS, 3, 10):
            f.append(grid_faces(n_rows, COLUMNS, first))
            first += n_rows * COLUMNS
        self.faces = torch.tensor(np.concatenate(f), device=self.device)

    def _markers(self, rest: np.ndarray, joint: np.ndarray, bone: dict[str, int], names: np.ndarray, hip: np.ndarray) -> None:
        """Vertices nearest to the surface landmarks, in the order of the network's points."""
        trunk = np.array([n.startswith(("root", "spine", "pelvis", "upperleg")) for n in names])
        trunk_neck = trunk | np.array([n.startswith("neck") for n in names])

        def level(mask: np.ndarray, x: float, z: float) -> np.ndarray:
            return np.flatnonzero(mask & (abs(rest[:, 2] - z) < 0.02) & (abs(rest[:, 0] - x) < 0.02))

        def front(x: float, z: float) -> int:
            c = level(trunk, x, z)
            return int(c[np.argmin(rest[c, 1])])

        def back(x: float, z: float) -> int:
            c = level(trunk_neck, x, z)
            return int(c[np.argmax(rest[c, 1])])

        def near(p: np.ndarray) -> int:
            return int(np.argmin(((rest - p) ** 2).sum(1)))

        z, neck, collar = hip[2], joint[bone["neck01"]][2], joint[bone["clavicle.L"]][2]
        up = np.array([0, 0, 0.05])
        self.marked = torch.tensor([
            front(0.11, z + 0.11), front(-0.11, z + 0.11), back(0.05, z + 0.10), back(-0.05, z + 0.10),
            back(0, neck + 0.02), front(0, collar + 0.01), front(0, collar - 0.17), back(0, collar - 0.14),
            near(joint[bone["upperarm01.L"]] + up), near(joint[bone["upperarm01.R"]] + up), self.head_top], device=self.device)

    # dressing -----------------------------------------------------------------------------------------

    def bare(self, mix: Tensor, stretch: Tensor) -> Tensor:
        """Rest-pose skin of blended bodies."""
        return torch.einsum("nb,bvk->nvk", mix, self.body_rest) * stretch[:, None]

    def dress(self, d: Draw, mix: Tensor, stretch: Tensor) -> Dressed:
        """Draw an outfit for every picture."""
        rest = self.bare(mix, stretch)
        normal = normalize(torch.einsum("nb,bvk->nvk", mix, self.body_normal) / stretch[:, None], dim=-1)
        # rib cages, bellies and muscle: broad swellings of the skin, which no blend of bodies has
        swell, swell_slope = self._folds(d, rest, 0.35)
        size = (0.012 * d.uniform(0, 1) ** 1.5)[:, None]
        rest = rest + normal * ((size * swell) * self.torso)[..., None]
        bare_torso = d.chance(0.15)
        shirt, trousers, colour, over = self._paint(d, normal, bare_torso)
        skirted, tubed = d.chance(0.1), d.chance(0.35) & ~bare_torso
        worn = self.outfits.draw(d, bare_torso) if self.outfits else None
        loose_shirt = 0.004 + 0.035 * d.uniform(0, 1) ** 2
        loose_trousers = 0.004 + 0.028 * d.uniform(0, 1) ** 2
        # a shirt hangs: it stands off more towards its hem
        hang = (0.35 - self.rest0[:, 2]).clamp(0, 0.5)[None] * d.uniform(0, 1.2, 1)
        thick = shirt * loose_shirt[:, None] * (0.6 + hang) + trousers * loose_trousers[:, None]
        if worn is not None:
            one = worn.photographed[:, None]
            thick, shirt, trousers = torch.where(one, worn.thick, thick), torch.where(one, worn.cloth, shirt), torch.where(one, 0.0, trousers)
            skirted, tubed = skirted & (~worn.photographed | d.chance(0.2)), tubed & (~worn.photographed | d.chance(0.2))
        thick = thick + 0.008 * self.foot + 0.01 * (self.head & (self.above_brow > -0.085)) * d.chance(0.6)[:, None]
        cloth = shirt + trousers
        waves, slope = self._folds(d, rest)
        folded = (d.uniform(0, 1) ** 1.5)[:, None]
        # folds press in no further than the cloth stands off
        thick = thick * (1 + 0.6 * folded * waves)
        bent = slope - (slope * normal).sum(-1, keepdim=True) * normal
        depth = (thick.clamp(max=0.03) * 0.6 * folded * cloth)[..., None]
        # bare skin shows muscle and bone by its shading
        muscle = (0.010 * d.uniform(0, 1) ** 1.5)[:, None, None] * (1 - cloth)[..., None]
        swell_slope = swell_slope - (swell_slope * normal).sum(-1, keepdim=True) * normal
        shaded = normalize(normal - depth * bent * 1.5 - muscle * bent - (2 * size)[..., None] * swell_slope, dim=-1)
        body = rest + normal * thick[..., None]
        extra, extra_normal, extra_colour = self._extra_surfaces(d, rest, colour, tubed, skirted)
        colour = torch.cat((colour, extra_colour), 1)
        if worn is not None:
            colour = worn.on_faces(colour, over, self.faces.long())
        return Dressed(torch.cat((body, extra), 1), torch.cat((shaded, extra_normal), 1), colour, rest[:, self.marked])

    @staticmethod
    def _folds(d: Draw, rest: Tensor, fineness: float = 1.0) -> tuple[Tensor, Tensor]:
        """A sum of waves over the rest pose, about -1..1, and its gradient."""
        waves: Tensor | float = 0.0
        slope: Tensor | float = 0.0
        stretch = fixed((18.0, 18.0, 14.0), rest.device)
        for k, scale in enumerate((0.7, 1.2, 2.4)):
            w = d.normal(0, 1, 3) * stretch * (scale * fineness)
            phase = torch.einsum("nvk,nk->nv", rest, w) + d.uniform(0, 6.3, 1)
            gain = 0.5 / (1 + 0.5 * k)
            waves = waves + gain * torch.sin(phase)
            slope = slope + (gain * torch.cos(phase))[..., None] * w[:, None]
        return waves, slope

    def _pattern(self, d: Draw) -> Tensor:
        """Share of a garment's second colour over the rest pose: stripes, checks, blots, blocks or none."""
        q = self.rest0
        kind = d.uniform(0, 1)[:, None]
        upright = torch.where(d.chance(0.5)[:, None], fixed((0.0, 0.0, 1.0), q.device), fixed((1.0, 0.0, 0.0), q.device))
        way = torch.where(d.chance(0.6)[:, None], upright, normalize(d.normal(0, 1, 3), dim=-1))
        count = torch.exp(d.uniform(2.6, 4.7, 1))     # finer ones would be lost between vertices
        a = torch.sin(way @ q.T * count + d.uniform(0, 6.3, 1))
        b = torch.sin(way.roll(1, 1) @ q.T * count + d.uniform(0, 6.3, 1))
        stripes = torch.sigmoid((a - d.uniform(-0.8, 0.8, 1)) * torch.exp(d.uniform(0, 3, 1)))
        checks = (a * b * 4).sigmoid()
        blots = torch.sigmoid(4 * (torch.sin(d.normal(0, 22, 3) @ q.T) + torch.sin(d.normal(0, 22, 3) @ q.T) + torch.sin(d.normal(0, 12, 3) @ q.T)))
        block = torch.sigmoid(80 * (way @ q.T - d.uniform(-0.1, 0.4, 1)))
        out = torch.zeros_like(a)
        for low, high, what in ((0.45, 0.65, stripes), (0.65, 0.73, checks), (0.73, 0.83, blots), (0.83, 1.0, block)):
            out = torch.where((kind >= low) & (kind < high), what, out)
        return out

    def _paint(self, d: Draw, normal: Tensor, bare_torso: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Where shirt and trousers are (0 or 1), the colour of every vertex, and where hair, hat, shoes, socks and gloves are."""
        n, q = d.n, self.rest0
        tones = fixed(SKIN_TONES, q.device)
        skin = tones[(d.uniform(0, 1) * len(tones)).long()] * d.uniform(0.85, 1.15, 1)
        palette = d.uniform(0, 1, 10, 3) ** 1.1
        grey = d.uniform(0, 1, 10, 1).expand(-1, -1, 3)
        palette = torch.where(d.uniform(0, 1, 10, 1) < 0.45, grey, palette)
        hem = torch.where(d.chance(0.5), d.uniform(0.02, 0.13), d.uniform(-0.13, 0.02))
        sleeve = torch.where(d.chance(0.6), d.uniform(0.2, 0.5), torch.where(d.chance(0.6), d.uniform(0.9, 1.02), d.uniform(-0.05, 0.15)))
        leg = torch.where(d.chance(0.65), d.uniform(0.93, 1.05), d.uniform(0.25, 0.6))
        trunk = self.torso | self.leg
        shirt = ((self.torso | self.leg) & (q[None, :, 2] > hem[:, None])) | (self.arm & (self.along_arm < sleeve[:, None]))
        high_neck = d.chance(0.3)[:, None] & self.neck
        shirt = (shirt | high_neck) & ~bare_torso[:, None]
        trousers = trunk & ~shirt & (self.down_leg < leg[:, None]) & (q[None, :, 2] <= hem[:, None])
        colour = skin[:, None].expand(n, self.count, 3).clone()

        def put(where: Tensor, tint: Tensor) -> None:
            colour.copy_(torch.where(where[..., None], tint if tint.dim() == 3 else tint[:, None], colour))

        def mixed(first: int, second: int) -> Tensor:
            share = self._pattern(d)[..., None]
            return palette[:, None, first] * (1 - share) + palette[:, None, second] * share

        # hair and blemishes on bare skin
        patch = torch.sigmoid(3 * (torch.sin(d.normal(0, 25, 3) @ q.T) + torch.sin(d.normal(0, 18, 3) @ q.T) - d.uniform(0.2, 1.5, 1)))
        patch = (patch * (bare_torso & d.chance(0.6))[:, None] * d.uniform(0, 0.7, 1))[..., None]
        colour = colour * (1 - patch) + (0.4 * colour * d.uniform(0.3, 1, 1, 3)) * patch
        put(trousers, mixed(0, 1))
        put(trousers & self.leg & (normal[..., 0].abs() > 0.93) & d.chance(0.1)[:, None], palette[:, 1])
        put(shirt, mixed(2, 3))
        put(shirt & self.arm & d.chance(0.2)[:, None], palette[:, 4])
        front, back = normal[..., 1] < -0.2, normal[..., 1] > 0.2
        slit = q[:, 0].abs() < 0.013
        put(shirt & front & slit & (q[:, 2] > 0.25) & d.chance(0.35)[:, None], palette[:, 5])
        put(shirt & front & slit & d.chance(0.12)[:, None], palette[:, 5])
        put(shirt & (self.neck | (q[:, 2] > 0.49)) & self.torso & d.chance(0.3)[:, None], palette[:, 6])
        belt = ((q[None, :, 2] - hem[:, None]).abs() < 0.02) & self.torso & d.chance(0.5)[:, None]
        put(belt, palette[:, 7] * 0.5)
        for _ in range(3):
            place, size = d.uniform(-0.2, 0.2, 1), d.uniform(0.015, 0.09, 2)
            height = d.uniform(0.1, 0.48, 1)
            inside = ((q[:, 0] - place) / size[:, :1]).square() + ((q[:, 2] - height) / size[:, 1:]).square() < 1
            side = torch.where(d.chance(0.5)[:, None], front, back)
            put(shirt & inside & side & self.torso & d.chance(0.3)[:, None], palette[:, 8])
        before = colour.clone()
        hair = (d.uniform(0, 1, 3) * fixed((0.5, 0.4, 0.35), q.device)).clamp(0.02, 1)
        bald = d.chance(0.1)[:, None]
        put(self.head & ((self.above_brow > -0.085) | (self.behind_face > 0.03)) & ~bald, hair)
        put(self.head & (self.above_brow > -0.085) & d.chance(0.6)[:, None], palette[:, 9])
        put(self.foot, torch.where(d.chance(0.5)[:, None], 0.6 + 0.4 * palette[:, 5], palette[:, 5]))
        sock = self.leg & (self.down_leg > d.uniform(0.75, 0.95, 1)) & ~trousers & d.chance(0.6)[:, None]
        put(sock, palette[:, 6])
        put(self.hand & self.left & d.chance(0.5)[:, None], palette[:, 7] * 0.3 + 0.7)
        put(self.hand & ~self.left & d.chance(0.12)[:, None], palette[:, 7] * 0.3 + 0.7)
        over = (colour != before).any(-1)
        spots = 1 + 0.05 * torch.sin(d.normal(0, 25, 3) @ q.T + d.uniform(0, 6, 1)) + 0.03 * d.normal(0, 1, self.count)
        return shirt.float(), trousers.float(), (colour * spots[..., None]).clamp(0, 1), over

    def _extra_surfaces(self, d: Draw, rest: Tensor, colour: Tensor, tubed: Tensor, skirted: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Loose shirt or jacket, skirt, brim and hair. What is not worn shrinks to a point."""
        places, normals, tints = [], [], []
        angle = torch.linspace(0, 2 * torch.pi, COLUMNS + 1, device=rest.device)[:-1]
        out = torch.stack((torch.cos(angle), torch.sin(angle), torch.zeros_like(angle)), -1)

        def even(rel: Tensor) -> Tensor:
            for _ in range(2):
                rel = 0.5 * rel + 0.25 * rel.roll(1, 2) + 0.25 * rel.roll(-1, 2)
            return rel

        def add(p: Tensor, worn: Tensor, tint: Tensor, normal: Tensor) -> None:
            flat = p.flatten(1, 2)
            places.append(torch.where(worn[:, None, None], flat, flat[:, :1]))
            normals.append(normal.expand_as(p).flatten(1, 2))
            tints.append(tint.expand_as(p).flatten(1, 2))

        def ripples(rows: int) -> Tensor:
            t = torch.linspace(0, 1, rows, device=rest.device)[None, :, None]
            k = (d.uniform(3, 9, 1, 1)).round()
            return torch.sin(angle * k + d.normal(0, 3, 1, 1) * t + d.uniform(0, 6, 1, 1)) * t

        # loose shirt or open jacket
        ring = rest[:, self.tube]
        middle = ring.mean(2, keepdim=True)
        rel = even(ring - middle)
        t = torch.linspace(0, 1, len(TUBE_HEIGHTS), device=rest.device)[None, :, None]
        wide = 1.06 + d.uniform(0, 0.22, 1, 1) * t + d.uniform(0, 0.07, 1, 1) * ripples(len(TUBE_HEIGHTS))
        # hems end at any height: rows below fold up onto the last one
        last = d.uniform(0.62, 1.0, 1, 1)
        tube = middle + rel * wide[..., None]
        ends = (last * (len(TUBE_HEIGHTS) - 1)).long().expand(-1, 1, 1)
        row = torch.minimum(torch.arange(len(TUBE_HEIGHTS), device=rest.device)[None, :, None].expand(d.n, -1, 1), ends)
        tube = tube.gather(1, row[..., None].expand(-1, -1, COLUMNS, 3))
        of_chest = colour[:, self.tube]
        plain = of_chest[:, 2:3, 7:8]
        tint = torch.where(d.chance(0.5)[:, None, None, None], of_chest, plain)
        add(tube, tubed, tint, normalize(rel * fixed((1.0, 1.0, 0.2), rest.device), dim=-1))

        # skirt
        ring = rest[:, self.waist][:, None]
        middle = ring.mean(2, keepdim=True)
        rel = even(ring - middle)
        t = torch.linspace(0, 1, SKIRT_ROWS, device=rest.device)[None, :, None]
        flare = 1.05 + d.uniform(0.25, 0.8, 1, 1) * t + d.uniform(0, 0.12, 1, 1) * ripples(SKIRT_ROWS)
        drop = torch.zeros(d.n, SKIRT_ROWS, 1, 3, device=rest.device)
        drop[..., 2] = -(d.uniform(0.3, 0.55, 1, 1) * t)
        tint = d.uniform(0, 1, 1, 1, 3)
        add(middle + rel * flare[..., None] + drop, skirted, tint, normalize(rel, dim=-1))

        # cap peak or hat brim: a ring round the brow, pulled out in front or everywhere
        brow, top = rest[:, self.brow], rest[:, self.head_top]
        centre = torch.stack((top[:, 0], 0.5 * (brow[:, 1] + rest[:, self.nape][:, 1]), brow[:, 2] + 0.005), -1)
        radius = (brow[:, 1] - centre[:, 1]).abs()[:, None, None] * 1.05
        ahead = torch.exp(-((angle - 1.5 * torch.pi) / 0.55) ** 2)[None, None]
        hat = d.chance(0.35)[:, None, None]
        reach = torch.where(hat, d.uniform(0.04, 0.11, 1, 1) * torch.ones_like(ahead), d.uniform(0.04, 0.08, 1, 1) * ahead)
        t = torch.linspace(0, 1, 3, device=rest.device)[None, :, None]
        brim = centre[:, None, None] + out * (radius + reach * t)[..., None] * fixed((0.85, 1.0, 1.0), rest.device)
        brim = brim - torch.stack((torch.zeros_like(reach * t), torch.zeros_like(reach * t), 0.2 * reach * t), -1)
        tint = colour[:, self.head_top][:, None, None]
        add(brim, d.chance(0.5), tint, fixed((0.0, 0.0, 1.0), rest.device))

        # hair: a drop-shaped blob from the back of the head, short to shoulder long
        long_, broad = d.uniform(0.08, 0.3, 1, 1), d.uniform(0.03, 0.085, 1, 1)
        t = torch.linspace(0, 1, 10, device=rest.device)[None, :, None]
        bulge = torch.sin(torch.pi * t).clamp(min=0.02) ** 0.7
        blob = rest[:, self.nape][:, None, None] + out * (broad * bulge)[..., None]
        fall = torch.zeros(d.n, 10, 1, 3, device=rest.device)
        fall[..., 2] = 0.08 - long_ * t
        tint = d.uniform(0, 1, 1, 1, 3) * fixed((0.5, 0.4, 0.35), rest.device)
        add(blob + fall, d.chance(0.3), tint, out)
        return torch.cat(places, 1), torch.cat(normals, 1), torch.cat(tints, 1)

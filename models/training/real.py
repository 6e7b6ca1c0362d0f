"""Real pictures without labels: what holds the encoder to the real world, and what the torso head must agree on with itself.

usage: real.py REAL.npz CROPS.npz [CROPS.npz ...] [--pair CROPS_A.npz CROPS_B.npz CAMERA_A CAMERA_B EXTRINSIC_B] [--several SEEN.npz] [--to FRAME] [--masks SEGMENTER.tflite]
CROPS are written by `track.py`; cameras and extrinsics are text files as a stereo calibration writes them (a 3 x 3 matrix
after `intrinsic:`, or rotation and shift of the second camera after `R:` and `T:`). SEEN is written by `multiview.py`; frames from
FRAME on are left out, to measure on. SEGMENTER is the general landmark network as its package has it, whose person masks let pictures change their surroundings.
Only pictures whose licence allows it.
"""

from __future__ import annotations

import argparse
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Mapping

import numpy as np
import torch
from PIL import Image
from torch import Tensor
from torch.nn.functional import affine_grid, grid_sample, interpolate

from draw import Draw
from network import General, Seen, TorsoNet, read
from recorded import fixed
from rotations import from_six
from augment import colours, exposure, sharpen, smear
from surroundings import Surroundings

DRIFT_SHIFT, DRIFT_SCALE = 0.08, 0.15    # of the crop's side, and of its logarithm: how far crops drift from their person


def numbers(path: str, after: str, rows: int) -> np.ndarray:
    """Rows of numbers that follow a line in a text file."""
    lines = Path(path).read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(after)) + 1
    return np.array([[float(x) for x in line.split()] for line in lines[at:at + rows]])


def turned_rows(centre: np.ndarray, intrinsic: np.ndarray) -> np.ndarray:
    """Camera to the camera turned to look through a crop's centre, distortion left out."""
    ray = np.array([(centre[0] - intrinsic[0, 2]) / intrinsic[0, 0], (centre[1] - intrinsic[1, 2]) / intrinsic[1, 1], 1.0])
    ray /= np.linalg.norm(ray)
    x = np.array([1.0, 0, 0]) - ray[0] * ray
    x /= np.linalg.norm(x)
    return np.stack((x, np.cross(ray, x), ray))


def pack(out: str, crops: list[str], pair: list[str] | None, several: str | None = None, to: int = 10**9, quality: int = 92, segmenter: str | None = None) -> None:
    """All crops as JPEG, and the pairs of two cameras in step with the rotation from one crop's camera to the other's."""
    jpegs, first = [], {}

    def add(images: np.ndarray) -> None:
        for image in images:
            buffer = io.BytesIO()
            Image.fromarray(image).save(buffer, "JPEG", quality=quality)
            jpegs.append(np.frombuffer(buffer.getvalue(), np.uint8))

    for path in crops:
        first[path] = len(jpegs)
        add(np.load(path)["image"])
    lines = {}
    if several:
        z = np.load(several)
        use = np.flatnonzero(z["frame"] < to)
        axes = z["axes"][use]
        lines = dict(line_index=len(jpegs) + np.arange(len(use)), line_axis=axes[:, :2], line_trunk=np.repeat(axes[:, 2:], 2, 1))
        add(z["image"][use])
    pairs, turn = [], []
    if pair:
        a, b = np.load(pair[0]), np.load(pair[1])
        ka, kb, between = numbers(pair[2], "intrinsic", 3), numbers(pair[3], "intrinsic", 3), numbers(pair[4], "R:", 3)
        for i, frame in enumerate(a["frame"]):
            for j in np.flatnonzero(b["frame"] == frame):
                pairs.append((first[pair[0]] + i, first[pair[1]] + j))
                turn.append(turned_rows(b["centre"][j], kb) @ between @ turned_rows(a["centre"][i], ka).T)
    if segmenter:
        lines.update(person_masks(jpegs, segmenter))
    np.savez(out, bytes=np.concatenate(jpegs), size=np.array([len(j) for j in jpegs]), pairs=np.array(pairs, int).reshape(-1, 2), turn=np.array(turn).reshape(-1, 3, 3), **lines)
    print(len(jpegs), "pictures,", len(pairs), "pairs,", len(lines.get("line_index", [])), "with axes from several cameras")


def person_masks(jpegs: list[np.ndarray], segmenter: str) -> dict[str, np.ndarray]:
    """How much of every place is the person, by the general network, as small grey JPEG pictures."""
    from ai_edge_litert.interpreter import Interpreter

    net = Interpreter(segmenter, num_threads=1)
    net.allocate_tensors()
    into, out = net.get_input_details()[0]["index"], {o["name"]: o["index"] for o in net.get_output_details()}["Identity_2"]
    packed = []
    for jpeg in jpegs:
        image = np.asarray(Image.open(io.BytesIO(jpeg.tobytes())), np.float32) / 255
        net.set_tensor(into, image[None])
        net.invoke()
        mask = 1 / (1 + np.exp(-np.clip(net.get_tensor(out).reshape(256, 256), -30, 30)))
        buffer = io.BytesIO()
        Image.fromarray((255 * mask).round().astype(np.uint8)).resize((128, 128), Image.Resampling.BILINEAR).save(buffer, "JPEG", quality=60)
        packed.append(np.frombuffer(buffer.getvalue(), np.uint8))
    return dict(mask_bytes=np.concatenate(packed), mask_size=np.array([len(x) for x in packed]))


def _pictures(data: np.ndarray, sizes: np.ndarray) -> Tensor:
    ends = np.cumsum(sizes)
    return torch.tensor(np.stack([np.asarray(Image.open(io.BytesIO(data[e - s:e].tobytes()))) for s, e in zip(sizes, ends)]))


def unpack(z: Mapping[str, np.ndarray]) -> Tensor:
    """Packed JPEG pictures as (n, 3, 256, 256) uint8."""
    return _pictures(z["bytes"], z["size"]).permute(0, 3, 1, 2)


@dataclass
class Lines:
    """Left-right axes in the crops' turned cameras, and the axes about which their turn counts."""

    axis: Tensor         # n,2,3 pelvis, thorax; not a number where unknown
    trunk: Tensor        # n,2,3 unit, upwards


class Real:
    """The packed pictures on one device."""

    def __init__(self, path: str, device: str, surroundings: Surroundings | None = None):
        z = np.load(path)
        self.images = unpack(z).to(device)
        self.surroundings = surroundings
        self.masks = _pictures(z["mask_bytes"], z["mask_size"])[:, None].to(device) if "mask_bytes" in z else None
        self.lines = None
        if "line_index" in z:
            self.lines = Lines(torch.tensor(z["line_axis"], device=device, dtype=torch.float32), torch.tensor(z["line_trunk"], device=device, dtype=torch.float32))
            self.line_index = torch.tensor(z["line_index"], device=device)
        self.pairs, self.turn = torch.tensor(z["pairs"], device=device), torch.tensor(z["turn"], device=device, dtype=torch.float32)

    def elsewhere(self, d: Draw, pick: Tensor, image: Tensor) -> Tensor:
        """Half of the pictures with other surroundings, some with things in the way."""
        if self.surroundings is None:
            return image
        h = Draw(d.n, d.device, d.generator, image.dtype)
        if self.masks is not None:
            mask = interpolate(self.masks[pick].float() / 255, image.shape[-2:], mode="bilinear", align_corners=False)
            # the mask a little wide or narrow: where a person ends must not be told by one kind of edge
            mask = torch.sigmoid((mask - d.uniform(0.3, 0.6, 1, 1, 1)) * d.uniform(6, 20, 1, 1, 1))
            behind = self.surroundings.behind(h) * h.uniform(0.5, 1.1, 1, 1, 1)
            other = image * mask + behind * (1 - mask)
            image = torch.where(d.chance(0.5)[:, None, None, None], other, image)
        return torch.where(d.chance(0.3)[:, None, None, None], self.surroundings.in_front(h, image), image).clamp(0, 1)

    def pick(self, d: Draw) -> Tensor:
        """Some pictures, evenly."""
        return torch.randint(len(self.images), (d.n,), device=d.device, generator=d.generator)

    def moved(self, d: Draw, image: Tensor, shift: float = 0.04, scale: float = 0.12) -> Tensor:
        """A little moved, by a share of the crop's side, and scaled."""
        zoom = torch.exp(d.uniform(-scale, scale))
        a = torch.zeros(d.n, 2, 3, device=d.device)
        a[:, 0, 0], a[:, 1, 1], a[:, :, 2] = zoom, zoom, d.uniform(-2 * shift, 2 * shift, 2)    # in half sides
        return grid_sample(image, affine_grid(a, list(image.shape), align_corners=False), align_corners=False)

    def draw(self, d: Draw) -> tuple[Tensor, Tensor]:
        """Pictures as they are, and the same ones elsewhere, both moved alike, as far as crops drift when landmarks are followed."""
        pick = self.pick(d)
        image = self.images[pick].float() / 255
        both = torch.cat((image, self.elsewhere(d, pick, image)), 1)
        plain, other = self.moved(d, both, DRIFT_SHIFT, DRIFT_SCALE).split(3, 1)
        return plain, other

    def draw_lines(self, d: Draw) -> tuple[Tensor, "Lines"]:
        """Pictures whose left-right axes several calibrated cameras tell; recoloured, half of them elsewhere, half of them mirrored."""
        assert self.lines is not None
        at = d.index(len(self.line_index))
        pick = self.line_index[at]
        image = recolour(d, self.moved(d, self.elsewhere(d, pick, self.images[pick].float() / 255)))
        axis, trunk = self.lines.axis[at], self.lines.trunk[at]
        flip, f = d.chance(0.5), fixed((-1.0, 1.0, 1.0), d.device)
        mirrored = flip[:, None, None]
        return torch.where(mirrored[..., None], image.flip(-1), image), Lines(torch.where(mirrored, -axis * f, axis), torch.where(mirrored, trunk * f, trunk))

    def draw_pairs(self, d: Draw) -> tuple[Tensor, Tensor, Tensor]:
        """Two cameras' pictures of one moment, and the rotation from the first crop's camera to the second's; half of them mirrored."""
        pick = torch.randint(len(self.pairs), (d.n,), device=d.device, generator=d.generator)
        flip = d.chance(0.5)
        a, b = (torch.where(flip[:, None, None, None], x.flip(-1), x)
                for x in (self.elsewhere(d, self.pairs[pick, k], self.images[self.pairs[pick, k]].float() / 255) for k in (0, 1)))
        return a, b, torch.where(flip[:, None, None], mirrored_rotation(self.turn[pick]), self.turn[pick])


def recolour(d: Draw, image: Tensor) -> Tensor:
    """The same picture through another phone."""
    image = colours(d, exposure(d, image))
    half = d.n // 2
    return torch.cat((sharpen(d.part(half), image[:half]), smear(d.part(d.n - half), image[half:], 7)))


def mirrored_rotation(r: Tensor) -> Tensor:
    """Rotations of the mirrored picture."""
    f = torch.diag(fixed((-1.0, 1.0, 1.0), r.device))
    return f @ r @ f


def like_general(seen: Seen, general: Seen, small: Tensor, small_general: Tensor) -> Tensor:
    """How far the landmark head is from the general network, where that one sees a person."""
    sure = (general.presence * 2 - 1).clamp(0, 1)[:, :, None]
    near = (seen.landmarks[..., :2] - general.landmarks[..., :2]).abs().clamp(max=64) / 256
    depth = (seen.landmarks[..., 2:3] - general.landmarks[..., 2:3]).abs().clamp(max=128) / 512
    certain = (seen.landmarks[..., 3:].sigmoid() - general.landmarks[..., 3:].sigmoid()).abs()
    world = (seen.world - general.world).abs().clamp(max=0.5)
    there = (seen.presence - general.presence).abs().mean()
    map_ = (small - small_general).square().mean() / small_general.square().mean().clamp(min=1e-3)
    return ((20 * near.mean(-1) + 5 * depth[..., 0] + 0.5 * certain.mean(-1) + 5 * world.mean(-1)) * sure[..., 0]).mean() + 0.5 * there + 0.5 * map_


LINE_SPREAD = 0.17   # radians: how far such axes are from the truth, on a man with markers (10 degrees rms)


def of_lines(r: Tensor, line: Lines) -> Tensor:
    """How far the turn about the trunk is from what several cameras tell; far errors pull little."""
    known = torch.isfinite(line.axis).all(-1)
    target = torch.where(known[..., None], line.axis, r[..., 0].detach())
    u = line.trunk
    across = torch.linalg.cross(u, target, dim=-1)
    error = torch.atan2((r[..., 0] * across).sum(-1), (r[..., 0] * torch.linalg.cross(across, u, dim=-1)).sum(-1))
    return (torch.log1p((error / LINE_SPREAD).square()) * known).mean()


def of_pairs(r: Tensor, turn: Tensor) -> Tensor:
    """Squared distance of what two cameras say of one moment; the first half of `r` is the first camera's."""
    half = len(turn)
    return (turn[:, None] @ r[:half] - r[half:]).square().sum((-1, -2)).clamp(max=2.0).mean()


@torch.no_grad()
def settled_view(net: TorsoNet, image: Tensor) -> Tensor:
    """What the network says of plain pictures, read plain and mirrored: the rotations that other views must agree with."""
    was = net.training
    net.eval()
    both = read(net(torch.cat((image, image.flip(-1)))).raw.float()).rotation
    net.train(was)
    n = len(image)
    with torch.autocast(image.device.type, enabled=False):
        total = both[:n] + mirrored_rotation(both[n:])
        return from_six(torch.cat((total[..., 0], total[..., 1]), -1))


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("out")
    p.add_argument("crops", nargs="+")
    p.add_argument("--pair", nargs=5, default=None)
    p.add_argument("--several", default=None)
    p.add_argument("--to", type=int, default=10**9)
    p.add_argument("--masks", default=None)
    a = p.parse_args()
    pack(a.out, a.crops, a.pair, a.several, a.to, segmenter=a.masks)


if __name__ == "__main__":
    main()

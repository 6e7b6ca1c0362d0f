"""Render batches of golfers with exactly known segment rotations: picture and targets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn.functional import avg_pool2d, interpolate, normalize, pad

from camera import Camera, draw_camera
from characters import Characters
from golfer import Posed, Skeleton
from draw import Draw
from recorded import fixed
from raster import rasterise
from augment import augment
from surroundings import Surroundings
from wardrobe import Dressed, Wardrobe

CROP = 256
# left and right change places when a picture is mirrored (order of the network's 25 points)
MIRRORED = (1, 0, 3, 2, 5, 4, 7, 6, 9, 8, 11, 10, 13, 12, 15, 14, 16, 17, 18, 19, 21, 20, 22, 23, 24)
SHADOW_SIDE, SHADOW_METRES = 192, 2.8


@dataclass
class Batch:
    """Pictures and what is true in them."""

    image: Tensor        # n,3,256,256
    rotation: Tensor     # n,2,3,3 pelvis, thorax in the camera turned to the crop's centre
    points: Tensor       # n,25,2 crop units
    depth: Tensor        # n,25 metres behind the hip middle
    turned: Tensor       # n,3,3 world to that camera


def mirror(batch: Batch, which: Tensor) -> Batch:
    """Mirror some pictures, targets with them."""
    f = torch.diag(fixed((-1.0, 1.0, 1.0), which.device))
    swap = fixed(MIRRORED, which.device, torch.long)
    points = batch.points[:, swap] * fixed((-1.0, 1.0), which.device) + fixed((1.0, 0.0), which.device)
    pick = which[:, None, None]
    return Batch(
        torch.where(pick[..., None], batch.image.flip(-1), batch.image),
        torch.where(pick[..., None], f @ batch.rotation @ f, batch.rotation),
        torch.where(pick, points, batch.points),
        torch.where(which[:, None], batch.depth[:, swap], batch.depth),
        torch.where(pick, f @ batch.turned @ f, batch.turned))


def _blend(weights: Tensor, posed: Posed) -> Tensor:
    """Each vertex's blend of bone transforms: rotation row by row, then shift, (n, v, 12)."""
    return torch.einsum("vb,nbk->nvk", weights, torch.cat((posed.rotation.flatten(2), posed.shift), -1))


def _move(m: Tensor, v: Tensor) -> Tensor:
    """The rotation part of `_blend` on vectors."""
    return m[..., 0:9:3] * v[..., 0:1] + m[..., 1:9:3] * v[..., 1:2] + m[..., 2:9:3] * v[..., 2:3]


class Renderer:
    """Holds the bodies, clothes and surroundings on one device."""

    def __init__(self, bodies: str, bank: str | None, device: str, size: int = CROP, outfits: str | None = None):
        self.skeleton = Skeleton(bodies, device)
        self.wardrobe: Wardrobe = Characters(bodies, device) if "colour" in np.load(bodies) else Wardrobe(bodies, device, outfits)
        self.surroundings = Surroundings(bank, size, device)
        self.device, self.size = device, size
        self.dtype = torch.float16 if device.startswith("cuda") else torch.float32
        self.faces = self.wardrobe.faces.long()
        self.loose_face = (self.faces.max(1).values >= self.wardrobe.count)[:, None]

    def _skin(self, posed: Posed, rest: Tensor, normal: Tensor) -> tuple[Tensor, Tensor]:
        """Carry rest-pose places and normals to the pose."""
        m = _blend(self.wardrobe.weights, posed)
        return _move(m, rest) + m[..., 9:], normalize(_move(m, normal), dim=-1)

    def _light(self, d: Draw, place: Tensor, face_normal: Tensor, face_centre: Tensor, hips: Tensor):
        """Light on every face, the light on level ground, and a shadow look-up for ground points."""
        n = d.n
        height = d.uniform(0.25, 1.45)
        round_ = d.uniform(0, 2 * torch.pi)
        sun = torch.stack((torch.cos(round_) * torch.cos(height), torch.sin(round_) * torch.cos(height), torch.sin(height)), -1)
        a = normalize(torch.linalg.cross(sun, fixed((0.0, 0.0, 1.0), self.device).expand_as(sun)), dim=-1)
        axes = torch.stack((a, torch.linalg.cross(sun, a), -sun), 1)
        origin = torch.stack((hips[:, 0], hips[:, 1], torch.full_like(hips[:, 0], 0.85)), -1)

        def into(points: Tensor) -> Tensor:
            q = torch.einsum("nij,nkj->nki", axes, points - origin[:, None])
            return torch.cat(((q[..., :2] / SHADOW_METRES + 0.5) * SHADOW_SIDE, q[..., 2:] + 10), -1)

        _, _, depth = rasterise(into(place), self.wardrobe.faces, SHADOW_SIDE)
        flat = depth.flatten(1)

        def open_sky(points: Tensor, slack: float) -> Tensor:
            q = into(points)
            x, y = q[..., 0].long(), q[..., 1].long()
            inside = (x >= 0) & (x < SHADOW_SIDE) & (y >= 0) & (y < SHADOW_SIDE)
            first = flat.gather(1, torch.where(inside, y * SHADOW_SIDE + x, 0))
            return ~(inside & (q[..., 2] > first + slack))

        dark = torch.where(d.chance(0.3), 0.0, d.uniform(0.3, 1.0))[:, None]     # how hard the shadows are
        ambient, direct, second = d.uniform(0.3, 0.85, 1), d.uniform(0.2, 1.1, 1), d.uniform(0, 0.4, 1)
        other = normalize(d.normal(0, 1, 3) + fixed((0.0, 0.0, 0.4), self.device), dim=-1)
        facing = (face_normal * sun[:, None]).sum(-1).clamp(min=0)
        from_sky = ambient * (0.72 + 0.28 * face_normal[..., 2])
        fill = (face_normal * other[:, None]).sum(-1).clamp(min=0) * second
        # light from surroundings: broad, coloured, from several sides
        around = torch.zeros_like(face_normal)
        for _ in range(3):
            side = normalize(d.normal(0, 1, 3), dim=-1)
            strength = (0.6 * d.uniform(0, 1) ** 2)[:, None] * torch.exp(d.normal(0, 0.25, 3))
            around = around + (0.5 + 0.5 * (face_normal * side[:, None]).sum(-1)).square()[..., None] * strength[:, None]
        around = around * d.chance(0.6)[:, None, None]
        lit = 1 - dark * (1 - open_sky(face_centre, 0.035).float())
        tint = torch.exp(d.normal(0, 0.06, 1, 3))
        on_faces = (from_sky + fill)[..., None] + around + (facing * lit * direct)[..., None] * tint
        level = (ambient + direct * sun[:, 2:]) * torch.ones(1, 3, device=self.device)
        weight = (direct * sun[:, 2:] / (ambient + direct * sun[:, 2:] + 1e-3)) * dark.clamp(min=0.25)

        def ground_shade(points: Tensor) -> Tensor:
            contact = torch.exp(-(points[..., :2] - hips[:, None, :2]).square().sum(-1) / 0.06) * 0.25
            return (1 - weight * (1 - open_sky(points, 0.03).float())) * (1 - contact)

        return on_faces, level, ground_shade

    def _club(self, d: Draw, posed: Posed, camera: Camera, image: Tensor, nearest: Tensor) -> Tensor:
        """A thin rod with a head, fanned out when it moves fast, behind whatever of the golfer is nearer."""
        s = self.size
        start = posed.wrists - 0.1 * posed.shaft
        end = posed.wrists + d.uniform(0.65, 1.05, 1) * posed.shaft
        flat = camera.plane(torch.stack((start, end), 1))
        a, b = (camera.crop(flat[:, k:k + 1])[:, 0] * s for k in (0, 1))
        x, y = (self.surroundings.grid[:, k].view(s, s) * s for k in (0, 1))
        ab = b - a
        t = (((x - a[:, 0, None, None]) * ab[:, 0, None, None] + (y - a[:, 1, None, None]) * ab[:, 1, None, None])
             / (ab.square().sum(-1)[:, None, None] + 1e-6)).clamp(0, 1)
        off = ((x - a[:, 0, None, None] - t * ab[:, 0, None, None]).square()
               + (y - a[:, 1, None, None] - t * ab[:, 1, None, None]).square()).sqrt()
        fan = torch.where(d.chance(0.25), d.uniform(0, 0.12), 0.0)[:, None, None] * s * t
        unit = s / (camera.size * flat[:, 0, 2])[:, None, None]     # pixels a metre
        radius = 0.008 * unit + 0.35
        head = torch.sigmoid((0.04 * unit - ((x - b[:, 0, None, None]).square() + (y - b[:, 1, None, None]).square()).sqrt()) * 2)
        cover = torch.maximum(torch.sigmoid((radius + fan - off) * 2) * radius / (radius + fan), head * (fan < 1))
        depth = flat[:, 0, 2, None, None] * (1 - t) + flat[:, 1, 2, None, None] * t
        cover = cover * (depth < nearest + 0.05) * d.chance(0.85)[:, None, None]
        cover = cover[:, None].to(image.dtype)
        return image * (1 - cover) + cover * d.uniform(0.1, 1, 1, 1, 1).to(image.dtype)

    @torch.no_grad()
    def render(self, posed: Posed, dressed: Dressed, generator: torch.Generator, azimuth: Tensor | None = None, clean: bool = False) -> Batch:
        """Pictures of these poses. `azimuth` fixes the camera's role; `clean` leaves out what spoils pictures."""
        n = len(posed.joints)
        d = Draw(n, self.device, generator)
        h = Draw(n, self.device, generator, self.dtype)     # for whole pictures: half precision on a GPU
        place, normal = self._skin(posed, dressed.rest, dressed.normal)
        marks = self._marks(posed, dressed)
        camera = draw_camera(d, posed, marks[:, -1], azimuth)
        light, level, ground_shade = self._light(d, place, *self._face_shape(place, normal, camera), posed.joints[:, :2].mean(1))
        layer, depth = self._golfer(h, place, dressed, light, camera)
        people, cover = layer[:, :3], layer[:, 3:]
        image = self.surroundings.behind(h) * h.uniform(0.5, 1.1, 1, 1, 1)
        image = self.surroundings.ground(d, camera, image, ground_shade, level)
        image = self.surroundings.others(h, image, layer)
        image = image * (1 - cover) + people
        image = self._club(d, posed, camera, image, depth)
        if not clean:
            image = self.surroundings.in_front(h, image)
            image = self._hide_face(h, self._hands_blur(h, image, camera, posed), camera, posed)
            image = augment(h, image.clamp(0, 1))
        points = torch.cat((posed.joints[:, :12], marks[:, :10], posed.joints[:, 12:], posed.wrists[:, None]), 1)
        flat = camera.plane(points)
        hip_depth = flat[:, :2, 2].mean(1, keepdim=True)
        batch = Batch(image.float().nan_to_num(0.5).clamp(0, 1), camera.turned[:, None] @ posed.segments, camera.crop(flat), flat[..., 2] - hip_depth, camera.turned)
        return batch if clean else mirror(batch, d.chance(0.5))

    def _face_shape(self, place: Tensor, normal: Tensor, camera: Camera) -> tuple[Tensor, Tensor]:
        """Normal and middle of every face; loose surfaces are seen from both sides."""
        faces = self.faces
        a, b, c = (place[:, faces[:, k]] for k in range(3))
        plane = normalize(torch.linalg.cross(b - a, c - a), dim=-1)
        smooth = normal[:, faces[:, 0]] + normal[:, faces[:, 1]] + normal[:, faces[:, 2]]
        shape = normalize(smooth / 3 + 0.25 * plane, dim=-1)
        centre = (a + b + c) / 3
        away = ((shape * (camera.eye[:, None] - centre)).sum(-1, keepdim=True) < 0) & self.loose_face
        return torch.where(away, -shape, shape), centre

    def _golfer(self, h: Draw, place: Tensor, dressed: Dressed, light: Tensor, camera: Camera) -> tuple[Tensor, Tensor]:
        """The golfer alone, colours times cover and cover (n,4,s,s), and the depth of what is seen."""
        n, side, faces = h.n, 2 * self.size, self.faces
        colour = dressed.colour
        # colours belong to vertices, or, where they come from pictures, to faces
        own = colour if colour.shape[1] == len(faces) else (colour[:, faces[:, 0]] + colour[:, faces[:, 1]] + colour[:, faces[:, 2]]) / 3
        paint = (own * light).clamp(0, 1.3)
        table = pad(pad(paint, (0, 1), value=1.0), (0, 0, 0, 1)).to(h.dtype)
        flat = camera.plane(place)
        seen, index, depth = rasterise(torch.cat((camera.crop(flat) * side, flat[..., 2:]), -1), self.wardrobe.faces, side)
        rows = table.shape[1]
        index = torch.where(seen, index, rows - 1) + rows * torch.arange(n, device=self.device)[:, None, None]
        layer = table.view(-1, 4)[index.view(-1)].view(n, side, side, 4).permute(0, 3, 1, 2)
        # some phones shrink pictures by leaving pixels out
        rough = h.chance(0.2)[:, None, None, None]
        layer = torch.where(rough, layer[..., ::2, ::2], avg_pool2d(layer, 2)).contiguous()
        return self.surroundings.weave(h, layer), depth[:, ::2, ::2]

    def _marks(self, posed: Posed, dressed: Dressed) -> Tensor:
        """Surface landmarks in the world, the top of the head last: (n, 11, 3)."""
        m = _blend(self.wardrobe.weights[self.wardrobe.marked], posed)
        return _move(m, dressed.marks) + m[..., 9:]

    def _hands_blur(self, d: Draw, image: Tensor, camera: Camera, posed: Posed) -> Tensor:
        """Hands and forearms of some pictures smeared, as in the downswing."""
        s = self.size
        soft = interpolate(avg_pool2d(image, 5, 2, 2), (s, s), mode="bilinear")
        hand = (camera.crop(camera.plane(posed.wrists[:, None]))[:, 0] * s).clamp(-999, 999).to(d.dtype)
        x, y = ((self.surroundings.grid[:, k].view(s, s) * s).to(d.dtype) for k in (0, 1))
        far = torch.maximum((x - hand[:, 0, None, None]).abs(), (y - hand[:, 1, None, None]).abs())
        share = torch.sigmoid((d.uniform(8, 30, 1, 1) - far) / 4) * d.chance(0.3)[:, None, None]
        return image + (soft - image) * share[:, None]

    def _hide_face(self, d: Draw, image: Tensor, camera: Camera, posed: Posed) -> Tensor:
        """Faces of some pictures made unknowable by coarse squares: the turn must be seen without them."""
        s, side = self.size, 8
        coarse = interpolate(avg_pool2d(image, side), (s, s), mode="nearest")
        head, neck = (camera.crop(camera.plane(posed.joints[:, k:k + 1]))[:, 0] * s for k in (13, 12))
        head = (head + 0.6 * (head - neck)).clamp(-999, 999).to(d.dtype)
        x, y = ((self.surroundings.grid[:, k].view(s, s) * s).to(d.dtype) for k in (0, 1))
        far = torch.maximum((x - head[:, 0, None, None]).abs(), (y - head[:, 1, None, None]).abs())
        hidden = (far < d.uniform(6, 22, 1, 1)) & d.chance(0.15)[:, None, None]
        return torch.where(hidden[:, None], coarse, image)

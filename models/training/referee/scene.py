"""The referee's picture of a golfer: a general renderer (pyrender), nothing shared with the training renderer."""

from __future__ import annotations

from typing import Any

import numpy as np
import trimesh

from headless import pyrender
from outfit import Outfit
from surroundings import build
from take import Take
from turning import Array


class Scene:
    """A place and one clothed golfer that can be set to any time."""

    def __init__(self, take: Take):
        config, self.take = take.config, take
        seed, place = config.get("scene", 0), config.get("place", "hall" if config.get("indoor") else "range")
        self.outfit = Outfit(take.golfer, np.random.default_rng([seed, 1]), config.get("white", False))
        eyes = [np.array(v["eye"], float) for v in config["views"].values()]
        self.scene = build(place, eyes, np.random.default_rng([seed, 2]))
        self.club = config.get("club", 0.9)
        if take.real is not None:
            at = take.golfer.pose(take.real["imp"])
            if "club" not in config:   # one that reaches the ground
                self.club = float(np.clip((at.wrists[2] - 0.03) / max(-at.shaft[2], 0.3), 0.7, 1.2))
        if take.real is not None and take.real["ball"]:
            spot = at.wrists + at.shaft * self.club
            ball = trimesh.creation.icosphere(2, 0.0214)
            ball.visual.vertex_colors = [255, 255, 255, 255]
            ball.apply_translation([spot[0] + 0.03, spot[1], 0.03])
            self.scene.add(pyrender.Mesh.from_trimesh(ball))
        self.moving: list[Any] = []

    def set(self, t: float) -> None:
        """Put golfer and club where they are at a time of the clip's clock."""
        now, g = self.take.pose(t), self.take.golfer
        for node in self.moving:
            self.scene.remove_node(node)
        dressed = now.skin + g.normals(now.skin) * self.outfit.loose[:, None]
        body = pyrender.Mesh([pyrender.Primitive(positions=dressed, normals=g.normals(dressed), indices=g.faces,
                                                 color_0=self.outfit.colour / 255.0, mode=4,
                                                 material=pyrender.MetallicRoughnessMaterial(alphaMode="OPAQUE", metallicFactor=0.2, roughnessFactor=0.8))])
        things = [self._club(now.wrists, now.shaft)] if self.club else []
        if self.take.config.get("bag"):
            foot = now.neck + now.thorax @ np.array([-0.2, 0.24, -0.75])
            bag = trimesh.creation.cylinder(0.12, segment=[foot, now.neck + now.thorax @ np.array([0.2, 0.26, 0.15])])
            bag.visual.vertex_colors = [40, 44, 60, 255]
            things.append(bag)
        self.moving = [self.scene.add(body)]
        if things:
            self.moving.append(self.scene.add(pyrender.Mesh.from_trimesh(trimesh.util.concatenate(things), smooth=False)))

    def _club(self, wrists: Array, shaft: Array) -> trimesh.Trimesh:
        rod = trimesh.creation.cylinder(0.007, segment=[wrists - shaft * 0.1, wrists + shaft * (self.club - 0.02)])
        rod.visual.vertex_colors = [190, 190, 195, 255]
        head = trimesh.creation.box([0.08, 0.03, 0.05])
        head.apply_translation(wrists + shaft * self.club)
        head.visual.vertex_colors = [120, 120, 125, 255]
        return trimesh.util.concatenate([rod, head])

    def shoot(self, renderer: pyrender.OffscreenRenderer, k: Array, m: Array) -> Array:
        """One picture, uint8 RGB."""
        lens = pyrender.IntrinsicsCamera(k[0, 0], k[1, 1], k[0, 2], k[1, 2], znear=0.05, zfar=80)
        node = self.scene.add(lens, pose=m)
        image, _ = renderer.render(self.scene)
        self.scene.remove_node(node)
        return image

"""The referee's picture of a golfer: a general renderer (pyrender), nothing shared with the training renderer."""

from __future__ import annotations

import os
from typing import Any

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")

import numpy as np
import pyrender
import trimesh
from PIL import Image

from golfer import Array, Golfer
from lens import look_at

HEAD_BONES = ("head", "temporalis", "levator", "oris", "orbicularis", "risorius", "jaw", "special", "oculi", "eye")
SKIN = ((224, 172, 140), (190, 130, 95), (120, 80, 55), (240, 195, 170))
SHIRT = ((60, 90, 160), (230, 230, 235), (150, 40, 50), (40, 120, 90), (30, 30, 40))
TROUSERS = ((50, 50, 60), (170, 155, 125), (90, 95, 105), (235, 235, 230))
HAIR = ((50, 35, 25), (120, 85, 50), (20, 18, 18))
CAP = ((240, 240, 240), (30, 40, 80), (160, 30, 30))
WHITE = (235, 235, 235)


class Scene:
    """Ground, boxes, lights, and one clothed golfer that can be set to any time."""

    def __init__(self, golfer: Golfer, seed: int, indoor: bool, club: float):
        self.golfer, self.club = golfer, club
        rng = np.random.default_rng(seed)
        self._dress(rng)
        sky = [90, 90, 95, 255] if indoor else [150, 185, 225, 255]
        self.scene = pyrender.Scene(ambient_light=[0.35] * 3, bg_color=sky)
        self._surroundings(rng, indoor)
        self.moving: list[Any] = []

    def _dress(self, rng: np.random.Generator) -> None:
        g = self.golfer
        skin = np.array(SKIN[rng.integers(4)], float)
        shirt = np.array(SHIRT[rng.integers(5)], float)
        trousers = np.array(TROUSERS[rng.integers(4)], float)
        hair = np.array(HAIR[rng.integers(3)], float)
        cap = np.array(CAP[rng.integers(3)], float)
        owner = g.weight_bones[np.arange(len(g.vertices)), g.weights.argmax(1)]
        names = [g.labels[i] for i in owner]

        def on(*starts: str) -> Array:
            return np.array([n.startswith(starts) for n in names])

        rest = g.vertices
        colour = np.tile(skin, (len(rest), 1))
        loose = np.zeros(len(rest))
        for where, tint, puff in (
            (on("spine", "breast", "clavicle", "shoulder01", "upperarm01"), shirt, 0.012),
            (on("root", "pelvis", "upperleg", "lowerleg"), trousers, 0.012),
            (on("foot", "toe"), np.array(WHITE, float), 0.008),
        ):
            colour[where], loose[where] = tint, puff
        glove = on("wrist", "finger", "metacarpal") & np.array([n.endswith(".L") for n in names])
        colour[glove] = 240
        torso = on("root", "spine", "pelvis", "upperleg")
        hem = g.hip_middle[2] + 0.07 + 0.004 * np.sin(rest[:, 0] * 60)
        above = rest[:, 2] > hem
        colour[torso] = np.where(above[torso][:, None], shirt, trousers)
        loose[torso & above & (rest[:, 2] < hem + 0.02)] = 0.017
        head = on(*HEAD_BONES)
        top = head & (rest[:, 2] > rest[:, 2].max() - 0.085)
        colour[top], loose[top] = cap, 0.012
        colour[head & (rest[:, 1] > rest[head].mean(0)[1] + 0.03) & ~top] = hair
        colour *= rng.normal(1, 0.03, (len(colour), 1))
        q = rest * 18
        folds = np.sin(q[:, 0] * 1.7 + 1.3 * np.sin(q[:, 2])) * np.sin(q[:, 2] * 1.1 + q[:, 1])
        self.loose = loose * (1 + 0.45 * folds)
        self.colour = np.c_[np.clip(colour, 0, 255).astype(np.uint8), np.full(len(rest), 255, np.uint8)]

    def _surroundings(self, rng: np.random.Generator, indoor: bool) -> None:
        base = np.array([60, 110, 70] if indoor else [70, 120, 55])
        texture = np.clip(rng.normal(0, 14, (256, 256, 1)) + base, 0, 255).astype(np.uint8)
        ground = trimesh.Trimesh([[-12, -12, 0], [12, -12, 0], [12, 12, 0], [-12, 12, 0]], [[0, 1, 2], [0, 2, 3]], process=False)
        ground.visual = trimesh.visual.TextureVisuals(uv=[[0, 0], [14, 0], [14, 14], [0, 14]], image=Image.fromarray(texture))
        self.scene.add(pyrender.Mesh.from_trimesh(ground, smooth=False))
        for _ in range(26):
            a, r, height = rng.uniform(0, 2 * np.pi), rng.uniform(6, 11), rng.uniform(0.6, 4)
            box = trimesh.creation.box([rng.uniform(0.4, 2.5), rng.uniform(0.4, 2.5), height])
            box.apply_translation([r * np.cos(a), r * np.sin(a), height / 2])
            box.visual.vertex_colors = np.r_[rng.integers(30, 200, 3), 255]
            self.scene.add(pyrender.Mesh.from_trimesh(box, smooth=False))
        _, _, wrists, shaft = self.golfer.pose(self.golfer.swing["t_imp"])
        spot = wrists + shaft * 0.9
        ball = trimesh.creation.icosphere(2, 0.0214)
        ball.visual.vertex_colors = [255, 255, 255, 255]
        ball.apply_translation([spot[0] + 0.03, spot[1], 0.03])
        self.scene.add(pyrender.Mesh.from_trimesh(ball))
        sun = look_at([2.5 * rng.choice([-1, 1]), -3, 5], [0, 0, 1])
        self.scene.add(pyrender.DirectionalLight(color=[1, 0.97, 0.92], intensity=3.2), pose=sun)
        self.scene.add(pyrender.DirectionalLight(color=[0.8, 0.85, 1], intensity=1.2), pose=look_at([-3, 3, 3], [0, 0, 1]))

    def set(self, t: float) -> None:
        """Put golfer and club where they are at a time."""
        skin, _, wrists, shaft = self.golfer.pose(t)
        for node in self.moving:
            self.scene.remove_node(node)
        bare = trimesh.Trimesh(skin, self.golfer.faces, process=False)
        dressed = trimesh.Trimesh(skin + bare.vertex_normals * self.loose[:, None], self.golfer.faces,
                                  vertex_colors=self.colour, process=False)
        rod = trimesh.creation.cylinder(0.007, segment=[wrists - shaft * 0.1, wrists + shaft * (self.club - 0.02)])
        rod.visual.vertex_colors = [190, 190, 195, 255]
        head = trimesh.creation.box([0.08, 0.03, 0.05])
        head.apply_translation(wrists + shaft * self.club)
        head.visual.vertex_colors = [120, 120, 125, 255]
        self.moving = [
            self.scene.add(pyrender.Mesh.from_trimesh(dressed, smooth=True)),
            self.scene.add(pyrender.Mesh.from_trimesh(trimesh.util.concatenate([rod, head]), smooth=False)),
        ]

    def shoot(self, renderer: pyrender.OffscreenRenderer, k: Array, m: Array) -> Array:
        """One picture, uint8 RGB."""
        lens = pyrender.IntrinsicsCamera(k[0, 0], k[1, 1], k[0, 2], k[1, 2], znear=0.05, zfar=60)
        node = self.scene.add(lens, pose=m)
        image, _ = renderer.render(self.scene)
        self.scene.remove_node(node)
        return image

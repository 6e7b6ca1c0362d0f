"""Where the golfer stands: ground, sky, walls, boxes and lights."""

from __future__ import annotations

import numpy as np
import trimesh
from PIL import Image

from headless import pyrender
from lens import look_at
from places import PLACES
from turning import Array


def _plane(corners: list[list[float]], colour: tuple[int, int, int], rough: float, tiles: float, rng: np.random.Generator) -> pyrender.Mesh:
    texture = np.clip(rng.normal(0, max(rough, 0.1), (256, 256, 1)) + np.array(colour), 0, 255).astype(np.uint8)
    mesh = trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False)
    uv = [[0, 0], [tiles, 0], [tiles, tiles], [0, tiles]]
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, image=Image.fromarray(texture))
    out = pyrender.Mesh.from_trimesh(mesh, smooth=False)
    stuff = out.primitives[0].material
    stuff.baseColorFactor, stuff.doubleSided, stuff.metallicFactor, stuff.roughnessFactor = [0.85, 0.85, 0.85, 1], True, 0.1, 1.0
    return out


def build(name: str, eyes: list[Array], rng: np.random.Generator) -> pyrender.Scene:
    """A scene without the golfer; nothing stands between him and the cameras at `eyes`."""
    p = PLACES[name]
    scene = pyrender.Scene(ambient_light=[p.ambient] * 3, bg_color=[*p.sky, 255])
    far = max(12.0, p.walls + 1, *(float(np.linalg.norm(e[:2])) + 3 for e in eyes))
    scene.add(_plane([[-far, -far, 0], [far, -far, 0], [far, far, 0], [-far, far, 0]], p.ground, p.rough, 14, rng))
    if p.walls:
        w = max(p.walls, far - 1)
        for a in range(4):
            c, s = np.cos(a * np.pi / 2), np.sin(a * np.pi / 2)
            corners = [[x * c - w * s, x * s + w * c, z] for x, z in ((-w, 0), (w, 0), (w, 7), (-w, 7))]
            scene.add(_plane(corners, p.wall, p.rough, 8, rng))
    for _ in range(p.boxes):
        a, r, height = rng.uniform(0, 2 * np.pi), rng.uniform(6, max(11, far - 1)), rng.uniform(0.6, 4)
        size, tint = rng.uniform(0.4, 2.5, 2), rng.integers(30, 200, 3)
        centre = np.array([r * np.cos(a), r * np.sin(a)])
        if name == "trees":
            size, tint = rng.uniform(0.3, 1.2, 2), np.array([rng.integers(30, 90), rng.integers(60, 130), rng.integers(20, 60)])
        if any(centre @ e[:2] > 0 and abs(centre[0] * e[1] - centre[1] * e[0]) / np.linalg.norm(e[:2]) < 2.5
               and r < np.linalg.norm(e[:2]) + 2 for e in eyes):
            continue   # it would hide the golfer, or hold a camera
        box = trimesh.creation.box([*size, height])
        box.apply_translation([*centre, height / 2])
        box.visual.vertex_colors = np.r_[tint, 255]
        scene.add(pyrender.Mesh.from_trimesh(box, smooth=False))
    sun = look_at([2.5 * rng.choice([-1, 1]), rng.uniform(-4, 2), rng.uniform(3.5, 6)], [0, 0, 1])
    scene.add(pyrender.DirectionalLight(color=[1, 0.97, 0.92], intensity=p.light), pose=sun)
    scene.add(pyrender.DirectionalLight(color=[0.8, 0.85, 1], intensity=p.fill), pose=look_at([-3, 3, 3], [0, 0, 1]))
    return scene

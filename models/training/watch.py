"""How a network reads crops of real people with known truth while it is trained: to look at, never to train on.

A packed file holds bytes and size (crops of 256 pixels as JPEG, one after the other), view (n), world_from_turned (n,3,3), truth (n,2,3,3; not a number where there is
none) and looks (n), the heading of each camera's axis in degrees. Heading: azimuth of the segment's left axis.
"""

from __future__ import annotations

import numpy as np
import torch

from network import TorsoNet, read, read_places
from real import mirrored_rotation, unpack


class Watched:
    """The packed crops on one device."""

    def __init__(self, path: str, device: str):
        z = np.load(path)
        self.image = unpack(z).to(device)
        self.view, self.looks = z["view"], z["looks"]
        self.world, self.truth = z["world_from_turned"], z["truth"]

    @torch.no_grad()
    def report(self, net: TorsoNet) -> str:
        """One line a head and segment: rms and worst error of heading, slope in each view, rms of z."""
        was = net.training
        net.eval()
        image = self.image.float() / 255
        plain, mirror = net(image), net(image.flip(-1))
        net.train(was)
        a, b = read(plain.raw.float()), read(mirror.raw.float())
        c, d = read_places(plain.places.float()), read_places(mirror.places.float())
        lines = []
        for name, r, s in (("torso", a.rotation + mirrored_rotation(b.rotation), (a.log_sigma + b.log_sigma) / 2),
                           ("places", c[0] + mirrored_rotation(d[0]), (c[1] + d[1]) / 2)):
            lines += self._lines(name, r.float().cpu().numpy(), s.float().exp().cpu().numpy())
        return "\n".join(lines)

    def _lines(self, name: str, both: np.ndarray, sigma: np.ndarray) -> list[str]:
        u, _, v = np.linalg.svd(both)
        u[..., 2] *= np.sign(np.linalg.det(u @ v))[..., None]
        world = self.world[:, None] @ (u @ v)
        out = []
        for s, segment in enumerate(("pelvis", "thorax")):
            ok = np.isfinite(self.truth[:, s, 0, 0])
            said, true = (np.degrees(np.arctan2(w[:, 1, 0], w[:, 0, 0])) - 90 for w in (world[:, s], self.truth[:, s]))
            error = (said - true + 180) % 360 - 180
            turned = [(x - self.looks + 90) % 180 - 90 for x in (true, said)]
            parts = []
            for view in np.unique(self.view):
                m = ok & (self.view == view)
                t, r = turned[0][m], turned[0][m] + error[m]
                parts.append(f"{error[m].mean():+.0f}/{np.sqrt((error[m] ** 2).mean()):.0f}/{(t @ r) / (t @ t):.2f}")
            z = error / np.degrees(np.sqrt((sigma[:, s] ** 2).mean(1)))
            out.append(f"  {name} {segment}: rms {np.sqrt((error[ok] ** 2).mean()):.1f} median {np.median(abs(error[ok])):.1f} worst {abs(error[ok]).max():.0f} "
                       f"mean/rms/slope {' '.join(parts)} z {np.sqrt((z[ok] ** 2).mean()):.2f} sigma {np.degrees(sigma[:, s].mean()):.1f}")
        return out

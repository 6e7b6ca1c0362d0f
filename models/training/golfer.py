"""From a batch of drawn poses to bone transforms: forward kinematics, legs and arms by two-bone bending.

World: x towards the target, z up; the golfer faces -y and plays right-handed (lefties are mirrored pictures).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor

from rotations import about, from_rotation_vector, part_way, segment_rotation, smallest_turn
from trunk import spine_rotations

NECK = (("neck01", 0.3), ("neck02", 0.6), ("neck03", 0.9), ("head", 1.0))
JOINT_BONES = (
    "upperleg01.L", "upperleg01.R", "lowerleg01.L", "lowerleg01.R", "foot.L", "foot.R",
    "upperarm01.L", "upperarm01.R", "lowerarm01.L", "lowerarm01.R", "wrist.L", "wrist.R", "neck01", "head",
)
SIDES = ((0, "L", 1.0), (1, "R", -1.0))


@dataclass
class Pose:
    """What is drawn for each picture; every field has the batch as its first axis. Metres and degrees."""

    pelvis: Tensor        # n,3 turn, side, forward
    thorax: Tensor        # n,3
    head: Tensor          # n,3
    spine: Tensor         # n,2,4 shares of twist and of bend at the spine's bones (`trunk.py`)
    posture: Tensor       # n,4 how far those bones lean forward beyond their share
    clavicle: Tensor      # n,2,3 rotation vector of each shoulder girdle in the thorax, degrees
    hand: Tensor          # n,2,3 direction of each hand from its shoulder, in the thorax
    reach: Tensor         # n,2 distance of each hand from its shoulder, share of the arm's length
    grip: Tensor          # n bool: both hands on the club, the second hand follows the leading one
    grip_lead: Tensor     # n bool: the left hand leads, else the right
    elbow: Tensor         # n,2,3 where the elbow points, in the thorax
    shaft: Tensor         # n,3 direction of the club, world
    curl: Tensor          # n,2 finger curl, share of a full grip
    hips: Tensor          # n,2 place of the hip middle on the ground plane
    ankle: Tensor         # n,2,2 place of each ankle on the ground plane
    foot_yaw: Tensor      # n,2 outwards
    heel: Tensor          # n,2 height of each heel off the ground
    knee: Tensor          # n knee flexion at equal stance
    mix: Tensor           # n,bodies weights of the bodies blended into this one
    stretch: Tensor       # n,3 how much wider, deeper and taller than that blend


@dataclass
class Posed:
    """A posed skeleton: skinning transforms, segment rotations and joints in the world."""

    rotation: Tensor      # n,bones,3,3
    shift: Tensor         # n,bones,3
    segments: Tensor      # n,2,3,3 pelvis, thorax
    joints: Tensor        # n,14,3 JOINT_BONES
    wrists: Tensor        # n,3 middle of the wrists (the gripping hand when only one holds the club)
    shaft: Tensor         # n,3


class Skeleton:
    """The bones of all bodies and the forward kinematics."""

    def __init__(self, path: str, device: str):
        z = np.load(path)
        self.labels = [str(x) for x in z["labels"]]
        self.bone = {name: i for i, name in enumerate(self.labels)}
        self.parents = [int(p) for p in z["parents"]]
        self.heads = torch.tensor(z["H"].astype(np.float32), device=device)
        vertices = z["V"].astype(np.float32)
        self.soles = torch.tensor(vertices[:, :, 2].min(1), device=device)
        depth: list[int] = []
        for p in self.parents:
            depth.append(0 if p < 0 else depth[p] + 1)
        self.levels = []
        for d in range(1, max(depth) + 1):
            own = [i for i, x in enumerate(depth) if x == d]
            self.levels.append((torch.tensor(own, device=device), torch.tensor([self.parents[i] for i in own], device=device)))

    def _forward(self, h: Tensor, root: Tensor, place: Tensor, given: dict[str, Tensor]) -> tuple[Tensor, Tensor]:
        """Rotations and positions of all bones; `given` overrides what a bone would inherit."""
        n, bones = h.shape[:2]
        rot = root[:, None].expand(n, bones, 3, 3).clone()
        pos = torch.zeros_like(h)
        pos[:, 0] = place
        over = torch.zeros(bones, dtype=torch.bool, device=h.device)
        values = torch.zeros(n, bones, 3, 3, device=h.device)
        index = torch.tensor([self.bone[k] for k in given], device=h.device)
        over[index] = True
        values[:, index] = torch.stack(list(given.values()), 1)
        for own, up in self.levels:
            pos[:, own] = pos[:, up] + torch.einsum("nbij,nbj->nbi", rot[:, up], h[:, own] - h[:, up])
            rot[:, own] = torch.where(over[own][None, :, None, None], values[:, own], rot[:, up])
        return rot, pos

    @staticmethod
    def _bend(root: Tensor, target: Tensor, a: Tensor, b: Tensor, pole: Tensor) -> tuple[Tensor, Tensor]:
        """Two bones of length a and b from root towards target: the middle joint and the end."""
        d = target - root
        far = d.norm(dim=-1)
        u = d / far.clamp(min=1e-6)[:, None]
        length = torch.minimum(far.clamp(min=0.12), (a + b) * 0.9995)
        c = ((a * a + length * length - b * b) / (2 * a * length)).clamp(-1, 1)
        side = torch.nn.functional.normalize(pole - (pole * u).sum(-1, keepdim=True) * u, dim=-1)
        middle = root + a[:, None] * (c[:, None] * u + (1 - c * c).sqrt()[:, None] * side)
        return middle, root + length[:, None] * u

    def pose(self, p: Pose) -> Posed:
        """Bone transforms of a batch of poses."""
        h = torch.einsum("nb,bkj->nkj", p.mix, self.heads) * p.stretch[:, None]
        g = self.bone

        def bone(name: str) -> Tensor:
            return h[:, g[name]]

        def length(a: str, b: str) -> Tensor:
            return (bone(a) - bone(b)).norm(dim=-1)

        pelvis, thorax, head = (segment_rotation(x) for x in (p.pelvis, p.thorax, p.head))
        given = {**spine_rotations(pelvis, thorax, p.spine, p.posture), "spine01": thorax}
        girdle = thorax[:, None] @ from_rotation_vector(p.clavicle * (torch.pi / 180))
        given["clavicle.L"], given["clavicle.R"] = girdle[:, 0], girdle[:, 1]
        for name, share in NECK:
            given[name] = part_way(thorax, head, share)

        thigh, shank = length("lowerleg01.L", "upperleg01.L"), length("foot.L", "lowerleg01.L")
        ankle_height = bone("foot.L")[:, 2] - (p.mix @ self.soles) * p.stretch[:, 2]
        reach = (thigh**2 + shank**2 + 2 * thigh * shank * torch.cos(p.knee * (torch.pi / 180))).sqrt()
        hip_half = bone("upperleg01.L")[:, 0].abs()
        spread = (p.ankle[:, 0, 0] - p.ankle[:, 1, 0]) / 2 - hip_half
        hip_height = ankle_height + (reach**2 - spread**2 - 0.02**2).clamp(min=0.09).sqrt()
        hip_middle = 0.5 * (bone("upperleg01.L") + bone("upperleg01.R"))
        hips = torch.cat((p.hips, hip_height[:, None]), -1)
        place = hips + torch.einsum("nij,nj->ni", pelvis, h[:, 0] - hip_middle)
        rot, pos = self._forward(h, pelvis, place, given)

        front = torch.tensor([0.0, -1.0, 0.0], device=h.device)
        for k, side, sign in SIDES:
            lift = p.heel[:, k]
            hip = pos[:, g["upperleg01." + side]]
            ankle = torch.stack((p.ankle[:, k, 0], p.ankle[:, k, 1] - 0.25 * lift, ankle_height + lift), -1)
            foot = about(2, sign * p.foot_yaw[:, k] * (torch.pi / 180)) @ about(0, torch.asin((lift / 0.2).clamp(0, 0.9)))
            pole = 0.6 * (front + torch.tensor([sign * 0.25, 0, 0], device=h.device)) + 0.4 * (pelvis @ front)
            knee, end = self._bend(hip, ankle, thigh, shank, pole)
            upper = smallest_turn(torch.einsum("nij,nj->ni", pelvis, bone("lowerleg01." + side) - bone("upperleg01." + side)), knee - hip) @ pelvis
            lower = smallest_turn(torch.einsum("nij,nj->ni", upper, bone("foot." + side) - bone("lowerleg01." + side)), end - knee) @ upper
            for name, r in (("upperleg01.", upper), ("upperleg02.", upper), ("lowerleg01.", lower), ("lowerleg02.", lower), ("foot.", foot)):
                given[name + side] = r

        given.update(self._arms(p, h, thorax, rot, pos))
        rot, pos = self._forward(h, pelvis, place, given)
        shift = pos - torch.einsum("nbij,nbj->nbi", rot, h)
        joints = pos[:, [g[b] for b in JOINT_BONES]]
        both = 0.5 * (joints[:, 10] + joints[:, 11])
        one = torch.where(p.grip_lead[:, None], joints[:, 10], joints[:, 11])
        wrists = torch.where(p.grip[:, None], both, one)
        return Posed(rot, shift, torch.stack((pelvis, thorax), 1), joints, wrists, p.shaft)

    def _arms(self, p: Pose, h: Tensor, thorax: Tensor, rot: Tensor, pos: Tensor) -> dict[str, Tensor]:
        g = self.bone
        upper_arm = (h[:, g["lowerarm01.L"]] - h[:, g["upperarm01.L"]]).norm(dim=-1)
        forearm = (h[:, g["wrist.L"]] - h[:, g["lowerarm01.L"]]).norm(dim=-1)
        whole = upper_arm + forearm
        shoulder = torch.stack((pos[:, g["upperarm01.L"]], pos[:, g["upperarm01.R"]]), 1)
        hand = shoulder + torch.einsum("nij,nkj->nki", thorax, p.hand) * (p.reach * whole[:, None])[..., None]
        leader = torch.where(p.grip_lead[:, None], hand[:, 0], hand[:, 1])
        follower_shoulder = torch.where(p.grip_lead[:, None], shoulder[:, 1], shoulder[:, 0])
        offset = torch.where(p.grip_lead[:, None], 0.05, -0.05) * p.shaft
        away = leader + offset - follower_shoulder
        # a hand out of reach pulls the leading one back to where both can hold on
        pulled = follower_shoulder + away * (0.985 * whole / away.norm(dim=-1)).clamp(max=1.0)[:, None]
        both = torch.where(p.grip_lead[:, None, None], torch.stack((pulled - offset, pulled), 1), torch.stack((pulled, pulled - offset), 1))
        hand = torch.where(p.grip[:, None, None], both, hand)
        out: dict[str, Tensor] = {}
        for k, side, sign in SIDES:
            pole = torch.einsum("nij,nj->ni", thorax, p.elbow[:, k])
            elbow, end = self._bend(shoulder[:, k], hand[:, k], upper_arm, forearm, pole)
            base = rot[:, g["shoulder01." + side]]

            def rest(a: str, b: str) -> Tensor:
                return h[:, g[a + side]] - h[:, g[b + side]]

            upper = smallest_turn(torch.einsum("nij,nj->ni", base, rest("lowerarm01.", "upperarm01.")), elbow - shoulder[:, k]) @ base
            lower = smallest_turn(torch.einsum("nij,nj->ni", upper, rest("wrist.", "lowerarm01.")), end - elbow) @ upper
            fingers = torch.nn.functional.normalize(torch.einsum("nij,nj->ni", lower, rest("finger3-2.", "wrist.")), dim=-1)
            palm = smallest_turn(fingers, fingers * 0.75 + 0.45 * p.curl[:, k, None] * p.shaft) @ lower
            for name, r in (("upperarm01.", upper), ("upperarm02.", upper), ("lowerarm01.", lower), ("lowerarm02.", lower), ("wrist.", palm)):
                out[name + side] = r
            across = torch.nn.functional.normalize(torch.einsum("nij,nj->ni", palm, rest("finger5-1.", "finger2-1.")), dim=-1)
            for joint, curl in ((1, 55), (2, 130), (3, 180)):
                bent = from_rotation_vector(across * (-sign * curl * torch.pi / 180) * p.curl[:, k, None]) @ palm
                for finger in range(2, 6):
                    out[f"finger{finger}-{joint}.{side}"] = bent
        return out

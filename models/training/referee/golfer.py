"""A body that follows its channels: skin, joints and exactly known segment rotations (numpy, one instant at a time)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix

from channels import Channels
from trunk import HIPS_TO_NECK, Rig, skin_weights
from turning import DEGREE, Array, from_rotation_vector, part_way, rx, rz, segment_angles, segment_rotation, smallest_turn

JOINTS = dict(
    hip_l="upperleg01.L", hip_r="upperleg01.R", knee_l="lowerleg01.L", knee_r="lowerleg01.R",
    ankle_l="foot.L", ankle_r="foot.R", shoulder_l="upperarm01.L", shoulder_r="upperarm01.R",
    elbow_l="lowerarm01.L", elbow_r="lowerarm01.R", wrist_l="wrist.L", wrist_r="wrist.R",
)
NECK = (("neck01", 0.3), ("neck02", 0.6), ("neck03", 0.9), ("head", 1.0))


@dataclass
class Posed:
    """One instant, in the golfer's world."""

    skin: Array             # vertices, 3
    truth: dict[str, Any]   # angles in degrees, joints in m
    wrists: Array           # where the club is held
    shaft: Array            # its direction
    thorax: Array           # rotation
    neck: Array             # the neck's foot


class Golfer:
    """A body and what it does: `pose(t)`."""

    def __init__(self, body: dict[str, Array], rig: Rig, stance: float = 0.24, knee: float = 24.0):
        self.vertices, self.heads, self.faces = body["V"].astype(float), body["H"].astype(float), body["f"]
        self.labels = [str(x) for x in body["labels"]]
        self.parents = body["parents"]
        self.bone = {name: i for i, name in enumerate(self.labels)}
        self.rig, self.stance = rig, stance
        self.channels = Channels()
        self._set_lengths(knee)
        scale = HIPS_TO_NECK / (self.heads[self.bone["neck01"]][2] - self.hip_middle[2])
        self.trunk_height = (self.vertices[:, 2] - self.hip_middle[2]) * scale
        dense = skin_weights(rig, self.vertices, self.trunk_height, self.bone, body["w"].astype(float), body["wi"].astype(int))
        self.owner = dense.argmax(1)
        self.weights = csr_matrix(dense)
        corners, n = self.faces.ravel(), len(self.faces)
        self.corner_of = csr_matrix((np.ones(3 * n), (corners, np.repeat(np.arange(n), 3))), shape=(len(self.vertices), n))

    def _set_lengths(self, knee: float) -> None:
        h, g = self.heads, self.bone

        def between(a: str, b: str) -> float:
            return float(np.linalg.norm(h[g[a]] - h[g[b]]))

        self.upper_arm = between("lowerarm01.L", "upperarm01.L")
        self.forearm = between("wrist.L", "lowerarm01.L")
        self.thigh = between("lowerleg01.L", "upperleg01.L")
        self.shank = between("foot.L", "lowerleg01.L")
        self.ankle_height = h[g["foot.L"]][2] - self.vertices[:, 2].min()
        self.hip_middle = 0.5 * (h[g["upperleg01.L"]] + h[g["upperleg01.R"]])
        self.hip_half = abs(h[g["upperleg01.L"]][0])
        self.hip_height = self._hips_above_ground(self.stance, knee)

    def _hips_above_ground(self, stance: float, knee: float) -> float:
        reach = self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(knee * DEGREE)
        return float(self.ankle_height + np.sqrt(max(reach - (stance - self.hip_half) ** 2 - 0.02**2, 1e-4)))

    def rise(self, stance: float, knee: float) -> float:
        """How far the hips must rise from address for another stance and knee flexion (degrees), m."""
        return self._hips_above_ground(stance, knee) - self.hip_height

    def normals(self, skin: Array) -> Array:
        """Unit normals at the vertices."""
        a, b, c = (skin[self.faces[:, i]] for i in range(3))
        n = self.corner_of @ np.cross(b - a, c - a)
        return n / np.maximum(np.linalg.norm(n, axis=1, keepdims=True), 1e-12)

    @staticmethod
    def _bend(root: Array, target: Array, a: float, b: float, pole: Array) -> tuple[Array, Array]:
        """Two-bone inverse kinematics: the middle joint and the end."""
        d = target - root
        u = d / np.linalg.norm(d)
        length = min(np.linalg.norm(d), (a + b) * 0.9995)
        c = np.clip((a * a + length * length - b * b) / (2 * a * length), -1, 1)
        side = pole - (pole @ u) * u
        side /= np.linalg.norm(side) + 1e-12
        return root + a * (c * u + np.sqrt(1 - c * c) * side), root + length * u

    def pose(self, t: float, dressed: bool = True) -> Posed:
        """Skin (none unless `dressed`), truth and club at a time."""
        now, g, h = self.channels.at(t), self.bone, self.heads
        n = len(self.labels)
        pelvis, thorax, head = (segment_rotation(*now[k]) for k in ("pelvis", "thorax", "head"))
        given: dict[int, Array] = {g["root"]: pelvis}
        for name, r in self.rig.spine(pelvis, thorax).items():
            given[g[name]] = r
        slide = now["girdle"][0] * DEGREE
        given[g["clavicle.L"]] = thorax @ rz(-slide)
        given[g["clavicle.R"]] = thorax @ rz(-slide * 0.6)
        for name, share in NECK:
            given[g[name]] = part_way(thorax, head, share)
        hips = np.array([0, 0.02, self.hip_height]) + now["hips"]
        rot: list[Array] = [np.eye(3)] * n
        pos = np.zeros((n, 3))

        def forward() -> None:
            for i in range(n):
                up = self.parents[i]
                rot[i] = given.get(i, rot[up] if up >= 0 else pelvis)
                pos[i] = hips + rot[i] @ (h[i] - self.hip_middle) if up < 0 else pos[up] + rot[up] @ (h[i] - h[up])

        forward()
        self._legs(now, pelvis, given, pos)
        shaft = self._arms(now, thorax, given, pos, rot)
        forward()
        world = rz(now["heading"][0] * DEGREE)
        r = world @ np.array(rot)
        pos = pos @ world.T + np.r_[now["place"], 0]
        skin = self._skin(r, pos) if dressed else np.empty((0, 3))
        held = 0.5 * (pos[g["wrist.L"]] + pos[g["wrist.R"]]) if now["grip"][0] > 0.5 else pos[g["wrist.L"]]
        return Posed(skin, self._truth(world @ pelvis, world @ thorax, pos), held, world @ shaft, world @ thorax, pos[g["neck01"]])

    def _skin(self, r: Array, pos: Array) -> Array:
        n = len(r)
        bones = np.concatenate((r.reshape(n, 9), pos - np.einsum("nij,nj->ni", r, self.heads)), 1)
        moved = self.weights @ bones
        return np.einsum("vij,vj->vi", moved[:, :9].reshape(-1, 3, 3), self.vertices) + moved[:, 9:]

    def _truth(self, pelvis: Array, thorax: Array, pos: Array) -> dict[str, Any]:
        joints = {name: pos[self.bone[b]] for name, b in JOINTS.items()}
        line = joints["shoulder_l"] - joints["shoulder_r"]

        def flexion(a: str, b: str, c: str) -> float:
            u, v = joints[a] - joints[b], joints[c] - joints[b]
            return float(180 - np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v))))

        return dict(
            pelvis=segment_angles(pelvis), thorax=segment_angles(thorax), joints=joints,
            shoulder_line_turn=float(-np.arctan2(line[1], line[0]) / DEGREE),
            knee_lead=flexion("hip_l", "knee_l", "ankle_l"), knee_trail=flexion("hip_r", "knee_r", "ankle_r"))

    def _legs(self, now: dict[str, Array], pelvis: Array, given: dict[int, Array], pos: Array) -> None:
        g, h = self.bone, self.heads
        for side, sign in (("L", 1), ("R", -1)):
            hip, shift = pos[g["upperleg01." + side]], now["foot_" + side.lower()]
            ankle = np.array([sign * self.stance, 0.03, self.ankle_height]) + shift[:3]
            foot = rz((shift[3] + sign * 20) * DEGREE) @ rx(shift[4] * DEGREE)
            pole = np.array([sign * 0.25, -1, 0]) * 0.6 + 0.4 * (pelvis @ np.array([0, -1, 0]))
            knee, end = self._bend(hip, ankle, self.thigh, self.shank, pole)
            thigh = h[g["lowerleg01." + side]] - h[g["upperleg01." + side]]
            upper = smallest_turn(pelvis @ thigh, knee - hip) @ pelvis
            shank = h[g["foot." + side]] - h[g["lowerleg01." + side]]
            lower = smallest_turn(upper @ shank, end - knee) @ upper
            for name, r in (("upperleg01.", upper), ("upperleg02.", upper), ("lowerleg01.", lower),
                            ("lowerleg02.", lower), ("foot.", foot)):
                given[g[name + side]] = r

    def _arms(self, now: dict[str, Array], thorax: Array, given: dict[int, Array], pos: Array, rot: list[Array]) -> Array:
        g, h = self.bone, self.heads
        whole, grip = self.upper_arm + self.forearm, float(np.clip(now["grip"][0], 0, 1))
        lead, trail = pos[g["upperarm01.L"]], pos[g["upperarm01.R"]]
        unit = {k: now[k] / np.linalg.norm(now[k]) for k in ("hand_l", "hand_r", "shaft")}
        shaft = unit["shaft"]
        hand = lead + unit["hand_l"] * now["reach_l"][0] * whole
        on_club = hand + 0.05 * shaft
        away = on_club - trail
        far = np.linalg.norm(away)
        if far > whole * 0.985 and grip > 0:
            on_club = trail + away / far * (whole * 0.985 * grip + far * (1 - grip))
            hand = on_club - 0.05 * shaft
        trail_hand = grip * on_club + (1 - grip) * (trail + unit["hand_r"] * now["reach_r"][0] * whole)
        for side, shoulder, target, pole, sign in (
            ("L", lead, hand, thorax @ np.array([.3, -.1, -1.]), -1.0),
            ("R", trail, trail_hand, thorax @ np.array([-.35, .15, -1.]), 1.0),
        ):
            elbow, end = self._bend(shoulder, target, self.upper_arm, self.forearm, pole)
            base = rot[g["shoulder01." + side]]
            upper = smallest_turn(base @ (h[g["lowerarm01." + side]] - h[g["upperarm01." + side]]), elbow - shoulder) @ base
            lower = smallest_turn(upper @ (h[g["wrist." + side]] - h[g["lowerarm01." + side]]), end - elbow) @ upper
            fingers = lower @ (h[g["finger3-2." + side]] - h[g["wrist." + side]])
            fingers = fingers / np.linalg.norm(fingers)
            holds = 1.0 if side == "L" else grip
            palm = smallest_turn(fingers, fingers * (1 - .25 * holds) + .45 * holds * shaft) @ lower
            for name, r in (("upperarm01.", upper), ("upperarm02.", upper), ("lowerarm01.", lower),
                            ("lowerarm02.", lower), ("wrist.", palm)):
                given[g[name + side]] = r
            across = palm @ (h[g["finger5-1." + side]] - h[g["finger2-1." + side]])
            across = across / np.linalg.norm(across)
            for finger in range(2, 6):
                r = palm
                for joint, curl in ((1, 55), (2, 75), (3, 50)):
                    r = from_rotation_vector(across * sign * curl * (0.3 + 0.7 * holds) * DEGREE) @ r
                    given[g[f"finger{finger}-{joint}.{side}"]] = r
        return shaft

"""One golfer's swing with exactly known pelvis and thorax angles (numpy, one instant at a time).

World: x towards the target, z up; the golfer faces -y and plays right-handed, so the lead side is
the body's left. Angles are (turn, side bend, forward bend) in degrees, as in the design's section 3.
"""

from __future__ import annotations

from typing import Any, Callable

import numpy as np
from scipy.interpolate import PchipInterpolator

DEGREE = np.pi / 180
Array = np.ndarray


def rx(a: float) -> Array:
    """Rotation about x."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def ry(a: float) -> Array:
    """Rotation about y."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])


def rz(a: float) -> Array:
    """Rotation about z."""
    c, s = np.cos(a), np.sin(a)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def segment_rotation(turn: float, side: float, forward: float) -> Array:
    """R = Rz(-turn) Ry(side) Rx(forward), degrees."""
    return rz(-turn * DEGREE) @ ry(side * DEGREE) @ rx(forward * DEGREE)


def segment_angles(r: Array) -> tuple[float, float, float]:
    """The inverse of `segment_rotation`."""
    turn = -np.arctan2(r[1, 0], r[0, 0])
    side = -np.arcsin(np.clip(r[2, 0], -1, 1))
    forward = np.arctan2(r[2, 1], r[2, 2])
    return float(turn / DEGREE), float(side / DEGREE), float(forward / DEGREE)


def rotation_vector(r: Array) -> Array:
    """Axis times angle of a rotation."""
    angle = np.arccos(np.clip((np.trace(r) - 1) / 2, -1, 1))
    if angle < 1e-8:
        return np.zeros(3)
    axis = np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]])
    return angle / (2 * np.sin(angle)) * axis


def from_rotation_vector(w: Array) -> Array:
    """Rodrigues' formula."""
    angle = np.linalg.norm(w)
    if angle < 1e-8:
        return np.eye(3)
    x, y, z = w / angle
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k


def part_way(a: Array, b: Array, share: float) -> Array:
    """The rotation `share` of the way from a to b."""
    return a @ from_rotation_vector(share * rotation_vector(a.T @ b))


def smallest_turn(a: Array, b: Array) -> Array:
    """The smallest rotation that brings direction a onto direction b."""
    a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
    axis = np.cross(a, b)
    s = np.linalg.norm(axis)
    return np.eye(3) if s < 1e-9 else from_rotation_vector(axis / s * np.arctan2(s, a @ b))


def keyed(times: list[float], values: list[Any]) -> Callable[[float], Array]:
    """Monotone cubic interpolation of keyed vectors, held still outside the keys."""
    f = PchipInterpolator(np.array(times, float), np.array(values, float), axis=0)
    return lambda t: f(np.clip(t, times[0], times[-1]))


def swing(changes: dict[str, Any] | None = None) -> dict[str, Any]:
    """The parameters of a plain full swing, with changes."""
    plain: dict[str, Any] = dict(
        t_addr=0.5, t_top=1.35, t_imp=1.62, t_fin=2.25, t_end=2.7,
        pel_addr=(0, 0, 18), pel_top=(45, 8, 14), pel_imp=(-38, -8, 8), pel_fin=(-90, -4, -2),
        tho_addr=(0, -5, 36), tho_top=(90, 36, 1), tho_imp=(-28, -28, 24), tho_fin=(-98, -18, -8),
        sway_top=-0.03, sway_imp=0.08, sway_fin=0.16, scap_top=12.0, lag=0.045,
        knee0=24.0, stance=0.24,
        hands_top=(-0.55, 0.50, 0.50),   # direction of the hands from the lead shoulder, at the top
        hands_off=(0, 0, 0),             # added to that direction all swing long
        club_off=(0, 0, 0),              # the same for the shaft's direction
        reach=1.0,                       # how straight the lead arm is, 1 as usual
    )
    return {**plain, **(changes or {})}


JOINTS = dict(
    hip_l="upperleg01.L", hip_r="upperleg01.R", knee_l="lowerleg01.L", knee_r="lowerleg01.R",
    ankle_l="foot.L", ankle_r="foot.R", shoulder_l="upperarm01.L", shoulder_r="upperarm01.R",
    elbow_l="lowerarm01.L", elbow_r="lowerarm01.R", wrist_l="wrist.L", wrist_r="wrist.R",
)
SPINE = (("spine05", 0.15), ("spine04", 0.4), ("spine03", 0.75), ("spine02", 1.0), ("spine01", 1.0))
NECK = (("neck01", 0.3), ("neck02", 0.6), ("neck03", 0.9), ("head", 1.0))


class Golfer:
    """A body and a swing: `pose(t)` gives the skin, the truth, the hands and the shaft."""

    def __init__(self, body: dict[str, Array], parameters: dict[str, Any]):
        self.vertices, self.heads = body["V"].astype(float), body["H"].astype(float)
        self.labels = [str(x) for x in body["labels"]]
        self.parents, self.weights = body["parents"], body["w"].astype(float)
        self.weight_bones, self.faces = body["wi"].astype(int), body["f"]
        self.bone = {name: i for i, name in enumerate(self.labels)}
        self.swing = parameters
        self._set_curves(parameters)
        self._set_lengths(parameters)

    def _set_curves(self, p: dict[str, Any]) -> None:
        ta, tt, ti, tf, te = p["t_addr"], p["t_top"], p["t_imp"], p["t_fin"], p["t_end"]
        events = [0, ta, tt, ti, tf, te]

        def segment(name: str, early: float) -> Callable[[float], Array]:
            a, b, c, d = (p[f"{name}_{e}"] for e in ("addr", "top", "imp", "fin"))
            return keyed([0, ta, tt - early, ti, tf, te], [a, a, b, c, d, d])

        self.pelvis_at = segment("pel", p["lag"])
        self.thorax_at = segment("tho", 0.0)
        sway = [0, 0, p["sway_top"], p["sway_imp"], p["sway_fin"], p["sway_fin"]]
        self.sway_at = keyed(events, [[x] for x in sway])
        s = p["scap_top"]
        self.scapula_at = keyed(events, [[x] for x in (0, 0, s, 0, -s, -s)])
        self.heel_at = keyed([0, ti, tf, te], [[0], [0.02], [0.13], [0.13]])
        tb1, tb2 = ta + 0.35 * (tt - ta), ta + 0.65 * (tt - ta)
        td, tm, tm2 = tt + 0.55 * (ti - tt), ti + 0.12, ti + 0.3
        times = [0, ta, tb1, tb2, tt, td, ti, tm, tm2, tf, te]
        self.hands_at = keyed(times, [
            [-.25, -.30, -.92], [-.25, -.30, -.92], [-.80, -.35, -.48], [-.80, .02, .20],
            p["hands_top"], [-.80, -.12, -.25], [-.12, -.30, -.94], [.70, -.45, -.45],
            [.62, -.15, .55], [-.25, .45, .55], [-.25, .45, .55]])
        self.shaft_at = keyed(times, [
            [-.05, -.55, -.83], [-.05, -.55, -.83], [-.9, -.3, .3], [-.3, -.1, .95],
            [.92, -.25, -.25], [-.5, -.1, .85], [.02, -.56, -.83], [.9, -.4, 0],
            [.2, 0, .98], [-.75, .4, -.5], [-.75, .4, -.5]])
        self.reach_at = keyed([0, ta, tt, ti, tm, tm2, tf, te],
                              [[.965], [.965], [.96], [.97], [.97], [.85], [.62], [.62]])

    def _set_lengths(self, p: dict[str, Any]) -> None:
        h, g = self.heads, self.bone

        def between(a: str, b: str) -> float:
            return float(np.linalg.norm(h[g[a]] - h[g[b]]))

        self.upper_arm = between("lowerarm01.L", "upperarm01.L")
        self.forearm = between("wrist.L", "lowerarm01.L")
        self.thigh = between("lowerleg01.L", "upperleg01.L")
        self.shank = between("foot.L", "lowerleg01.L")
        self.ankle_height = h[g["foot.L"]][2] - self.vertices[:, 2].min()
        self.hip_middle = 0.5 * (h[g["upperleg01.L"]] + h[g["upperleg01.R"]])
        reach = np.sqrt(self.thigh**2 + self.shank**2
                        + 2 * self.thigh * self.shank * np.cos(p["knee0"] * DEGREE))
        dx = p["stance"] - abs(h[g["upperleg01.L"]][0])
        self.hip_height = self.ankle_height + np.sqrt(max(reach**2 - dx**2 - 0.02**2, 1e-4))

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

    def pose(self, t: float) -> tuple[Array, dict[str, Any], Array, Array]:
        """Skin vertices, truth, the middle of the wrists and the shaft's direction at a time."""
        p, g, h = self.swing, self.bone, self.heads
        n = len(self.labels)
        pelvis = segment_rotation(*self.pelvis_at(t))
        thorax = segment_rotation(*self.thorax_at(t))
        given: dict[int, Array] = {g["root"]: pelvis}
        for name, share in SPINE:
            given[g[name]] = part_way(pelvis, thorax, share)
        slide = self.scapula_at(t)[0] * DEGREE
        given[g["clavicle.L"]] = thorax @ rz(-slide)
        given[g["clavicle.R"]] = thorax @ rz(-slide * 0.6)
        turn, keys = self.thorax_at(t)[0], [-98, -28, 0, 90]
        head = segment_rotation(np.interp(turn, keys, [-80, 0, 0, 25]), np.interp(turn, keys, [-10, -18, 0, 6]),
                                np.interp(turn, keys, [0, 38, 38, 36]))
        for name, share in NECK:
            given[g[name]] = part_way(thorax, head, share)
        hips = np.array([self.sway_at(t)[0], 0.02, self.hip_height])
        rot: list[Array] = [np.eye(3)] * n
        pos = np.zeros((n, 3))

        def forward() -> None:
            for i in range(n):
                up = self.parents[i]
                rot[i] = given.get(i, rot[up] if up >= 0 else pelvis)
                pos[i] = hips + rot[i] @ (h[i] - self.hip_middle) if up < 0 else pos[up] + rot[up] @ (h[i] - h[up])

        forward()
        self._legs(t, pelvis, given, pos)
        middle_needs = self._arms(t, thorax, given, pos, rot)
        forward()
        r = np.array(rot)
        shift = pos - np.einsum("nij,nj->ni", r, h)
        w, b = self.weights, self.weight_bones
        skin = np.einsum("vk,vkij,vj->vi", w, r[b], self.vertices) + np.einsum("vk,vki->vi", w, shift[b])
        wrists = 0.5 * (pos[g["wrist.L"]] + pos[g["wrist.R"]])
        line = pos[g["upperarm01.L"]] - pos[g["upperarm01.R"]]
        joints = {name: pos[g[b]] for name, b in JOINTS.items()}

        def flexion(a: str, b: str, c: str) -> float:
            u, v = joints[a] - joints[b], joints[c] - joints[b]
            return float(180 - np.degrees(np.arccos(u @ v / np.linalg.norm(u) / np.linalg.norm(v))))

        truth = dict(
            pelvis=segment_angles(pelvis), thorax=segment_angles(thorax), joints=joints,
            shoulder_line_turn=float(-np.arctan2(line[1], line[0]) / DEGREE),
            knee_lead=flexion("hip_l", "knee_l", "ankle_l"), knee_trail=flexion("hip_r", "knee_r", "ankle_r"))
        return skin, truth, wrists, middle_needs

    def _legs(self, t: float, pelvis: Array, given: dict[int, Array], pos: Array) -> None:
        g, h, p = self.bone, self.heads, self.swing
        for side, sign in (("L", 1), ("R", -1)):
            hip = pos[g["upperleg01." + side]]
            ankle = np.array([sign * p["stance"], 0.03, self.ankle_height])
            foot = rz(sign * 20 * DEGREE)
            if side == "R":
                lift = self.heel_at(t)[0]
                ankle = ankle + np.array([0.35 * lift, -0.25 * lift, lift])
                foot = rz(np.interp(lift, [0, .13], [0, 70]) * DEGREE) @ foot @ rx(np.arcsin(np.clip(lift / 0.2, 0, .9)))
            pole = np.array([sign * 0.25, -1, 0]) * 0.6 + 0.4 * (pelvis @ np.array([0, -1, 0]))
            knee, end = self._bend(hip, ankle, self.thigh, self.shank, pole)
            thigh = h[g["lowerleg01." + side]] - h[g["upperleg01." + side]]
            upper = smallest_turn(pelvis @ thigh, knee - hip) @ pelvis
            shank = h[g["foot." + side]] - h[g["lowerleg01." + side]]
            lower = smallest_turn(upper @ shank, end - knee) @ upper
            for name, r in (("upperleg01.", upper), ("upperleg02.", upper), ("lowerleg01.", lower),
                            ("lowerleg02.", lower), ("foot.", foot)):
                given[g[name + side]] = r

    def _arms(self, t: float, thorax: Array, given: dict[int, Array], pos: Array, rot: list[Array]) -> Array:
        g, h, p = self.bone, self.heads, self.swing
        lead, trail = pos[g["upperarm01.L"]], pos[g["upperarm01.R"]]
        whole = self.upper_arm + self.forearm
        d = self.hands_at(t) + np.array(p["hands_off"], float)
        hand = lead + d / np.linalg.norm(d) * self.reach_at(t)[0] * whole * p["reach"]
        shaft = self.shaft_at(t) + np.array(p["club_off"], float)
        shaft = shaft / np.linalg.norm(shaft)
        trail_hand = hand + 0.05 * shaft
        away = trail_hand - trail
        if np.linalg.norm(away) > whole * 0.985:
            trail_hand = trail + away / np.linalg.norm(away) * whole * 0.985
            hand = trail_hand - 0.05 * shaft
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
            palm = smallest_turn(fingers, fingers * .75 + .45 * shaft) @ lower
            for name, r in (("upperarm01.", upper), ("upperarm02.", upper), ("lowerarm01.", lower),
                            ("lowerarm02.", lower), ("wrist.", palm)):
                given[g[name + side]] = r
            across = palm @ (h[g["finger5-1." + side]] - h[g["finger2-1." + side]])
            across = across / np.linalg.norm(across)
            for finger in range(2, 6):
                r = palm
                for joint, curl in ((1, 55), (2, 75), (3, 50)):
                    r = from_rotation_vector(across * sign * curl * DEGREE) @ r
                    given[g[f"finger{finger}-{joint}.{side}"]] = r
        return shaft

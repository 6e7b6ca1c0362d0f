"""What else people do in front of a camera on a range: keys for the channels, one function an activity.

Each starts now, from whatever stands in the channels, and leaves `channels.now` at its end. Seconds, metres, degrees.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from golfer import Golfer
from swing import address
from turning import DEGREE, rz


def upright(g: Golfer, half_stance: float = 0.12, knee: float = 8) -> dict[str, Any]:
    """Standing at ease, a club hanging from the lead hand."""
    inward = half_stance - g.stance
    return dict(
        pelvis=(0, 0, 3), thorax=(0, 0, 3), head=(0, 0, 8), hips=(0, 0, g.rise(half_stance, knee)), girdle=0, grip=0,
        foot_l=(inward, 0, 0, 0, 0), foot_r=(-inward, 0, 0, 0, 0), hand_l=(.15, -.12, -1), hand_r=(-.15, -.1, -1),
        reach_l=.93, reach_r=.93, shaft=(.1, -.45, -.88))


def go(g: Golfer, seconds: float, **values: Any) -> None:
    """From what is to other values."""
    g.channels.hold()
    g.channels.to(g.channels.now + seconds, **values)
    g.channels.hold(g.channels.now + seconds)


def stand(g: Golfer, seconds: float, look: float = 0.0) -> None:
    """At ease, the head turning a little, the weight shifting."""
    go(g, min(0.6, seconds / 2), **upright(g))
    c, rest = g.channels, seconds - min(0.6, seconds / 2)
    up = upright(g)["hips"]
    c.to(c.now + rest / 2, head=(look, 0, 5), hips=(0.02, 0, up[2]))
    c.to(c.now + rest, head=(0, 0, 8), hips=up)
    c.hold(c.now + rest)


def settle(g: Golfer, seconds: float, swing: dict[str, Any], still: float = 0.2) -> None:
    """Into address, and a moment's stillness."""
    go(g, seconds, **address(swing))
    g.channels.hold(g.channels.now + still)


def waggle(g: Golfer, times: int, seconds: float, size: float) -> None:
    """The club goes back a little way and returns, the body hardly stirs."""
    c = g.channels
    c.hold()
    hand, shaft, thorax = c.last("hand_l").copy(), c.last("shaft").copy(), c.last("thorax").copy()
    for _ in range(times):
        c.to(c.now + seconds * 0.45, hand_l=hand + size * np.array([-.12, .02, .06]), shaft=shaft + size * np.array([-.7, .05, .45]),
             thorax=thorax + size * np.array([5, 0, 0]))
        c.to(c.now + seconds, hand_l=hand, shaft=shaft, thorax=thorax)
        c.now += seconds
    c.hold()


def press(g: Golfer, seconds: float, size: float) -> None:
    """A forward press: hands and hips a little towards the target, and back."""
    c = g.channels
    c.hold()
    hand, hips, pelvis = c.last("hand_l").copy(), c.last("hips").copy(), c.last("pelvis").copy()
    c.to(c.now + seconds / 2, hand_l=hand + size * np.array([.14, 0, 0]), hips=hips + size * np.array([.03, 0, 0]),
         pelvis=pelvis - size * np.array([6, 0, 0]))
    c.to(c.now + seconds, hand_l=hand, hips=hips, pelvis=pelvis)
    c.hold(c.now + seconds)


def step(g: Golfer, seconds: float, x: float, y: float) -> None:
    """One step and the other foot after it, to a place so far away in the body's own frame."""
    c = g.channels
    c.hold()
    half = np.array([x, y]) / 2
    start, way = c.last("place").copy(), (rz(c.last("heading")[0] * DEGREE) @ np.r_[half, 0])[:2]
    left, right, t = c.last("foot_l").copy(), c.last("foot_r").copy(), c.now
    ahead, behind = np.r_[half, 0, 0, 0], np.r_[-half, 0, 0, 0]
    lift = np.array([0, 0, .06, 0, 12])
    c.to(t + seconds / 4, foot_l=left + lift, foot_r=right + behind / 2, place=start + way / 2)
    c.to(t + seconds / 2, foot_l=left + ahead, foot_r=right + behind, place=start + way)
    c.to(t + seconds * 3 / 4, foot_l=left + ahead / 2, foot_r=right + lift, place=start + way * 1.5)
    c.to(t + seconds, foot_l=left, foot_r=right, place=start + way * 2)
    c.hold(t + seconds)


def walk(g: Golfer, steps: int, stride: float, seconds: float, turn: float = 0.0, arms: float = 1.0) -> None:
    """Steps forwards, turning all the while."""
    at_ease = upright(g, 0.09, 26)
    go(g, 0.4, **at_ease)
    c = g.channels
    feet = [np.array(at_ease["foot_l"], float), np.array(at_ease["foot_r"], float)]
    hands = [np.array(at_ease["hand_l"]), np.array(at_ease["hand_r"])]
    place, heading = c.last("place").copy(), float(c.last("heading")[0])
    for i in range(steps + 1):
        moving, other = ("foot_l", "foot_r") if i % 2 == 0 else ("foot_r", "foot_l")
        m, o = (feet[0], feet[1]) if i % 2 == 0 else (feet[1], feet[0])
        sign, t = (1 if i % 2 == 0 else -1), c.now
        ends = 0 if i == steps else 1          # the last step brings the feet together
        ahead = stride * (0.5 if i in (0, steps) else 1.0)
        for share in (0.5, 1.0):
            heading += turn / (steps + 1) / 2
            place = place + (rz(heading * DEGREE) @ np.array([0, -ahead / 2, 0]))[:2]
            reach = stride / 2 * ends * (share == 1.0)
            swing = 0.45 * arms * ends * sign * (share == 1.0)
            c.to(t + seconds * share, heading=heading, place=place, pelvis=(7 * ends * sign * (share == 1.0), 0, 4),
                 thorax=(-5 * ends * sign * (share == 1.0), 0, 4), hand_l=hands[0] + [0, swing, 0], hand_r=hands[1] + [0, -swing, 0],
                 **{moving: m + [0, -reach, .09 * (share == 0.5), 0, 20 * (share == 0.5)], other: o + [0, reach, 0, 0, 0]})
        c.now = t + seconds
    c.hold()


def squat(g: Golfer, times: int, depth: float, seconds: float) -> None:
    """Knee bends with the arms out in front."""
    up = upright(g, 0.2)
    go(g, 0.6, **up)
    for _ in range(times):
        go(g, seconds / 2, hips=(0, .13, up["hips"][2] - depth), pelvis=(0, 0, 24), thorax=(0, 0, 34),
           hand_l=(.05, -1, -.05), hand_r=(-.05, -1, -.05))
        go(g, seconds / 2, **up)


def reach(g: Golfer, times: int, side: float, up: float, seconds: float) -> None:
    """One arm or both up and over to a side; negative sides are the body's right."""
    at_ease = upright(g, 0.2)
    go(g, 0.6, **at_ease)
    for i in range(times):
        s = side if i % 2 == 0 else -side
        go(g, seconds / 2, thorax=(-20 * s, 24 * s, 4), pelvis=(-6 * s, 4 * s, 3), head=(-30 * s, 12 * s, -6),
           hand_l=(.9 * s + .05, -.25, up), hand_r=(.7 * s - .05, -.3, up if abs(s) > 0.7 else -.8))
        go(g, seconds / 2, **at_ease)


def twist(g: Golfer, times: int, turn: float, hips: float, seconds: float, bent: bool, wide: bool) -> None:
    """Turning left and right to warm up, the arms going with the rib cage."""
    base = upright(g, 0.22, 22 if bent else 8)
    lean = 34 if bent else 3
    arms = [np.array([1, -.15, .05]), np.array([-1, -.15, .05])] if wide else [np.array([-.15, -1, -.1]), np.array([.1, -1, -.1])]
    shaft = np.array([1.0, 0, 0])
    go(g, 0.7, **{**base, "pelvis": (0, 0, lean / 2), "thorax": (0, 0, lean), "hand_l": arms[0], "hand_r": arms[1], "shaft": shaft,
                  "reach_l": .95 if wide else .6, "reach_r": .95 if wide else .6})
    c, t0 = g.channels, g.channels.now
    for i in range(1, 12 * times + 1):
        a = np.sin(2 * np.pi * i / 12)
        r = rz(-turn * a * DEGREE)
        c.to(t0 + i * seconds / 12, thorax=(turn * a, .3 * turn * a * bent, lean), pelvis=(hips * a, .1 * hips * a, lean / 2),
             head=(.5 * turn * a, 0, lean / 2), hand_l=r @ arms[0], hand_r=r @ arms[1], shaft=r @ shaft)
    c.hold(t0 + times * seconds)


def tee(g: Golfer, seconds: float, down: float) -> None:
    """Down to the ground with one hand, a foot behind, and up again."""
    up = upright(g, 0.15)
    go(g, 0.5, **up)
    low = dict(hips=(0, .1, up["hips"][2] - .36 * down), pelvis=(0, 0, 50 * down), thorax=(-12, -4, 74 * down), head=(0, 0, 80 * down),
               foot_l=np.add(up["foot_l"], (0, -.2, 0, 0, 0)), foot_r=np.add(up["foot_r"], (0, .28, .07, 0, 38)),
               hand_r=(-.05, -.5, -1), hand_l=(.25, -.2, -.9), reach_r=.99, reach_l=.8)
    go(g, seconds * 0.35, **low)
    go(g, seconds * 0.12, hand_r=(-.08, -.53, -.97))
    go(g, seconds * 0.13, hand_r=(-.03, -.5, -1))
    go(g, seconds * 0.4, **up)


def putt(g: Golfer, times: int, size: float, seconds: float) -> None:
    """A putting stroke: the shoulders rock, the hands go to and fro like a pendulum."""
    stance = 0.17 - g.stance
    hand, shaft = np.array([-.16, -.24, -.95]), np.array([0, -.42, -.9])
    base = dict(pelvis=(0, 0, 22), thorax=(0, -3, 44), head=(0, 0, 62), hips=(0, 0.03, g.rise(0.17, 18)), girdle=0, grip=1,
                foot_l=(stance, 0, 0, -18, 0), foot_r=(-stance, 0, 0, 18, 0), hand_l=hand, shaft=shaft, reach_l=.9)
    go(g, 0.9, **base)
    for _ in range(times):
        g.channels.hold(g.channels.now + 0.5)
        go(g, seconds * 0.5, thorax=(6 * size, 4 * size - 3, 44), hand_l=hand + size * np.array([-.16, 0, .01]),
           shaft=shaft + size * np.array([-.2, 0, .02]))
        go(g, seconds * 0.35, thorax=(-6 * size, -4 * size - 3, 44), hand_l=hand + size * np.array([.18, 0, .01]),
           shaft=shaft + size * np.array([.2, 0, .02]), head=(-4, 0, 60))
        g.channels.hold(g.channels.now + 0.3)
        go(g, 0.6, **base)


ALL = dict(stand=stand, settle=settle, waggle=waggle, press=press, step=step, walk=walk, squat=squat, reach=reach, twist=twist,
           tee=tee, putt=putt)

"""One swing as keys of the body's channels. The golfer faces -y and plays right-handed: the lead side is the body's left."""

from __future__ import annotations

from typing import Any

import numpy as np

from channels import Channels
from turning import DEGREE

EVENTS = ("addr", "top", "imp", "fin")


def swing(changes: dict[str, Any] | None = None) -> dict[str, Any]:
    """The parameters of a plain full swing, with changes. Times in s, angles in degrees, lengths in m."""
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


def head_for(thorax_turn: float) -> tuple[float, float, float]:
    """Where the head looks: at the ball till the thorax turns through."""
    keys = [-98, -28, 0, 90]
    return tuple(float(np.interp(thorax_turn, keys, v)) for v in ([-80, 0, 0, 25], [-10, -18, 0, 6], [0, 38, 38, 36]))


def trail_foot(heel: float) -> tuple[float, ...]:
    """The trail foot with its heel lifted, m: shift, yaw, pitch."""
    return (0.35 * heel, -0.25 * heel, heel, float(np.interp(heel, [0, 0.13], [0, 70])),
            float(np.arcsin(np.clip(heel / 0.2, 0, 0.9)) / DEGREE))


def address(p: dict[str, Any]) -> dict[str, Any]:
    """All channels at address, place and heading apart."""
    return dict(
        pelvis=p["pel_addr"], thorax=p["tho_addr"], head=head_for(p["tho_addr"][0]), hips=(0, 0, 0), girdle=0,
        foot_l=(0, 0, 0, 0, 0), foot_r=(0, 0, 0, 0, 0), grip=1, reach_l=0.965 * p["reach"],
        hand_l=np.add((-.25, -.30, -.92), p["hands_off"]), shaft=np.add((-.05, -.55, -.83), p["club_off"]))


def add_swing(c: Channels, p: dict[str, Any]) -> dict[str, float]:
    """A swing from now on, from an address that must have been reached; gives its events."""
    t0 = c.now
    c.hold()
    c.to(t0, **address(p))
    ta, tt, ti, tf, te = (t0 + p[k] for k in ("t_addr", "t_top", "t_imp", "t_fin", "t_end"))
    events = (ta, tt, ti, tf, te)

    def keys(name: str, times: Any, values: Any) -> None:
        for t, v in zip(times, values):
            c.to(t, **{name: v})

    for name, key, early in (("pelvis", "pel", p["lag"]), ("thorax", "tho", 0.0)):
        a, b, i, f = (p[f"{key}_{e}"] for e in EVENTS)
        keys(name, (ta, tt - early, ti, tf, te), (a, b, i, f, f))
    turns = [p[f"tho_{e}"][0] for e in EVENTS]
    keys("head", events, [head_for(x) for x in turns + turns[-1:]])
    keys("hips", events, [(x, 0, 0) for x in (0, p["sway_top"], p["sway_imp"], p["sway_fin"], p["sway_fin"])])
    keys("girdle", events, (0, p["scap_top"], 0, -p["scap_top"], -p["scap_top"]))
    heels = np.r_[0.02, np.linspace(0.02, 0.13, 5)[1:], 0.13]
    keys("foot_r", (ta, ti, *np.linspace(ti, tf, 5)[1:], te), [trail_foot(0), *(trail_foot(h) for h in heels)])
    tb1, tb2 = ta + 0.35 * (tt - ta), ta + 0.65 * (tt - ta)
    td, tm, tm2 = tt + 0.55 * (ti - tt), ti + 0.12, ti + 0.3
    times = (ta, tb1, tb2, tt, td, ti, tm, tm2, tf, te)
    hands = [(-.25, -.30, -.92), (-.80, -.35, -.48), (-.80, .02, .20), p["hands_top"], (-.80, -.12, -.25),
             (-.12, -.30, -.94), (.70, -.45, -.45), (.62, -.15, .55), (-.25, .45, .55), (-.25, .45, .55)]
    shafts = [(-.05, -.55, -.83), (-.9, -.3, .3), (-.3, -.1, .95), (.92, -.25, -.25), (-.5, -.1, .85),
              (.02, -.56, -.83), (.9, -.4, 0), (.2, 0, .98), (-.75, .4, -.5), (-.75, .4, -.5)]
    keys("hand_l", times, [np.add(v, p["hands_off"]) for v in hands])
    keys("shaft", times, [np.add(v, p["club_off"]) for v in shafts])
    keys("reach_l", (ta, tt, ti, tm, tm2, tf, te), [r * p["reach"] for r in (.965, .96, .97, .97, .85, .62, .62)])
    c.hold(te)
    return dict(zip(EVENTS, events[:4]))

"""Draw the configurations of the extra referee clips at random.

usage: draw_configs.py OUT_FOLDER
more-01 to more-14 and wide-01 to wide-30 calibrate intervals, report-01 to report-10 and judge-01 to judge-16 only
report, on other bodies. Bodies b0 to b55 are those of ../data/bodies.npz, r0 to r15 those of ../data/referee_bodies.npz,
which the training renderer never dressed.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

SETS = (("more", 14, "b", (48, 50, 51, 52), 2101), ("report", 10, "b", (49, 53, 54, 55), 2202),
        ("wide", 30, "r", tuple(range(10)), 2303), ("judge", 16, "r", tuple(range(10, 16)), 2404))
# what each swing is, in turn: every set holds plain, short, very long and hips-held swings
KINDS = ("plain", "short", "very_long", "plain", "hips_held", "short", "plain", "very_long", "plain", "hips_held",
         "plain", "short", "very_long", "plain")


def draw_swing(kind: str, rng: np.random.Generator) -> dict[str, Any]:
    """Segment angles, timing, legs and arms; the arms do not follow the turn."""
    n, u = rng.normal, rng.uniform
    thorax = {"plain": u(70, 105), "short": u(25, 60), "very_long": u(108, 128), "hips_held": u(45, 80)}[kind]
    pelvis = {"plain": u(28, 58), "short": u(8, 35), "very_long": u(40, 72), "hips_held": u(4, 14)}[kind]
    square_p, square_t = n(0, 5), n(0, 6)
    lean = u(0.28, 0.42)
    top = 0.4 + u(0.65, 0.95)
    impact = top + u(0.22, 0.34)
    finish = impact + u(0.45, 0.62)
    return dict(
        pel_addr=(square_p, n(0, 2), u(10, 26)), pel_top=(pelvis, n(6, 3), n(14, 4)),
        pel_imp=(u(-50, -15), n(-8, 2), n(9, 3)), pel_fin=(u(-105, -60), n(-4, 3), n(-2, 3)),
        tho_addr=(square_t, n(-3, 3), u(26, 42)), tho_top=(thorax, n(lean * thorax, 5), n(34 - 0.35 * thorax, 5)),
        tho_imp=(u(-42, -8), n(-26, 4), n(24, 4)), tho_fin=(u(-118, -68), n(-16, 4), n(-6, 5)),
        sway_top=n(-0.02, 0.02), sway_imp=n(0.07, 0.02), sway_fin=n(0.14, 0.02), scap_top=u(2, 20),
        lag=u(0.02, 0.06), knee0=u(14, 32), stance=u(0.17, 0.29),
        hands_top=(u(-0.9, -0.25), u(0, 0.6), u(-0.15, 0.75)), hands_off=tuple(n(0, 0.07, 3)),
        club_off=tuple(n(0, 0.12, 3)), reach=u(0.9, 1.01),
        t_addr=0.4, t_top=top, t_imp=impact, t_fin=finish, t_end=min(finish + 0.15, 2.6))


def draw_view(role: str, rng: np.random.Generator) -> dict[str, Any]:
    """A phone up to 12 degrees off its role, 0.7 to 1.6 m high."""
    off = rng.uniform(-12, 12)
    angle = np.radians(off if role == "face_on" else -90 + off)
    distance = rng.uniform(3.4, 5.2)
    aim = np.array([0.03, -0.2, 0.95]) if role == "face_on" else np.array([0.0, -0.42, 0.95])
    aim = aim + rng.normal(0, 0.05, 3)
    eye = [aim[0] + distance * np.sin(angle), aim[1] - distance * np.cos(angle), rng.uniform(0.7, 1.6)]
    return dict(fps=int(rng.choice([60, 60, 60, 30, 120])), fov=float(rng.uniform(42, 56)),
                eye=[round(float(x), 3) for x in eye], at=[round(float(x), 3) for x in aim],
                start=float(rng.uniform(0, 0.15)), noise=float(rng.uniform(3, 10)), crf=int(rng.integers(24, 30)),
                roll=float(rng.normal(0, 1)), wobble=float(rng.choice([0.0, 0.0, rng.uniform(0.008, 0.02)])))


def draw_set(name: str, count: int, source: str, bodies: tuple[int, ...], seed: int) -> list[dict[str, Any]]:
    """All configurations of one set; one view at 30 fps goes with one at 120 on every fifth swing."""
    rng = np.random.default_rng(seed)
    out = []
    for i in range(count):
        kind = KINDS[i % len(KINDS)]
        views = {role: draw_view(role, rng) for role in ("face_on", "down_the_line")}
        if i % 5 == 4:
            views["face_on"]["fps"], views["down_the_line"]["fps"] = (30, 120) if rng.random() < 0.5 else (120, 30)
        drawn = {k: (list(map(float, v)) if isinstance(v, tuple) else float(v)) for k, v in draw_swing(kind, rng).items()}
        out.append(dict(name=f"{name}-{i + 1:02d}", body=f"{source}{bodies[i % len(bodies)]}", scene=seed + i, size=[540, 960],
                        lefty=bool(i % 4 == 2), indoor=bool(rng.random() < 0.4), kind=kind, swing=drawn, views=views))
    return out


def main(folder: str) -> None:
    """Write one file a swing."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    for name, count, source, bodies, seed in SETS:
        for config in draw_set(name, count, source, bodies, seed):
            (Path(folder) / f"{config['name']}.json").write_text(json.dumps(config, indent=1) + "\n")


if __name__ == "__main__":
    main(sys.argv[1])

"""One swing drawn at random."""

from __future__ import annotations

from typing import Any

import numpy as np


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
    drawn = dict(
        pel_addr=(square_p, n(0, 2), u(10, 26)), pel_top=(pelvis, n(6, 3), n(14, 4)),
        pel_imp=(u(-50, -15), n(-8, 2), n(9, 3)), pel_fin=(u(-105, -60), n(-4, 3), n(-2, 3)),
        tho_addr=(square_t, n(-3, 3), u(26, 42)), tho_top=(thorax, n(lean * thorax, 5), n(34 - 0.35 * thorax, 5)),
        tho_imp=(u(-42, -8), n(-26, 4), n(24, 4)), tho_fin=(u(-118, -68), n(-16, 4), n(-6, 5)),
        sway_top=n(-0.02, 0.02), sway_imp=n(0.07, 0.02), sway_fin=n(0.14, 0.02), scap_top=u(2, 20),
        lag=u(0.02, 0.06), knee0=u(14, 32), stance=u(0.17, 0.29),
        hands_top=(u(-0.9, -0.25), u(0, 0.6), u(-0.15, 0.75)), hands_off=tuple(n(0, 0.07, 3)),
        club_off=tuple(n(0, 0.12, 3)), reach=u(0.9, 1.01),
        t_addr=0.4, t_top=top, t_imp=impact, t_fin=finish, t_end=min(finish + 0.15, 2.6))
    return {k: [round(float(x), 3) for x in v] if isinstance(v, tuple) else round(float(v), 3) for k, v in drawn.items()}

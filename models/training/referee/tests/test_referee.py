"""What the referee claims to know is true: landmarks on the skin, events on the clock, sets apart. No pictures are rendered."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(HERE))

from draw_configs import SETS, draw_set  # noqa: E402
from landmarks import find, rotations  # noqa: E402
from take import Take  # noqa: E402
from trunk import Rig  # noqa: E402
from turning import (Array, from_rotation_vector, rotation_vector, rz, segment_angles,  # noqa: E402
                     segment_rotation, twist_and_bend)

BODIES = HERE.parent / "data"
DRAWN = {name: draw_set(name) for name in SETS}


def apart(a: Array, b: Array) -> float:
    return float(np.degrees(np.linalg.norm(rotation_vector(a.T @ b))))


def disagreement(take: Take, moments: int) -> Array:
    """Largest angle between a bone and what the ISB landmarks on the skin say, pelvis and thorax, degrees."""
    marks, worst = find(take.golfer), np.zeros(2)
    for t in np.linspace(0, take.end, moments):
        p = take.pose(t)
        seen = rotations(take.golfer, p.skin, marks)
        worst = np.maximum(worst, [apart(segment_rotation(*p.truth[s]), r) for s, r in zip(("pelvis", "thorax"), seen)])
    return worst


@pytest.mark.parametrize("config", [c for name in SETS for c in DRAWN[name][::6]], ids=lambda c: c["name"])
def test_bones_and_landmarks_agree(config: dict[str, Any]) -> None:
    pelvis, thorax = disagreement(Take(BODIES, config), 12)
    assert pelvis < 1 and thorax < 3


def test_skin_that_follows_the_twist_evenly_fails_this() -> None:
    """The check can fail: a trunk that shares the twist out evenly from the hip joints up wrings the pelvis."""
    class Even(Rig):
        def twist(self) -> tuple[float, ...]:
            return 0.0, 0.25, 0.5, 0.75, 1.0

        def skin_share(self, height: Array, front: Array) -> Array:
            return np.clip(height / 0.46, 0, 1)

    take = Take(BODIES, DRAWN["cal"][0])
    from golfer import Golfer
    from figures import figure

    wrung = Golfer(figure(BODIES, take.config["body"]), Even(), take.golfer.stance)
    wrung.channels = take.golfer.channels
    take.golfer = wrung
    assert disagreement(take, 12)[0] > 3


def test_twist_comes_before_no_bend() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        r = from_rotation_vector(rng.normal(0, 0.6, 3))
        twist, bend = twist_and_bend(r)
        assert apart(bend @ rz(twist), r) < 1e-6
        assert abs(rotation_vector(bend)[2]) < 1e-9      # a bend turns nothing about the long axis
        assert np.allclose(segment_rotation(*segment_angles(r)), r)


def test_the_spine_ends_at_its_segments() -> None:
    pelvis, thorax = segment_rotation(45, 8, 14), segment_rotation(90, 36, 1)
    bones = Rig().spine(pelvis, thorax)
    assert apart(bones["spine05"], pelvis) < 1e-6 and apart(bones["spine01"], thorax) < 1e-6
    lumbar, _ = twist_and_bend(pelvis.T @ bones["spine03"])
    whole, _ = twist_and_bend(pelvis.T @ thorax)
    assert lumbar / whole == pytest.approx(Rig().lumbar)


def test_the_top_is_where_the_thorax_turns_back() -> None:
    for config in DRAWN["cal"][:4] + DRAWN["warp"]:
        take = Take(BODIES, config)
        for s in take.swings:
            e = take.events(s)
            assert e["addr"] < e["top"] < e["imp"] < e["fin"] <= take.end + 1e-9
            times = np.linspace(e["addr"], e["imp"], 120)
            turns = [take.golfer.channels.at(np.interp(t, take._clip, take._body))["thorax"][0] for t in times]
            at_top = take.pose(e["top"]).truth["thorax"][0]
            assert at_top == pytest.approx(max(turns), abs=2.5)


def test_a_rest_shows_one_posture() -> None:
    config = next(c for c in DRAWN["warp"] if c["kind"] == "rest at the top")
    take = Take(BODIES, config)
    (a, b), = take.rests
    assert b - a >= 0.3 and take.events(take.real)["top"] == pytest.approx(b)
    assert np.allclose(take.pose(a + 0.01).skin, take.pose(b - 0.01).skin)


def test_feet_stand_on_the_ground_and_the_swing_at_the_origin() -> None:
    for config in DRAWN["none"][:6] + DRAWN["warp"][8:9]:
        take = Take(BODIES, config)
        lowest = [take.pose(t).skin[:, 2].min() for t in np.linspace(0, take.end, 25)]
        assert min(lowest) > -0.05 and max(lowest) < 0.08
        if take.real:
            feet = take.pose(take.on_clip(take.real["addr"])).truth["joints"]
            assert abs(feet["ankle_l"][0] + feet["ankle_r"][0]) < 0.02


def test_takes_without_a_swing_have_none() -> None:
    assert all(not Take(BODIES, c).swings for c in DRAWN["none"])


def test_sets_share_nothing() -> None:
    for key in ("body", "scene"):
        seen = {name: {c[key] for c in configs} for name, configs in DRAWN.items()}
        assert len(set().union(*seen.values())) == sum(len(s) for s in seen.values())
    for a, b in zip(DRAWN["pairs"][::2], DRAWN["pairs"][1::2]):
        assert (a["body"], a["scene"], a["views"], a["rig"]) == (b["body"], b["scene"], b["views"], b["rig"]) and a["swing"] != b["swing"]
    assert [len(DRAWN[n]) for n in SETS] == [60, 30, 24, 20, 20, 10]
    rigs = [c["rig"] for configs in DRAWN.values() for c in configs]
    assert all(0.10 <= r["crest"] <= 0.14 and 0.1 <= r["lumbar"] <= 0.4 <= r["lower"] <= 0.85 for r in rigs)

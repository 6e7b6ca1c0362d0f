"""Takes on odd clocks, with more than a swing in them, and takes without any: each changes a drawn configuration."""

from __future__ import annotations

from typing import Any, Callable

import numpy as np

Change = Callable[[dict[str, Any], np.random.Generator], None]
SWING: list[Any] = ["swing", {}]


def _u(rng: np.random.Generator, a: float, b: float) -> float:
    return round(float(rng.uniform(a, b)), 2)


def _fps(config: dict[str, Any], fps: int, **more: Any) -> None:
    for view in config["views"].values():
        view.update(fps=fps, start=0.0, **more)


def _far(config: dict[str, Any]) -> None:
    """Room for people who move about."""
    for view in config["views"].values():
        view["fov"] = round(min(view["fov"] * 1.3, 75), 2)


def _clock(fps: int, clock: Callable[[np.random.Generator], dict[str, Any]], what: str) -> Change:
    def change(config: dict[str, Any], rng: np.random.Generator) -> None:
        config.update(kind=what, clock=clock(rng))
        _fps(config, fps)
    return change


def _rehearsal(slower: bool) -> Change:
    """A practice swing away from the ball, a step to it, the real one, and off."""
    def change(config: dict[str, Any], rng: np.random.Generator) -> None:
        first = ["swing", {"ball": False, "slower": _u(rng, 2, 4) if slower else 1.0, "t_addr": 0.25}]
        config.update(kind="slow rehearsal first" if slower else "practice swing first", take=[
            ["stand", {"seconds": 0.4}], ["settle", {"seconds": 0.6, "still": 0.05}], first, ["settle", {"seconds": 0.7, "still": 0.1}],
            ["step", {"seconds": 0.8, "x": 0.0, "y": -0.3}], SWING, ["stand", {"seconds": 0.8}]])
        _fps(config, 30)
    return change


def _walks(config: dict[str, Any], rng: np.random.Generator) -> None:
    config.update(kind="walks in, practice swing, walks out", take=[
        ["walk", {"steps": 3, "stride": 0.55, "seconds": 0.5, "turn": _u(rng, -120, 120)}], ["settle", {"seconds": 0.7}],
        ["swing", {"ball": False, "t_addr": 0.2}], ["settle", {"seconds": 0.6, "still": 0.1}], ["step", {"seconds": 0.8, "x": 0.0, "y": -0.3}],
        SWING, ["stand", {"seconds": 0.7}], ["walk", {"steps": 3, "stride": 0.6, "seconds": 0.5, "turn": _u(rng, -150, 150)}]])
    _fps(config, 30), _far(config)


def _waggles(config: dict[str, Any], rng: np.random.Generator) -> None:
    config.update(kind="waggles and a forward press", take=[
        ["stand", {"seconds": 0.5}], ["settle", {"seconds": 0.7}], ["waggle", {"times": 3, "seconds": _u(rng, 0.5, 0.8), "size": _u(rng, 0.7, 1.3)}],
        ["press", {"seconds": 0.5, "size": _u(rng, 0.6, 1.2)}], ["swing", {"t_addr": 0.08}]])
    _fps(config, 60)


def _tight(rate: float) -> Change:
    """Begins 0.2 s before the takeaway and ends right after impact."""
    def change(config: dict[str, Any], rng: np.random.Generator) -> None:
        config.update(kind="cut tight", clock={"rate": rate})
        _fps(config, 60, end=["imp", _u(rng, 0.06, 0.2)])
        for view in config["views"].values():
            view["start"] = ["addr", -0.2]
    return change


def _rehearsal_alone(config: dict[str, Any], rng: np.random.Generator) -> None:
    config.update(kind="slow rehearsal alone", ball=False, take=[["stand", {"seconds": 0.4}], ["settle", {"seconds": 0.6}], ["swing", {"slower": _u(rng, 2, 4)}]])
    _fps(config, 30)


WARP: tuple[Change, ...] = (
    _clock(60, lambda r: {"rests": [[["top", 0], _u(r, 0.3, 2)]]}, "rest at the top"),
    _clock(30, lambda r: {"rate": _u(r, 0.25, 0.5)}, "slow motion"),
    _rehearsal(True),
    _clock(60, lambda r: {"rates": [[["top", 0], 0.25]]}, "slow from the top on"),
    _tight(1.0),
    _waggles,
    _rehearsal(False),
    _clock(30, lambda r: {"rate": _u(r, 0.3, 0.5), "rates": [[["top", _u(r, -0.1, 0.05)], 1.0]]}, "slow to the top"),
    _walks,
    _clock(60, lambda r: {"rate": _u(r, 1.5, 2.5)}, "quicker than life"),
    _clock(60, lambda r: {"rests": [[["addr", 0.4], _u(r, 0.3, 1)], [["top", 0], _u(r, 0.3, 1.5)]]}, "rests on the way and at the top"),
    _rehearsal_alone,
    _clock(60, lambda r: {"rates": [[["imp", -0.08], 0.25], [["imp", 0.08], 1.0]]}, "slow at impact"),
    _tight(0.4),
    _clock(60, lambda r: {"rests": [[["top", 0], _u(r, 0.8, 2)]], "rates": [[["top", 0], 0.5]]}, "rest, then half speed"),
    _clock(30, lambda r: {"rate": 0.125, "rates": [[["imp", 0.1], 1.0]]}, "eight times slower"),
)


def _without(kind: str, take: Callable[[np.random.Generator], list[Any]], **more: Any) -> Change:
    def change(config: dict[str, Any], rng: np.random.Generator) -> None:
        config.update(kind=kind, ball=False, take=take(rng), **more)
        _fps(config, 30), _far(config)
    return change


def _walk(r: np.random.Generator) -> list[Any]:
    return [["walk", {"steps": 5, "stride": _u(r, 0.5, 0.7), "seconds": _u(r, 0.45, 0.6), "turn": float(r.choice([-1, 1])) * _u(r, 90, 220)}], ["stand", {"seconds": 1.0}]]


def _twist(bent: bool, wide: bool) -> Callable[[np.random.Generator], list[Any]]:
    return lambda r: [["stand", {"seconds": 0.6}], ["twist", {"times": 3, "turn": _u(r, 45, 80), "hips": _u(r, 8, 30), "seconds": _u(r, 1.2, 2.2),
                                                              "bent": bent, "wide": wide}], ["stand", {"seconds": 0.6}]]


def _putt(r: np.random.Generator) -> list[Any]:
    return [["stand", {"seconds": 0.5}], ["putt", {"times": 2, "size": _u(r, 0.6, 1.3), "seconds": _u(r, 0.8, 1.2)}], ["stand", {"seconds": 0.8}]]


def _tee(r: np.random.Generator) -> list[Any]:
    return [["walk", {"steps": 2, "stride": 0.5, "seconds": 0.55, "turn": _u(r, -60, 60)}], ["tee", {"seconds": _u(r, 2.5, 4), "down": _u(r, 0.85, 1.05)}],
            ["stand", {"seconds": 0.6}]]


def _reach(r: np.random.Generator) -> list[Any]:
    return [["reach", {"times": 3, "side": _u(r, 0.4, 1), "up": _u(r, 0.5, 1.2), "seconds": _u(r, 1.2, 2)}], ["stand", {"seconds": 0.6}]]


def _squat(r: np.random.Generator) -> list[Any]:
    return [["stand", {"seconds": 0.5}], ["squat", {"times": 3, "depth": _u(r, 0.2, 0.38), "seconds": _u(r, 1.2, 1.8)}]]


def _mixed(r: np.random.Generator) -> list[Any]:
    return [["stand", {"seconds": 2.0, "look": 40}], ["squat", {"times": 1, "depth": 0.3, "seconds": 1.5}], *_reach(r)[:1]]


NONE: tuple[Change, ...] = (
    _without("walks", _walk), _without("twists bent, club in front", _twist(True, False)), _without("putts", _putt, club=0.75),
    _without("tees a ball up", _tee), _without("carries a bag", _walk, bag=True, club=None), _without("squats", _squat),
    _without("reaches", _reach), _without("twists upright, arms out", _twist(False, True), club=None), _without("stands, squats, reaches", _mixed),
    _without("twists bent, arms out", _twist(True, True), club=None), _without("walks, no club", _walk, club=None),
    _without("putts", _putt, club=0.75), _without("twists upright, club in front", _twist(False, False)), _without("reaches, no club", _reach, club=None),
    _without("tees a ball up", _tee), _without("squats, no club", _squat, club=None), _without("twists bent, club in front", _twist(True, False)),
    _without("carries a bag", _walk, bag=True, club=None), _without("putts", _putt, club=0.75), _without("reaches", _reach),
)

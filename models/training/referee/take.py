"""A whole take: a body, what it does in turn, and the clock that it is shown on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

import activities
from figures import figure
from golfer import Golfer, Posed
from swing import EVENTS, add_swing, swing
from trunk import Rig


class Take:
    """Everything of one configuration but its pictures. Times in s: on the clip's clock outside, the body's inside."""

    def __init__(self, bodies: str | Path, config: dict[str, Any]):
        self.config = config
        plain = swing(config.get("swing"))
        rig = config.get("rig") or plain.get("rig") or {}
        self.golfer = Golfer(figure(bodies, config["body"]), Rig(**rig), plain["stance"], plain["knee0"])
        self.swings: list[dict[str, Any]] = []
        self.golfer.channels.to(0.0, **activities.upright(self.golfer))
        for name, given in config.get("take", [["swing", {}]]):
            if name == "swing":
                own = {k: v for k, v in given.items() if k not in ("ball", "slower")}
                p = slower(swing({**plain, **own}), given.get("slower", 1.0))
                ball = given.get("ball", True) and config.get("ball", True)
                self.swings.append(dict(ball=ball, **add_swing(self.golfer.channels, p)))
            elif name == "settle":
                activities.settle(self.golfer, swing=plain, **given)
            else:
                activities.ALL[name](self.golfer, **given)
        self.real = next((s for s in reversed(self.swings) if s["ball"]), self.swings[-1] if self.swings else None)
        self.golfer.channels.stand_at(self.real["addr"] if self.real else self.golfer.channels.now / 2)
        self._set_clock(config.get("clock") or {})

    def _set_clock(self, clock: dict[str, Any]) -> None:
        """`rates`: [moment, body's seconds a clip's second from there on]; `rests`: [moment, seconds]; in order of time."""
        end = self.golfer.channels.now
        rates = [(0.0, float(clock.get("rate", 1.0)))] + [(self._moment(m), float(r)) for m, r in clock.get("rates", [])]
        rests = [(self._moment(m), float(s)) for m, s in clock.get("rests", [])]
        marks = sorted({t for t, _ in rates + rests} | {end})
        body, clip, rate = [0.0], [0.0], rates[0][1]
        self.rests: list[tuple[float, float]] = []
        for a, b in zip(marks, marks[1:]):
            rate = next((r for t, r in reversed(rates) if t <= a + 1e-9), rate)
            for _, s in [x for x in rests if abs(x[0] - a) < 1e-9]:
                self.rests.append((clip[-1], clip[-1] + s))
                body.append(a), clip.append(clip[-1] + s)
            body.append(b), clip.append(clip[-1] + (b - a) / rate)
        self._body, self._clip, self.end = np.array(body), np.array(clip), float(clip[-1])

    def _moment(self, m: Any) -> float:
        """A body's time: a number, or [event of the real swing, shift]."""
        return float(m) if not isinstance(m, list) else self.real[m[0]] + float(m[1])

    def on_clip(self, t: float) -> float:
        """The clip's time of a body's time; at a rest, its end."""
        i = int(np.searchsorted(self._body, t, side="right"))
        if i >= len(self._body):
            return float(self._clip[np.searchsorted(self._body, t, side="left")]) if t <= self._body[-1] else self.end
        a, b = self._body[i - 1], self._body[i]
        return float(self._clip[i - 1] + (t - a) / (b - a) * (self._clip[i] - self._clip[i - 1]))

    def pose(self, t: float, dressed: bool = True) -> Posed:
        """The body at a clip's time, with its skin if `dressed`."""
        return self.golfer.pose(float(np.interp(t, self._clip, self._body)), dressed)

    def frame_times(self, view: dict[str, Any]) -> np.ndarray:
        """The clip's time of every frame of a view; start and end may be [event, shift]."""
        def when(key: str, usual: float) -> float:
            m = view.get(key, usual)
            return float(m) if not isinstance(m, list) else self.on_clip(self.real[m[0]]) + float(m[1])

        start, end = max(when("start", 0.0), 0.0), min(when("end", self.end), self.end)
        return start + np.arange(int((end - start) * view["fps"])) / view["fps"]

    def events(self, s: dict[str, Any]) -> dict[str, float]:
        """The events of a swing on the clip's clock."""
        return {e: self.on_clip(s[e]) for e in EVENTS}


def slower(p: dict[str, Any], factor: float) -> dict[str, Any]:
    """The same swing in longer time; the stillness before it stays."""
    a = p["t_addr"]
    return {**p, **{k: a + (p[k] - a) * factor for k in ("t_top", "t_imp", "t_fin", "t_end")}, "lag": p["lag"] * factor}

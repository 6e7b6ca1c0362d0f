"""Kinds of places: their colours (0 to 255) and light."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Colours (0 to 255) and light of a kind of place; `walls`: a room of that half width, m; 0: open air."""

    sky: tuple[int, int, int]
    ground: tuple[int, int, int]
    rough: float              # standard deviation of the ground's texture
    boxes: int
    light: float = 3.2
    fill: float = 1.2
    ambient: float = 0.35
    walls: float = 0.0
    wall: tuple[int, int, int] = (0, 0, 0)


PLACES = dict(
    range=Place((150, 185, 225), (70, 120, 55), 14, 26),
    hall=Place((90, 90, 95), (60, 110, 70), 14, 26),
    overcast=Place((205, 208, 212), (88, 112, 70), 10, 14, light=1.6, fill=1.4, ambient=0.5),
    white=Place((244, 244, 246), (232, 232, 230), 4, 0, light=1.8, fill=1.2, ambient=0.6, walls=9, wall=(246, 246, 248)),
    grey=Place((120, 120, 124), (96, 96, 98), 8, 0, light=2.4, ambient=0.4, walls=9, wall=(140, 140, 144)),
    dark=Place((24, 26, 30), (40, 66, 44), 8, 10, light=1.5, fill=0.7, ambient=0.22, walls=10, wall=(38, 40, 46)),
    trees=Place((190, 205, 215), (64, 92, 44), 22, 60, light=2.6),
    sand=Place((168, 196, 226), (196, 178, 140), 18, 12, light=3.6),
    brick=Place((150, 170, 190), (110, 108, 100), 12, 4, walls=11, wall=(142, 84, 66)),
    net=Place((70, 74, 78), (52, 96, 60), 12, 6, light=2.0, walls=8, wall=(88, 94, 92)),
)

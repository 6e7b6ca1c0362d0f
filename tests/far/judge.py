"""Where the program found small golfers, against where they are.

usage: judge.py CLIPS_FOLDER TRACKS_FOLDER
CLIPS_FOLDER: what models/training/referee/far_clips.py rendered; TRACKS_FOLDER: NAME.json as the example `observe` writes them.
A frame counts as found where the middle of both hips lies within a tenth of the golfer's height of the true one, and nose to
ankles spans between half and all of it and a fifth. Frames that the program left out as nothing moved are not counted.
Exit 0 where 99 % of frames are found, 1 where fewer are, 77 where there is nothing to judge.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from pathlib import Path

NOSE, HIPS, ANKLES = 0, (23, 24), (27, 28)
BAR = 0.99


def found(person: dict | None, frame: dict, tall_px: float) -> bool:
    """Whether a frame's person is the golfer."""
    if not person:
        return False
    at = [(p["x_px"], p["y_px"]) for p in person["landmarks"]]
    x, y = (sum(at[i][k] for i in HIPS) / 2 for k in (0, 1))
    off = ((x - frame["hips"][0]) ** 2 + (y - frame["hips"][1]) ** 2) ** 0.5
    span = sum(at[i][1] for i in ANKLES) / 2 - at[NOSE][1]
    return off < 0.1 * tall_px and 0.5 * tall_px < span < 1.2 * tall_px


def main(clips: str, tracks: str) -> int:
    """Prints a line a clip and one for all."""
    groups: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    total = [0, 0]
    for path in sorted(Path(clips).glob("*_places.json")):
        truth = json.loads(path.read_text())
        name = path.name.removesuffix("_places.json")
        track = Path(tracks) / f"{name}.json"
        if not track.exists():
            print(f"{name}: not read")
            continue
        text = track.read_text()
        seen = json.loads(text)["observations"] if text.strip() else []
        frames = truth["frames"]
        looked = [o for o in seen if not o["repeated"]]
        hits = sum(found(o["person"], frames[min(round(o["time_s"] * truth["fps"]), len(frames) - 1)], truth["tall_px"]) for o in looked)
        # A clip that was given up holds none of its frames.
        count = len(looked) or len(frames)
        width, height = truth["size"]
        print(f"{name}: {hits} of {count} frames, {truth['tall_px']:.0f} px, {truth['place']}, {width} x {height}, {truth['role']}")
        for key in (truth["place"], f"{width} x {height}", "150 to 200 px" if truth["tall_px"] < 200 else "200 to 250 px"):
            groups[key][0] += hits
            groups[key][1] += count
        total[0] += hits
        total[1] += count
    if not total[1]:
        print("nothing to judge")
        return 77
    for key, (hits, count) in sorted(groups.items()):
        print(f"{key}: {100 * hits / count:.1f} % of {count}")
    print(f"all: {100 * total[0] / total[1]:.2f} % of {total[1]} frames")
    return 0 if total[0] >= BAR * total[1] else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))

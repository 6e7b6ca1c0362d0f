"""Make the bank of background squares (384 px) for training from Debian's wallpaper packages. It is not shipped.

apt-get download gnome-backgrounds mate-backgrounds plasma-workspace-wallpapers lomiri-wallpapers-16.04
lomiri-wallpapers-20.04; unpack each with `dpkg -x PACKAGE FOLDER`, then
usage: backgrounds.py FOLDER BANK.npz
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
from PIL import Image

SIDE, SMALLEST_FILE = 384, 60_000
ENDINGS = {".jpg", ".jpeg", ".png", ".webp"}


def squares(path: Path) -> list[Image.Image]:
    """One to three squares of a picture, or none if it is too small or cannot be read."""
    try:
        picture = Image.open(path).convert("RGB")
    except OSError:
        return []
    w, h = picture.size
    s = min(w, h)
    if s < 400:
        return []
    lefts = {(w - s) // 2, 0, w - s} if w > 1.4 * h else {(w - s) // 2}
    top = (h - s) // 2
    return [picture.crop((x, top, x + s, top + s)).resize((SIDE, SIDE), Image.Resampling.BOX) for x in sorted(lefts)]


def main(folder: str, out: str) -> None:
    """The largest file of every picture folder, squared and packed as JPEG."""
    files = [f for f in Path(folder).rglob("*") if f.suffix.lower() in ENDINGS and f.is_file() and f.stat().st_size > SMALLEST_FILE]
    taken: set[str] = set()
    packed: list[np.ndarray] = []
    for f in sorted(files, key=lambda f: (-f.stat().st_size, str(f))):
        # one wallpaper comes in many sizes, in a folder "images" of its own
        key = f.parent.parent.name if f.parent.name.startswith("images") else str(f)
        if key in taken:
            continue
        for square in squares(f):
            taken.add(key)
            buffer = io.BytesIO()
            square.save(buffer, "JPEG", quality=85)
            packed.append(np.frombuffer(buffer.getvalue(), np.uint8))
    np.savez(out, *packed)
    print(len(files), "pictures,", len(packed), "squares")


if __name__ == "__main__":
    main(*sys.argv[1:3])

"""Makes tests/reference/landmarks.json: the 33 landmarks of the `mediapipe` package (0.10.14,
complexity 1: the weights of our standard landmark network) on the sample clips. Run once, by hand.

usage: landmarks.py SAMPLE-CLIPS-DIR OUT.json      (mediapipe==0.10.14, numpy; ffmpeg on the path)

Every frame is given to it in order, so that it tracks as it does in a film; its smoothing is off, as
ours comes later and is another one. Kept is every 20th frame. Pictures are decoded by ffmpeg with the
scaler's bilinear setting, as ours are.
"""
from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import mediapipe
import numpy as np

EVERY = 20
CLIPS = ["first-lesson_face_on.mp4", "sixth-lesson_down_the_line.mp4"]


def size(clip: Path) -> tuple[int, int]:
    out = subprocess.run(
        ["ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "stream=width,height",
         "-of", "csv=p=0:s=x", str(clip)], check=True, capture_output=True, text=True).stdout
    width, height = out.strip().split("x")
    return int(width), int(height)


def pictures(clip: Path) -> np.ndarray:
    width, height = size(clip)
    raw = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(clip), "-fps_mode", "passthrough", "-vf",
         "scale=flags=bilinear,format=rgb24", "-f", "rawvideo", "-"],
        check=True, capture_output=True).stdout
    return np.frombuffer(raw, np.uint8).reshape(-1, height, width, 3)


def landmarks_of(clip: Path) -> dict:
    frames = []
    with mediapipe.solutions.pose.Pose(static_image_mode=False, model_complexity=1,
                                       smooth_landmarks=False) as pose:
        shown = pictures(clip)
        for index, picture in enumerate(shown):
            seen = pose.process(np.ascontiguousarray(picture)).pose_landmarks
            if index % EVERY:
                continue
            if seen is None:
                sys.exit(f"{clip.name}: nobody in frame {index}")
            height, width = picture.shape[:2]
            frames.append({
                "index": index,
                "points": [[round(p.x * width, 3), round(p.y * height, 3), round(p.visibility, 4)]
                           for p in seen.landmark]})
    return {"clip": clip.name, "frames_in_clip": len(shown), "frames": frames}


def main() -> None:
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    kept = {"made_with": f"mediapipe {mediapipe.__version__}, complexity 1, tracking, no smoothing",
            "point": "x and y in pixels of the frame, probability that the point is visible",
            "clips": [landmarks_of(folder / name) for name in CLIPS]}
    text = json.dumps(kept, indent=1)
    # One point a line.
    out.write_text("\n".join(_joined(text.splitlines())) + "\n", encoding="utf-8")


def _joined(lines: list[str]) -> list[str]:
    """Puts the three numbers of a point on one line."""
    made: list[str] = []
    for line in lines:
        bare = line.strip()
        if made and made[-1].lstrip().startswith("[") and not made[-1].rstrip(",").endswith("]"):
            made[-1] += bare if made[-1].endswith("[") or bare[0] == "]" else " " + bare
        else:
            made.append(line)
    return made


if __name__ == "__main__":
    main()

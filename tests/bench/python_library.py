"""Times the Python package `mediapipe` (a general-purpose pose library, complexity 1) on a clip.

Prints one JSON object: frames and seconds, decoding included, loading not.
"""
import json
import sys
import time

import cv2
import mediapipe

pose = mediapipe.solutions.pose.Pose(static_image_mode=False, model_complexity=1)
clip = cv2.VideoCapture(sys.argv[1])
ok, frame = clip.read()
# The first frame loads and warms the networks.
pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
began = time.monotonic()
frames = 0
while True:
    ok, frame = clip.read()
    if not ok:
        break
    pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
    frames += 1
print(json.dumps({"frames": frames, "seconds": time.monotonic() - began}))

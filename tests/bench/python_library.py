"""Times the Python package `mediapipe` (a general-purpose pose library, complexity 1) on clips, one after
the other.

Prints one JSON object: frames, seconds and processor seconds, decoding included, loading not.
"""
import json
import sys
import time

import cv2
import mediapipe

frames, seconds, processor = 0, 0.0, 0.0
for path in sys.argv[1:]:
    pose = mediapipe.solutions.pose.Pose(static_image_mode=False, model_complexity=1)
    clip = cv2.VideoCapture(path)
    ok, frame = clip.read()
    # The first frame loads and warms the networks.
    pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
    began, work = time.monotonic(), time.process_time()
    while True:
        ok, frame = clip.read()
        if not ok:
            break
        pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
        frames += 1
    seconds += time.monotonic() - began
    processor += time.process_time() - work
print(json.dumps({"frames": frames, "seconds": seconds, "processor_seconds": processor}))

"""Runs the benchmarks and prints `ratio NAME VALUE` lines. Needs ffmpeg and the standard library.

Clips are made from the sample clips: looped for length, scaled up to 1080 x 1920.
"""
import argparse
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample-clips" / "first-lesson_face_on.mp4"
LIBRARY = pathlib.Path(__file__).with_name("python_library.py")


def make(folder, name, seconds, size):
    """A clip of the given length and size, one long take of repeated swings."""
    path = folder / name
    subprocess.run(
        ["ffmpeg", "-v", "error", "-y", "-stream_loop", "-1", "-i", str(SAMPLE), "-t", str(seconds),
         "-vf", f"scale={size}", "-c:v", "libx264", "-preset", "veryfast", "-crf", "20",
         "-c:a", "aac", str(path)],
        check=True,
    )
    return path


def peak_mb(command):
    """Runs a command and returns its peak resident memory, MB, as the kernel counts it."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, _, usage = os.wait4(child.pid, 0)
    child.returncode = 0
    return usage.ru_maxrss / 1024


def rates(text):
    lines = [line.split() for line in text.splitlines()]
    return {name: float(value) for kind, name, value in lines if kind == "rate"}


def speed(args, folder):
    for size, label in (("540:960", ""), ("1080:1920", "_1080p")):
        clip = make(folder, f"speed{label}.mp4", 4, size)
        out = subprocess.run([args.bench, str(clip), str(args.rounds)], check=True, text=True,
                             capture_output=True).stdout
        for line in out.splitlines():
            kind, name, value = line.split()
            print(kind, name + label, value, flush=True)
        library(args, clip, rates(out), label)


def library(args, clip, ours, label):
    """The Python library on the same clip: as it comes, and with one process for each core."""
    probe = subprocess.run([args.python, "-c", "import mediapipe"], capture_output=True)
    if probe.returncode != 0:
        print("note: the Python library is not installed; no comparison with it", file=sys.stderr)
        return
    for processes, name in ((1, "python_library"), (os.cpu_count(), "python_library_on_every_core")):
        rounds = []
        for _ in range(max(1, args.rounds // 2)):
            running = [subprocess.Popen([args.python, str(LIBRARY), str(clip)], text=True,
                                        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
                       for _ in range(processes)]
            told = [json.loads(p.communicate()[0].splitlines()[-1]) for p in running]
            # All began within the time of loading: the rates while all ran add up.
            rounds.append(sum(t["frames"] / t["seconds"] for t in told))
        theirs = sorted(rounds)[len(rounds) // 2]
        print(f"rate {name}{label} {theirs:.2f}")
        print(f"ratio whole_vs_{name}{label} {ours['whole_every_frame'] / theirs:.3f}")
        print(f"ratio sampled_vs_{name}{label} {ours['whole_sampled'] / theirs:.3f}", flush=True)


def memory(args, folder):
    peaks = {}
    for seconds in (3, 30, 120):
        clip = make(folder, f"memory{seconds}.mp4", seconds, "1080:1920")
        out = folder / f"memory{seconds}"
        peaks[seconds] = peak_mb([args.program, "measure", "--every-frame", "--quiet", "--face-on",
                                  str(clip), "--out", str(out)])
        print(f"peak_mb {seconds}s {peaks[seconds]:.0f}", flush=True)
    print(f"ratio peak_memory_30s_vs_3s {peaks[30] / peaks[3]:.3f}")
    print(f"ratio peak_memory_120s_vs_3s {peaks[120] / peaks[3]:.3f}", flush=True)


def many(args, folder):
    cost = {}
    for count in [int(n) for n in args.swings.split()]:
        clips = folder / f"clips{count}"
        clips.mkdir()
        for i in range(count):
            for role in ("face_on", "down_the_line"):
                shutil.copy(ROOT / "sample-clips" / f"first-lesson_{role}.mp4",
                            clips / f"swing{i:04d}_{role}.mp4")
        began = time.monotonic()
        done = subprocess.run([args.program, "folder", "--json", str(clips), "--out",
                               str(folder / f"out{count}")], text=True, capture_output=True)
        told = json.loads(done.stdout)
        if told.get("measured") != count:
            sys.exit(f"only {told} of {count} swings were measured")
        cost[count] = (time.monotonic() - began) / count
        print(f"seconds_a_swing {count}_swings {cost[count]:.2f}", flush=True)
    first = min(cost)
    for count in cost:
        if count != first:
            print(f"ratio cost_a_swing_{count}_vs_{first} {cost[count] / cost[first]:.3f}")


def main():
    parser = argparse.ArgumentParser()
    for name in ("program", "bench", "python"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--swings", default="1 10 100")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        speed(args, folder)
        memory(args, folder)
        many(args, folder)


if __name__ == "__main__":
    main()

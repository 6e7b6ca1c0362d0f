"""Runs the benchmarks and prints `ratio NAME VALUE` lines. Needs ffmpeg and the standard library.

Clips are made from the sample clips: looped for length, scaled up to 1080 x 1920, frames blended in for
higher rates. What is compared takes turns, so that a machine that slows down slows both alike. Where other
work runs on the machine, times tell little: processor time is printed beside them.
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
SAMPLES = ROOT / "sample-clips"
ROLES = ("face_on", "down_the_line")
LIBRARY = pathlib.Path(__file__).with_name("python_library.py")


def say(*words):
    print(*words, flush=True)


def middle(values):
    return sorted(values)[len(values) // 2]


def make(path, source, seconds, size, fps=60, options=()):
    """A clip of the given length, size and rate. It is looped, or held at its end where it is a swing."""
    filters = [f"scale={size}"]
    if fps != 60:
        filters.insert(0, f"minterpolate=fps={fps}:mi_mode=blend")
    subprocess.run(
        ["ffmpeg", "-v", "error", "-y", *options, "-i", str(source), "-t", str(seconds),
         "-vf", ",".join(filters + (["tpad=stop=-1:stop_mode=clone"] if not options else [])),
         "-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-g", str(fps), "-c:a", "aac", str(path)],
        check=True,
    )
    return path


def usage_of(command, **more):
    """Runs a command; its seconds, its processor seconds and its peak resident memory in MB."""
    began = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **more)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))} ended with {child.returncode}")
    return time.monotonic() - began, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def rates(text):
    lines = [line.split() for line in text.splitlines()]
    return {name: float(value) for kind, name, value in lines if kind == "rate"}


class Library:
    """The Python library, where it is installed."""

    def __init__(self, python):
        self.python = python
        self.there = subprocess.run([python, "-c", "import mediapipe"], capture_output=True).returncode == 0
        if not self.there:
            print("note: the Python library is not installed; no comparison with it", file=sys.stderr)

    def read(self, clips):
        """One process reads clips one after the other: frames, seconds, processor seconds."""
        out = subprocess.run([self.python, str(LIBRARY), *map(str, clips)], check=True, text=True,
                             capture_output=True).stdout
        told = json.loads(out.splitlines()[-1])
        return told["frames"], told["seconds"], told["processor_seconds"]


def speed(args, folder, library):
    """Every frame on both sides."""
    for size, label in (("540:960", ""), ("1080:1920", "_1080p")):
        clip = make(folder / f"speed{label}.mp4", SAMPLES / "first-lesson_face_on.mp4", 4, size,
                    options=("-stream_loop", "-1"))
        theirs, ours = [], []
        for _ in range(max(1, args.rounds)):
            ours.append(subprocess.run([args.bench, str(clip), "1"], check=True, text=True,
                                       capture_output=True).stdout)
            if library.there:
                theirs.append(library.read([clip]))
        for line in ours[0].splitlines():
            kind, name, _ = line.split()
            values = [float(other.split()[2]) for o in ours for other in o.splitlines()
                      if other.split()[:2] == [kind, name]]
            say(kind, name + label, f"{middle(values):.3f}")
        if theirs:
            each = [rates(o)["whole_every_frame"] * seconds / frames
                    for o, (frames, seconds, _) in zip(ours, theirs)]
            say("ratio", f"whole_vs_python_library{label}", f"{middle(each):.3f}")
            work = [rates(o)["whole_every_frame_processor"] * processor / frames
                    for o, (frames, _, processor) in zip(ours, theirs)]
            say("ratio", f"whole_vs_python_library_processor_time{label}", f"{middle(work):.3f}")


def processor_seconds(pid):
    """What a running process has used so far."""
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def result_of(args, clips, out):
    """Measures a pair: seconds until its numbers stand, until its page does and until its films do, and
    processor seconds until the numbers and until all is done."""
    began, before = time.monotonic(), os.times()
    child = subprocess.Popen([args.program, "measure", "--quiet", "--out", str(out), "--name", "swing",
                              "--face-on", str(clips[0]), "--down-the-line", str(clips[1])],
                             stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    stands = {}
    while child.poll() is None:
        for name in ("swing.json", "report.html"):
            if name not in stands and (out / "swing" / name).exists():
                stands[name] = (time.monotonic() - began, processor_seconds(child.pid))
        time.sleep(0.01)
    done_s, after = time.monotonic() - began, os.times()
    if child.returncode != 0 or len(stands) < 2:
        sys.exit(child.stderr.read() or "the result came all at once")
    work = after.children_user + after.children_system - before.children_user - before.children_system
    (numbers_s, numbers_work), (page_s, _) = stands["swing.json"], stands["report.html"]
    return numbers_s, page_s, done_s, numbers_work, work


def results(args, folder, library):
    """Two clips of 3 s: seconds to numbers and page, and against the library that reads both."""
    cost = {}
    for fps in (60, 120, 240):
        clips = [make(folder / f"pair{fps}_{role}.mp4", SAMPLES / f"first-lesson_{role}.mp4", 3, "1080:1920", fps)
                 for role in ROLES]
        told, against, work = [], [], []
        for k in range(max(1, args.rounds // 2)):
            told.append(result_of(args, clips, folder / f"result{fps}_{k}"))
            if library.there:
                _, seconds, processor = library.read(clips)
                against.append(seconds / told[-1][0])
                work.append(processor / told[-1][3])
        for i, what in enumerate(("seconds_to_numbers", "seconds_to_page", "seconds_to_films",
                                  "processor_seconds_to_numbers", "processor_seconds_to_films")):
            say(what, f"{fps}fps", f"{middle([t[i] for t in told]):.2f}")
        cost[fps] = middle([t[3] for t in told]), middle([t[4] for t in told])
        if against:
            say("ratio", f"result_vs_python_library_{fps}fps", f"{middle(against):.3f}")
            say("ratio", f"result_vs_python_library_processor_time_{fps}fps", f"{middle(work):.3f}")
    for fps in (120, 240):
        for i, what in enumerate(("numbers", "all")):
            say("ratio", f"cost_of_{what}_{fps}fps_vs_60fps", f"{cost[fps][i] / cost[60][i]:.3f}")


def memory(args, folder):
    peaks = {}
    for seconds in (3, 30, 120):
        clip = make(folder / f"memory{seconds}.mp4", SAMPLES / "first-lesson_face_on.mp4", seconds,
                    "1080:1920", options=("-stream_loop", "-1"))
        _, _, peaks[seconds] = usage_of([args.program, "measure", "--quiet", "--face-on", str(clip),
                                         "--out", str(folder / f"memory{seconds}")])
        say("peak_mb", f"{seconds}s", f"{peaks[seconds]:.0f}")
    say("ratio", "peak_memory_30s_vs_3s", f"{peaks[30] / peaks[3]:.3f}")
    say("ratio", "peak_memory_120s_vs_3s", f"{peaks[120] / peaks[3]:.3f}")


def many(args, folder):
    cost = {}
    for count in [int(n) for n in args.swings.split()]:
        clips = folder / f"clips{count}"
        clips.mkdir()
        for i in range(count):
            for role in ROLES:
                shutil.copy(SAMPLES / f"first-lesson_{role}.mp4", clips / f"swing{i:04d}_{role}.mp4")
        began, before = time.monotonic(), os.times()
        done = subprocess.run([args.program, "folder", "--json", str(clips), "--out",
                               str(folder / f"out{count}")], text=True, capture_output=True)
        told = json.loads(done.stdout)
        if told.get("measured") != count:
            sys.exit(f"only {told} of {count} swings were measured")
        after = os.times()
        cost[count] = (time.monotonic() - began) / count
        processor = (after.children_user + after.children_system - before.children_user
                     - before.children_system) / count
        say("seconds_a_swing", f"{count}_swings", f"{cost[count]:.2f}")
        say("processor_seconds_a_swing", f"{count}_swings", f"{processor:.2f}")
    first = min(cost)
    for count in cost:
        if count != first:
            say("ratio", f"cost_a_swing_{count}_vs_{first}", f"{cost[count] / cost[first]:.3f}")


def main():
    parser = argparse.ArgumentParser()
    for name in ("program", "bench", "python"):
        parser.add_argument(f"--{name}", required=True)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--swings", default="1 10 100")
    parser.add_argument("--parts", default="speed results memory many", help="which parts to run")
    args = parser.parse_args()
    library = Library(args.python)
    parts = {"speed": lambda f: speed(args, f, library), "results": lambda f: results(args, f, library),
             "memory": lambda f: memory(args, f), "many": lambda f: many(args, f)}
    say("load", "at_start", f"{os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        for part in args.parts.split():
            parts[part](pathlib.Path(folder))


if __name__ == "__main__":
    main()

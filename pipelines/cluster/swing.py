"""One swing, on the machine that the engine chose: clips from the store, `quarterturn measure --plan`, what comes of it into the store."""

import fcntl
import functools
import io
import json
import os
import shutil
import signal
import subprocess
import tempfile
import zipfile
from dataclasses import dataclass

import plans
import store as stores

# The program's exit codes: these two are final, all others ask for another try.
MEASURED, NOTHING = 0, 1
CRASHES = {signal.SIGSEGV, signal.SIGABRT, signal.SIGBUS, signal.SIGFPE, signal.SIGILL}
PREFIX = "quarterturn-"


class Again(Exception):
    """No answer, by no fault of the clip's: another try or another machine can do it."""


class Crashed(Again):
    """The program fell over this clip, or hung. A clip that does so every time is the cause."""


@dataclass
class Settings:
    """What every machine needs to know."""

    store: str
    endpoint: str | None
    program: str
    scratch: str


@functools.lru_cache
def open_store(url, endpoint):
    """One client a process: it keeps its connections."""
    return stores.Store(url, endpoint)


def do_swing(common, task, settings):
    """Answers a task once and returns what stands in the store."""
    store = open_store(settings.store, settings.endpoint)
    key = stores.outcome_key(task)
    try:
        standing = store.read(key) or take_over(store, task)
        if standing is None:
            with scratch(settings.scratch) as place:
                standing = measure(store, common, task, settings, place)
        if any(store.read(stores.forgotten_key(c["sha256"])) is not None for c in task["clips"]):
            # Forgotten while it was measured.
            store.remove([key, stores.result_key(task)])
    except OSError as e:
        raise Again(f"the store or the disk: {e}") from e
    return json.loads(standing)


def take_over(store, task):
    """A machine was lost between a result and its outcome: the result tells what is missing."""
    result = store.read(stores.result_key(task))
    if result is None:
        return None
    with zipfile.ZipFile(io.BytesIO(result)) as packed:
        outcome = packed.read("outcome.json")
    store.put_once(stores.outcome_key(task), outcome)
    return outcome


def measure(store, common, task, settings, place):
    clips, out, plan = (os.path.join(place, n) for n in ("clips", "out", "plan.json"))
    for clip in task["clips"]:
        try:
            store.get(stores.clip_key(clip["sha256"]), plans.below(clips, clip))
        except FileNotFoundError as e:
            raise Again(f"{plans.relative(clip)}: not in the store. Send the plan's clips.") from e
    with open(plan, "w", encoding="utf-8") as f:
        # `dump` would go through it item by item, at ten times the cost.
        f.write(json.dumps({**common, "swings": [task]}))
    run_program([settings.program, "measure", "--plan", plan, "--clips", clips, "--out", out, "--quiet", "--json"], task)
    made = os.path.join(out, task["fingerprint"])
    with open(os.path.join(made, "outcome.json"), "rb") as f:
        outcome = f.read()
    if json.loads(outcome)["outcome"] == "measured":
        store.put_once(stores.result_key(task), packed(made))
    if store.put_once(stores.outcome_key(task), outcome):
        return outcome
    # Another machine was faster: what it wrote counts.
    return store.read(stores.outcome_key(task))


def run_program(command, task):
    # Should this process be killed, the system ends the program too.
    leash = ["setpriv", "--pdeathsig", "KILL"] if shutil.which("setpriv") else []
    try:
        ended = subprocess.run(leash + command, capture_output=True, timeout=task["limit_s"], check=False)
    except subprocess.TimeoutExpired as e:
        raise Crashed(f"{task['name']}: not finished after {task['limit_s']:.0f} s.") from e
    said = ended.stderr.decode(errors="replace").strip().removeprefix("quarterturn: ")
    if -ended.returncode in CRASHES:
        raise Crashed(f"{task['name']}: the program crashed on it ({signal.Signals(-ended.returncode).name}).")
    if ended.returncode not in (MEASURED, NOTHING):
        raise Again(said or f"{task['name']}: the program ended with {ended.returncode}.")


def packed(folder):
    """The folder's files as one object; films and pictures, those inside the page too, are compressed already."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED) as z:
        for base, _, files in sorted(os.walk(folder)):
            for name in sorted(files):
                path = os.path.join(base, name)
                deflated = name.endswith((".json", ".csv"))
                z.write(path, os.path.relpath(path, folder), zipfile.ZIP_DEFLATED if deflated else zipfile.ZIP_STORED, 1)
    return whole.getvalue()


class scratch:
    """A folder that is gone afterwards. What a killed process left behind, clips among it, is removed by the next."""

    def __init__(self, folder):
        self.folder = folder

    def __enter__(self):
        os.makedirs(self.folder, exist_ok=True)
        for name in os.listdir(self.folder):
            if name.startswith(PREFIX):
                self.sweep(os.path.join(self.folder, name))
        while True:
            self.place = tempfile.mkdtemp(prefix=PREFIX, dir=self.folder)
            try:
                self.lock = hold(self.place)
            except OSError:
                continue  # A neighbour swept it away before it was locked.
            if os.path.isdir(self.place):
                return self.place
            os.close(self.lock)

    def __exit__(self, *_):
        shutil.rmtree(self.place, ignore_errors=True)
        os.close(self.lock)

    @staticmethod
    def sweep(place):
        try:
            lock = hold(place)
        except OSError:
            return  # In use, or gone.
        shutil.rmtree(place, ignore_errors=True)
        os.close(lock)


def hold(place):
    """A lock that the system lets go of however its holder ends; OSError where another has it."""
    lock = os.open(place, os.O_RDONLY)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(lock)
        raise
    return lock

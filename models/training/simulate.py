"""Whole swings of two views as measuring would read them, for calibration: tracks and truth, without a clip in between.

usage: simulate.py film OUT.npz --plain NET.pt --mirrored NET.pt [--general NET.onnx|own] [--characters FILE] [--bank FILE] [--sets NAME=COUNT ...]
       simulate.py unpack OUT_FOLDER FILM.npz ... [--shift-plain 6 numbers] [--shift-mirrored 6 numbers]

`film` draws each student's swing (simulate_plan.py), films it with the training renderer (simulate_film.py), reads it with the networks
(simulate_look.py) and packs what they said; with RANK and WORLD_SIZE in the environment it does its share. `unpack` writes
OUT_FOLDER/SET/tracks/NAME_ROLE.json as the `observe` example does, and OUT_FOLDER/SET/truth/NAME_truth.json as tests/bench/truth.py reads.
The shifts are what export.py adds to log sigma (pelvis, thorax; x, y, z): a film holds what the networks said.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

import numpy as np
import torch

from draw import Draw
from simulate_film import Film, Shot, Studio
from simulate_look import Eyes, Looks
from simulate_pack import pack, unpack
from simulate_plan import ROLES, SETS, Plan, draw_student, statures

HERE = Path(__file__).resolve().parent
STUDENTS_AT_ONCE = 40


def painted_bodies(folder: Path) -> str:
    """One file of all painted bodies, those of the referee last."""
    first, second = (dict(np.load(folder / n)) for n in ("bodies.npz", "referee_bodies.npz"))
    out = Path(tempfile.mkdtemp()) / "bodies.npz"
    np.savez(out, **{**first, "V": np.concatenate((first["V"], second["V"])), "H": np.concatenate((first["H"], second["H"]))})
    return str(out)


class Sources:
    """Where bodies come from: painted ones, and characters where there are any."""

    def __init__(self, characters: str | None):
        self.painted, self.characters = painted_bodies(HERE / "data"), characters
        paths = [self.painted] + ([characters] if characters else [])
        heights = [statures(p) for p in paths]
        self.statures = heights[0], heights[1] if characters else np.zeros(0)
        self.totals = len(self.statures[0]), len(self.statures[1])

    def students(self, sets: dict[str, int]) -> list[list[Plan]]:
        """All students of the sets, in order."""
        return [draw_student(group, i, self.totals, self.statures) for group, count in sets.items() for i in range(count)]


def film_students(studio: Studio, eyes: Eyes, students: list[list[Plan]], generator: torch.Generator, batch: int) -> tuple[list[Shot], Film, Looks]:
    """Swings of some students of one kind of body."""
    shots = [Shot(p, v, row, 2 * row + ROLES.index(v.role)) for row, plans in enumerate(students) for p in plans for v in p.views]
    with torch.no_grad():
        dressed = studio.dress(Draw(len(students), studio.device, generator), [plans[0] for plans in students])
    film = studio.film(shots, dressed, generator, batch)
    return shots, film, eyes.look(film, shots)


def film(a: argparse.Namespace) -> None:
    """This process's share of the sets."""
    rank, world = int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1"))
    cuda = torch.cuda.is_available()
    device = f"cuda:{os.environ.get('LOCAL_RANK', rank)}" if cuda else "cpu"
    if cuda:
        torch.cuda.set_device(device)
        torch.backends.cudnn.benchmark = False
    begun = time.time()
    sources = Sources(a.characters)
    sets = {k: int(v) for k, v in (s.split("=") for s in a.sets)} if a.sets else {k: v[0] for k, v in SETS.items()}
    # all sets side by side, so that whatever is done when time is up has its share of each
    wanted = sorted(((i + 0.5) / count, g, i) for g, count in sets.items() for i in range(count))[rank::world]
    students = [draw_student(g, i, sources.totals, sources.statures) for _, g, i in wanted]
    eyes = Eyes.open(a.general, a.plain, a.mirrored, device)
    print(f"{rank}: {sum(map(len, students))} swings drawn, {time.time() - begun:.0f} s", flush=True)
    studios = [Studio(path, a.bank, device, a.side) for path in (sources.painted, a.characters) if path]
    kept, longest = [], 0.0
    for at in range(0, len(students), a.at_once):
        start = time.time()
        if start + longest - begun > a.seconds:
            break
        for character, studio in enumerate(studios):
            part = [s for s in students[at:at + a.at_once] if s[0].character == bool(character)]
            if not part:
                continue
            generator = torch.Generator(device).manual_seed(7919 * (rank + 1) + 2 * at + character)
            shots, filmed, looks = film_students(studio, eyes, part, generator, a.batch)
            kept.append(pack(shots, filmed, looks))
            if a.sheet and at == 0:
                torch.save(filmed.pictures[:: max(1, len(filmed.pictures) // 64)].cpu(), f"{a.sheet}{character}.pt")
            del shots, filmed, looks
        longest = max(longest, time.time() - start)
        print(f"{rank}: {at + a.at_once} of {len(students)} students, {sum(len(k['frame']) for k in kept)} pictures, {time.time() - begun:.0f} s", flush=True)
    out = {k: np.concatenate([p[k] for p in kept]) for k in kept[0]}
    np.savez_compressed(a.out, characters=np.array(bool(a.characters)), **out)
    print(f"{rank}: {len(out['frame'])} moments, {os.path.getsize(a.out) / 2**20:.1f} MiB, {time.time() - begun:.0f} s", flush=True)


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    todo = p.add_subparsers(dest="what", required=True)
    f = todo.add_parser("film")
    f.add_argument("out")
    f.add_argument("--plain", required=True)
    f.add_argument("--mirrored", required=True)
    f.add_argument("--general", default=str(HERE.parent / "pose_landmark_full_hm.onnx"))
    f.add_argument("--characters")
    f.add_argument("--bank")
    f.add_argument("--sets", nargs="*", help="SET=COUNT; all of them by default")
    f.add_argument("--side", type=int, default=448, help="pixels of a rendered picture, 1.6 crops wide")
    f.add_argument("--batch", type=int, default=400, help="pictures rendered at once")
    f.add_argument("--at-once", type=int, default=STUDENTS_AT_ONCE, help="students whose views are tracked together")
    f.add_argument("--seconds", type=float, default=1e9, help="begin nothing that would end later than so long after the start")
    f.add_argument("--sheet", help="where to save some pictures to look at")
    u = todo.add_parser("unpack")
    u.add_argument("folder")
    u.add_argument("films", nargs="+")
    u.add_argument("--characters")
    for side in ("plain", "mirrored"):
        u.add_argument(f"--shift-{side}", type=float, nargs=6, default=[0.0] * 6)
    a = p.parse_args()
    if a.what == "film":
        film(a)
        return
    sources = Sources(a.characters)
    for path in a.films:
        unpack(Path(a.folder), path, lambda group, i: draw_student(group, i, sources.totals, sources.statures), (a.shift_plain, a.shift_mirrored))


if __name__ == "__main__":
    main()

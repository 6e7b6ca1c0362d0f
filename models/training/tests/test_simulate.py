"""Whole swings simulated: what lasts lasts, truth is the pictures', numbers survive packing."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
import torch

HERE = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(HERE))

from draw import Draw  # noqa: E402
from rotations import segment_angles  # noqa: E402
from simulate import Sources  # noqa: E402
from simulate_film import WIDE, Film, Same, Shot, Studio, poses  # noqa: E402
from simulate_look import BOTH, FLIPPED, PLAIN, Looks, around, cut, images_of, to_frame, upright  # noqa: E402
from simulate_pack import LANDMARKS, POINTS, pack, unpack  # noqa: E402
from simulate_plan import ROLES, Plan, draw_student, read_frames  # noqa: E402

SMALL = 64


@pytest.fixture(scope="module")
def sources() -> Sources:
    return Sources(None)


@pytest.fixture(scope="module")
def student(sources: Sources) -> list[Plan]:
    """A left-hander's swing, two moments of each view."""
    plans = next(s for s in (draw_student("calibrate", i, sources.totals, sources.statures) for i in range(40)) if s[0].lefty)
    for v in plans[0].views:
        v.frames = v.frames[[0, len(v.frames) // 2]]
    return plans


@pytest.fixture(scope="module")
def shots(student: list[Plan]) -> list[Shot]:
    return [Shot(student[0], v, 0, i) for i, v in enumerate(student[0].views)]


@pytest.fixture(scope="module")
def film(sources: Sources, student: list[Plan], shots: list[Shot]) -> Film:
    studio, g = Studio(sources.painted, None, "cpu", SMALL), torch.Generator().manual_seed(1)
    return studio.film(shots, studio.dress(Draw(1, "cpu", g), student), g)


def test_one_draw_for_all_of_an_owner() -> None:
    owner = torch.tensor([0, 0, 1, 1, 1])
    d = Same(owner, "cpu", torch.Generator().manual_seed(1))
    for drawn in (d.uniform(0, 1, 3), d.normal(0, 1), d.index(1000), d.some(owner > 0).uniform(0, 1)[:3]):
        assert len({tuple(np.atleast_1d(x.numpy()).tolist()) for x in drawn}) == (2 if len(drawn) == 5 else 1)


def test_the_body_turns_as_the_truth_says(sources: Sources, student: list[Plan], shots: list[Shot]) -> None:
    studio = Studio(sources.painted, None, "cpu", SMALL)
    posed = studio.skeleton.pose(poses(shots, "cpu"))
    now = [np.concatenate([s.plan.keys.at(s.times())[k] for s in shots]) for k in ("pelvis", "thorax")]
    assert np.abs(segment_angles(posed.segments).numpy() - np.stack(now, 1)).max() < 0.01
    # the lead hand is where the swing says, seen from the lead shoulder
    hand = posed.joints[:, 10] - posed.joints[:, 6]
    wanted = torch.tensor(np.concatenate([s.plan.keys.at(s.times())["hand_l"] for s in shots]), dtype=torch.float32)
    assert (torch.nn.functional.cosine_similarity(hand, wanted) > 0.95).all()


def test_the_golfer_stands_where_the_frame_says(film: Film, shots: list[Shot]) -> None:
    assert film.pictures.shape == (4, 3, SMALL, SMALL) and (film.side > 200).all()
    size = torch.tensor([[float(s.view.width), float(s.view.height)] for s in shots]).repeat_interleave(2, 0)
    assert ((film.centre > 0) & (film.centre < size)).all()
    # a crop of the whole picture, where no edge is in the way, is the picture
    region = torch.cat((film.centre, film.side[:, None], torch.zeros(4, 1)), 1)
    apart = Film(film.pictures, film.centre + 5000, film.side, film.knees, film.shoulders)
    region[:, :2] += 5000
    seen = cut(apart, torch.arange(4), region, torch.full((4, 2), 1e5))
    small = torch.nn.functional.avg_pool2d(seen, 256 // SMALL)
    assert (small - film.pictures.float() / 255).abs().mean() < 0.02


def test_the_golfer_is_seen_and_light_lasts(film: Film) -> None:
    edge = film.pictures[:, :, :4, :4].float().mean((1, 2, 3))
    assert (edge[0] - edge[1]).abs() < 25 and (edge[2] - edge[3]).abs() < 25
    assert (film.pictures[0].float() - film.pictures[1].float()).abs().mean() > 0.5


def test_crops_turn_as_tracking_says() -> None:
    region = torch.tensor([[300.0, 400.0, 512.0, 0.5]])
    middle = to_frame(torch.tensor([[[128.0, 128.0]]]), region)
    assert torch.allclose(middle[0, 0], region[0, :2])
    assert torch.allclose(around(torch.tensor([[100.0, 300.0]]), torch.tensor([[100.0, 100.0]])), torch.tensor([[100.0, 300.0, 500.0, 0.0]]))
    marks = torch.zeros(1, 33, 2)
    for i, xy in {23: (110, 300), 24: (90, 300), 0: (100, 200), 27: (100, 420), 28: (100, 400)}.items():
        marks[0, i] = torch.tensor(xy, dtype=torch.float32)
    assert upright(marks).tolist() == [[100.0, 300.0, 300.0]]


def test_frames_and_images_are_those_that_measuring_reads(sources: Sources) -> None:
    plan = draw_student("report", 0, sources.totals, sources.statures)[0]
    frames = read_frames(plan.p, 0.0, 60.0, 150)
    assert set(range(0, 150, 3)) <= set(frames.tolist())
    top, impact = plan.p["t_top"], plan.p["t_imp"]
    assert {f for f in range(150) if top < f / 60 < impact} <= set(frames.tolist()) and len(frames) < 110
    assert len(read_frames(plan.p, 0.0, 30.0, 75)) == 75
    view = plan.views[0]
    view.frames, view.fps = frames, 60.0
    kinds = images_of(Shot(plan, view, 0, 0))
    assert kinds[0] == BOTH and {PLAIN, FLIPPED} == set(kinds[1:]) and all(a != b for a, b in zip(kinds[1:-1], kinds[2:-1]))


def test_numbers_survive_packing(tmp_path: Path, sources: Sources, student: list[Plan], shots: list[Shot], film: Film) -> None:
    g = torch.Generator().manual_seed(3)
    u, _, v = torch.linalg.svd(torch.randn(4, 2, 3, 3, generator=g))
    rotation = u @ v * torch.linalg.det(u @ v)[..., None, None]
    near = film.centre[:, None] + film.side[:, None, None] * (torch.rand(4, 33, 2, generator=g) - 0.5)
    looks = Looks(
        torch.cat((film.centre, film.side[:, None], torch.full((4, 1), 0.1)), 1), torch.cat((near, torch.rand(4, 33, 2, generator=g)), -1),
        torch.randn(4, 33, 3, generator=g), torch.ones(4), torch.cat((film.centre, film.side[:, None] / WIDE), 1), torch.tensor([BOTH, PLAIN, BOTH, FLIPPED]),
        rotation, torch.full((4, 2, 3), -2.5), near[:, :25], torch.full((4, 25, 2), 1.0))
    np.savez(tmp_path / "film.npz", **pack(shots, film, looks))
    unpack(tmp_path, str(tmp_path / "film.npz"), lambda group, i: student, ([0.1] * 6, [0.3] * 6))
    for i, role in enumerate(ROLES):
        track = json.loads((tmp_path / "calibrate" / "tracks" / f"{student[0].name}_{role}.json").read_text())
        view = student[0].views[i]
        assert len(track["observations"]) == view.count and sum(not o["repeated"] for o in track["observations"]) == 2
        for k, frame in enumerate(view.frames.tolist()):
            row, person = 2 * i + k, track["observations"][frame]["person"]
            assert np.abs(np.array(person["torso"]["crop_from_segment"]).reshape(2, 3, 3).transpose(0, 2, 1) - rotation[row].numpy()).max() < 2e-4
            assert np.allclose(person["torso"]["log_sigma"], -2.5 + {BOTH: 0.2, PLAIN: 0.1, FLIPPED: 0.3}[int(looks.images[row])], atol=0.015)
            marks = np.array([[person["landmarks"][j]["x_px"], person["landmarks"][j]["y_px"]] for j in LANDMARKS])
            assert np.abs(marks - near[row, LANDMARKS].numpy()).max() < 0.1
            assert np.abs(np.array(person["torso"]["points_px"])[list(POINTS)] - near[row, POINTS].numpy()).max() < 0.1
    truth = json.loads((tmp_path / "calibrate" / "truth" / f"{student[0].name}_truth.json").read_text())
    assert truth["handedness"] == "left"
    at_top = min(truth["samples"], key=lambda s: abs(s["t"] - truth["events"]["top"]))
    assert at_top["t"] == truth["events"]["top"] and abs(at_top["thorax_turn"] - student[0].p["tho_top"][0]) < 0.01
    # a left-hander's camera is the mirrored one: his hips are seen where the film has them
    view, plan = truth["views"]["face_on"], student[0]
    m, eye = np.array(view["camera_to_world"]), np.array(view["camera_position_m"])
    hips = (np.concatenate((plan.keys.at(plan.views[0].time_s(plan.views[0].frames[0]))["hips"][:2], [0.0])) + (0, 0.02, 0.85)) * (-1, 1, 1)
    c = m.T @ (hips - eye)
    x = view["focal_px"] * c[0] / -c[2] + view["width"] / 2
    assert abs(x - float(film.centre[0, 0])) < 12

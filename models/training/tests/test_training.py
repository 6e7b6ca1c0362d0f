"""A tiny run of everything on the CPU: about half a minute."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import onnxruntime
import pytest
import torch

HERE = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(HERE))

from evaluate import turn, turn_sigma, wrap  # noqa: E402
from export import export  # noqa: E402
from losses import losses, of_places, rotation_error, student_t  # noqa: E402
from network import General, TorsoNet, load_from_onnx, load_weights, read  # noqa: E402
from draw import Draw
from poses import draw_poses  # noqa: E402
from renderer import Batch, Renderer, mirror  # noqa: E402
from rotations import from_rotation_vector, rotation_vector, segment_angles, segment_rotation  # noqa: E402
from augment import compress  # noqa: E402
from train import arguments, train  # noqa: E402

BODIES = str(HERE / "data" / "bodies.npz")
LANDMARKS = str(HERE.parent / "pose_landmark_full_hm.onnx")


@pytest.fixture(scope="module")
def renderer() -> Renderer:
    return Renderer(BODIES, None, "cpu")


@pytest.fixture(scope="module")
def batch(renderer: Renderer) -> Batch:
    g = torch.Generator().manual_seed(1)
    pose = draw_poses(8, list(range(48)), 56, "cpu", g)
    dressed = renderer.wardrobe.dress(Draw(8, "cpu", g), pose.mix, pose.stretch)
    return renderer.render(renderer.skeleton.pose(pose), dressed, g, clean=True)


def test_angles_and_vectors_come_back() -> None:
    angles = torch.tensor([[88.0, 36.0, 1.0], [-98.0, -18.0, -8.0], [0.0, -5.0, 36.0]])
    assert torch.allclose(segment_angles(segment_rotation(angles)), angles, atol=1e-3)
    w = torch.tensor([[0.3, -1.2, 0.5], [0.0, 0.01, 0.0]])
    assert torch.allclose(rotation_vector(from_rotation_vector(w)), w, atol=1e-3)


def test_pelvis_axis_lies_along_the_hip_joints(batch: Batch) -> None:
    line = batch.points[:, 0] - batch.points[:, 1]
    axis = batch.rotation[:, 0, :2, 0]
    clear = line.norm(dim=1) > 0.03
    cosine = (line * axis).sum(1) / line.norm(dim=1) / axis.norm(dim=1)
    assert clear.any() and (cosine[clear] > 0.97).all()
    # the left hip is farther away exactly when the axis points into the scene
    assert ((batch.depth[:, 0] - batch.depth[:, 1]) * batch.rotation[:, 0, 2, 0] > -1e-3).all()


def test_the_golfer_is_in_the_picture(renderer: Renderer) -> None:
    g = torch.Generator().manual_seed(2)
    pose = draw_poses(2, [0], 56, "cpu", g, blend=False)
    posed = renderer.skeleton.pose(pose)
    first = renderer.wardrobe.dress(Draw(2, "cpu", g), pose.mix, pose.stretch)
    # the same draw with other paint must change pixels near the torso and leave targets alone
    state = g.get_state()
    a = renderer.render(posed, first, g, clean=True)
    g.set_state(state)
    first.colour = 1 - first.colour
    b = renderer.render(posed, first, g, clean=True)
    assert torch.equal(a.rotation, b.rotation)
    middle = (slice(None), slice(None), slice(96, 160), slice(96, 160))
    assert (a.image[middle] - b.image[middle]).abs().mean() > 0.02
    corner = (slice(None), slice(None), slice(0, 16), slice(0, 16))
    assert (a.image[corner] - b.image[corner]).abs().mean() < 1e-3


def test_mirroring_twice_changes_nothing(batch: Batch) -> None:
    every = torch.ones(8, dtype=torch.bool)
    once = mirror(batch, every)
    twice = mirror(once, every)
    assert torch.allclose(twice.rotation, batch.rotation) and torch.allclose(twice.points, batch.points, atol=1e-6)
    assert not torch.allclose(once.rotation, batch.rotation)


def test_compression_hurts_more_at_low_quality() -> None:
    image = torch.rand(2, 3, 32, 32, generator=torch.Generator().manual_seed(3))
    fine, coarse = (float((compress(image, torch.full((2,), q)) - image).abs().mean()) for q in (1.5, 0.2))
    assert fine < 0.01 < coarse


def test_likelihood_is_least_at_the_true_spread() -> None:
    g = np.random.default_rng(4)
    error = torch.tensor(g.standard_t(4, 40000) * 0.1 / np.sqrt(2), dtype=torch.float32)
    at = [float(student_t(error, torch.tensor(np.log(s))).mean()) for s in (0.07, 0.1, 0.14)]
    assert at[1] < at[0] and at[1] < at[2]


def test_the_landmark_network_starts_the_encoder() -> None:
    net, other = TorsoNet(), TorsoNet()
    load_from_onnx(net, LANDMARKS)
    load_from_onnx(other, LANDMARKS)
    first = [(a, b) for a, b in zip(net.encoder.parameters(), other.encoder.parameters())]
    assert all(torch.equal(a, b) for a, b in first) and not torch.equal(net.plain[1].weight, other.plain[1].weight)


def test_the_landmark_head_is_the_general_network() -> None:
    image = torch.rand(2, 3, 256, 256, generator=torch.Generator().manual_seed(6))
    with torch.no_grad():
        seen, _ = General(LANDMARKS)(image)
    landmarks, presence, world = onnxruntime.InferenceSession(LANDMARKS).run(
        ["landmarks", "presence", "world_landmarks"], {"image": image.permute(0, 2, 3, 1).contiguous().numpy()})
    assert np.abs(landmarks.reshape(2, 39, 5) - seen.landmarks.numpy()).max() < 0.02
    assert np.abs(presence - seen.presence.numpy()).max() < 1e-3 and np.abs(world.reshape(2, 39, 3) - seen.world.numpy()).max() < 1e-3


def test_places_are_finer_than_sixteen_bits() -> None:
    net = TorsoNet()
    load_from_onnx(net, LANDMARKS)
    image = torch.rand(2, 3, 256, 256, generator=torch.Generator().manual_seed(6))
    with torch.no_grad(), torch.autocast("cpu", dtype=torch.bfloat16):
        out = net(image)
    assert out.raw.dtype == torch.bfloat16, "all else is in 16 bits"
    assert out.seen.landmarks.dtype == out.seen.world.dtype == out.small.dtype == torch.float32
    far = out.seen.landmarks[..., :2].abs()
    # numbers of 8 bits' fineness lie whole pixels apart here
    assert ((far > 128) & (far % 1.0 > 0.05) & (far % 1.0 < 0.95)).any()


def test_train_and_export(tmp_path: Path, batch: Batch) -> None:
    out = tmp_path / "net.pt"
    train(arguments(["--bodies", BODIES, "--weights", LANDMARKS, "--general", LANDMARKS, "--out", str(out), "--steps", "2", "--batch", "3", "--warmup", "1"]))
    net = TorsoNet()
    load_weights(net, out)
    before = TorsoNet()
    load_from_onnx(before, LANDMARKS)
    assert any(not torch.allclose(a, b, atol=1e-7) for a, b in zip(net.encoder.parameters(), before.encoder.parameters()))
    seen = net.eval()(batch.image)
    assert torch.isfinite(losses(read(seen.raw), batch, 1.0).total) and torch.isfinite(of_places(seen.places, batch))
    file = tmp_path / "net.onnx"
    export(net.eval(), torch.full((2, 3), 0.1), file)
    session = onnxruntime.InferenceSession(str(file))
    for n in (1, 3):
        rotation, log_sigma, points, log_b, landmarks, presence, world = session.run(None, {"image": batch.image[:n].numpy()})
        assert rotation.shape == (n, 2, 3, 3) and points.shape == log_b.shape == (n, 25, 2) and log_sigma.shape == (n, 2, 3)
    with torch.no_grad():
        again, marked = read(net(batch.image[:3]).raw), net(batch.image[:3]).seen
    assert np.abs(landmarks.reshape(3, 39, 5)[..., :2] - marked.landmarks[..., :2].numpy()).max() < 1.0
    assert presence.shape == (3, 1) and np.abs(world.reshape(3, 39, 3) - marked.world.numpy()).max() < 0.02
    assert np.abs(rotation - again.rotation.numpy()).max() < 0.01
    assert np.abs(log_sigma - 0.1 - again.log_sigma.numpy()).max() < 0.02
    assert rotation_error(again, batch.rotation[:3]).shape == (3, 2, 3)


def test_turn_and_its_sigma() -> None:
    world = segment_rotation(torch.tensor([[40.0, 10.0, 20.0]])).double().numpy()
    assert abs(wrap(turn(world)[0] - 40)) < 1e-3
    # a camera that looks along -z: its third axis is the world's vertical, so its sigma is the turn's
    level = np.diag([1.0, -1.0, -1.0])
    sigma = turn_sigma(level, level @ world, np.array([[0.0, 0.0, 0.02]]))
    assert abs(sigma[0] - np.degrees(0.02)) < 0.01

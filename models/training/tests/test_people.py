"""Real people by several cameras, characters with pictures for skin, and poses that are no golf: small runs on the CPU."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import torch

HERE = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(HERE))

from draw import Draw  # noqa: E402
from everyday import everyday  # noqa: E402
from golfer import Skeleton  # noqa: E402
from multiview import Camera, axes, triangulate  # noqa: E402
from poses import draw_poses  # noqa: E402
from real import Lines, mirrored_rotation, of_lines  # noqa: E402
from renderer import Renderer  # noqa: E402
from rotations import segment_angles, segment_rotation  # noqa: E402
from stream import Stream, joined  # noqa: E402

BODIES = HERE / "data" / "bodies.npz"


def camera(folder: Path, azimuth: float) -> Camera:
    """A camera 4 m away that looks at a point 1 m above the ground."""
    a = np.radians(azimuth)
    eye, aim = np.array([4 * np.sin(a), -4 * np.cos(a), 1.5]), np.array([0.0, 0.0, 1.0])
    forward = (aim - eye) / np.linalg.norm(aim - eye)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rows = np.stack((right, np.cross(forward, right), forward))
    tf = np.eye(4)
    tf[:3] = np.c_[rows, -rows @ eye]
    path = folder / f"{azimuth:.0f}.json"
    path.write_text(json.dumps(dict(
        intrinsic=dict(doubles=[1000, 0, 640, 0, 1000, 360, 0, 0, 1]), distortion=dict(doubles=[-0.2, 0.1, 0, 0, 0]), extrinsic=[dict(tf=dict(doubles=tf.ravel().tolist()))])))
    return Camera(str(path))


def test_points_come_back_from_several_cameras_and_one_wrong_view_pulls_little(tmp_path: Path) -> None:
    cameras = [camera(tmp_path, a) for a in (0, 80, 170, 260)]
    points = {0: [0.0, -0.1, 1.7], 11: [0.17, 0.03, 1.45], 12: [-0.17, -0.03, 1.45], 23: [0.1, 0.0, 0.95], 24: [-0.1, 0.0, 0.95]}
    found = {}
    for k, p in points.items():
        seen = []
        for i, c in enumerate(cameras):
            q = c.tf @ np.append(p, 1)
            seen.append((i, q[:2] / q[2] + (0.08 if i == 1 and k == 11 else 0.0), 1.0))
        found[k], off = triangulate(cameras, seen)
        assert np.linalg.norm(found[k] - p) < (0.06 if k == 11 else 1e-6), (k, found[k])
    of_person = axes(found)
    assert of_person is not None and np.degrees(np.arccos(of_person[0] @ [1, 0, 0])) < 0.1
    assert axes({**found, 23: np.array([0.5, 0, 0.95])}) is None
    # what a camera sees of a place, back to a ray: lens and all
    place = cameras[0].tf @ np.array([0.3, 0.0, 1.2, 1.0])
    r2 = float((place[:2] / place[2]) @ (place[:2] / place[2]))
    pixel = place[:2] / place[2] * (1 - 0.2 * r2 + 0.1 * r2**2) * 1000 + [640, 360]
    assert np.allclose(cameras[0].rays(pixel)[0], place[:2] / place[2], atol=1e-5)


def test_axes_of_several_cameras_ask_for_turn_alone_in_both_mirror_images() -> None:
    r = segment_rotation(torch.tensor([[[20.0, 5.0, 10.0], [50.0, 10.0, 30.0]]]))
    up = torch.tensor([0.0, 0.0, 1.0]).expand(1, 2, 3)
    f = torch.tensor([-1.0, 1, 1])
    line = Lines(r[..., 0], up)
    assert of_lines(r, line) < 1e-6
    assert of_lines(segment_rotation(torch.tensor([[[20.0, -15.0, 40.0], [50.0, 30.0, 0.0]]])), line) < 1e-6
    off = segment_rotation(torch.tensor([[[30.0, 5.0, 10.0], [60.0, 10.0, 30.0]]]))
    assert 0.5 < of_lines(off, line) < 1.0
    assert of_lines(mirrored_rotation(r), Lines(-line.axis * f, line.trunk * f)) < 1e-6
    unknown = Lines(torch.full((1, 2, 3), torch.nan), up)
    assert of_lines(off, unknown) == 0


def test_poses_that_are_no_golf_hold_what_they_should() -> None:
    g = torch.Generator().manual_seed(3)
    golf = draw_poses(400, list(range(48)), 56, "cpu", g)
    which = torch.arange(400) % 2 == 0
    pose = everyday(Draw(400, "cpu", g), golf, which)
    assert torch.equal(pose.thorax[~which], golf.thorax[~which]) and torch.equal(pose.hand[~which], golf.hand[~which])
    side = pose.thorax[which, 1].abs()
    assert side.max() > 45 and side.max() <= 62 and (pose.thorax[which, 0] - pose.pelvis[which, 0]).abs().median() < 25
    out = (pose.hand[which, 0, 0] > 0.8) & (pose.hand[which, 1, 0] < -0.8)
    assert 0.1 < out.float().mean() < 0.5, "arms held out on both sides"
    posed = Skeleton(str(BODIES), "cpu").pose(pose)
    assert torch.isfinite(posed.joints).all()
    # raised arms lift the shoulders
    up = which & (pose.hand[:, 0, 2] > 0.7)
    down = which & (pose.hand[:, 0, 2] < -0.8)
    lift = posed.joints[:, 6, 2] - posed.joints[:, 12, 2]
    assert up.sum() > 5 and lift[up].mean() > lift[down].mean() + 0.02
    angles = segment_angles(posed.segments[which, 1])
    assert torch.allclose(angles, pose.thorax[which], atol=1e-2)


def test_characters_show_their_own_colours_and_the_truth_stays_the_bones(tmp_path: Path) -> None:
    z = dict(np.load(BODIES))
    rng = np.random.default_rng(1)
    z.update(V=z["V"][:6], H=z["H"][:6], colour=rng.integers(0, 255, (6, len(z["f"]), 3)).astype(np.uint8), hair=np.full((6, 3), -1, np.float32))
    path = tmp_path / "characters.npz"
    np.savez(path, **z)
    renderer = Renderer(str(path), None, "cpu")
    stream = Stream(renderer, list(range(6)), 6, 3, torch.Generator().manual_seed(2), no_golf=1.0, anywhere=1.0)
    batch = joined([stream.next(), stream.next()])
    assert len(batch.image) == 6 and torch.isfinite(batch.image).all()
    line = batch.points[:, 0] - batch.points[:, 1]
    axis = batch.rotation[:, 0, :2, 0]
    clear = line.norm(dim=1) > 0.03
    cosine = (line * axis).sum(1) / line.norm(dim=1) / axis.norm(dim=1)
    assert clear.any() and (cosine[clear] > 0.97).all()
    dressed = renderer.wardrobe.dress(Draw(2, "cpu", torch.Generator().manual_seed(1)), torch.eye(6)[:2], torch.ones(2, 3))
    assert dressed.colour.shape == (2, len(z["f"]), 3) and not torch.equal(dressed.colour[0], dressed.colour[1])


def test_photographed_clothes_cover_what_they_cover_and_bare_chests_show_skin(tmp_path: Path) -> None:
    z = np.load(BODIES)
    plain = Renderer(str(BODIES), None, "cpu").wardrobe
    torso, faces = plain.torso.numpy(), z["f"]
    thick = np.where(torso, 0.01, np.nan).astype(np.float16)[None]
    cover = torso[faces].all(1)[None]
    colour, skin = np.zeros((1, len(faces), 3), np.uint8), np.zeros((1, len(faces), 3), np.uint8)
    colour[..., 2], skin[..., 0] = 200, 200
    path = tmp_path / "outfits.npz"
    np.savez(path, thick=thick, cover=cover, colour=colour, skin=skin)
    renderer = Renderer(str(BODIES), None, "cpu", outfits=str(path))
    outfits = renderer.wardrobe.outfits
    assert outfits is not None
    bare = torch.arange(40) % 2 == 0
    worn = outfits.draw(Draw(40, "cpu", torch.Generator().manual_seed(4)), bare)
    assert 0.3 < worn.photographed.float().mean() < 0.9
    above, clad = outfits.above, torch.tensor(torso)
    assert not worn.cloth[bare][:, above].any() and (worn.thick[bare][:, above] == 0).all()
    assert worn.cloth[~bare][:, clad].all() and (worn.thick[~bare][:, clad] > 0.005).all() and not worn.cloth[:, ~clad].any()
    painted, over = torch.zeros(40, len(plain.weights), 3), torch.zeros(40, plain.count, dtype=torch.bool)
    shown = worn.on_faces(painted, over, renderer.faces)
    assert shown.shape == (40, len(renderer.faces), 3)
    body = shown[:, :len(faces)]
    assert (body[~worn.photographed] == 0).all() and (shown[:, len(faces):] == 0).all()
    photographed = worn.photographed & bare
    assert (body[photographed][:, ~torch.tensor(cover[0])][..., 0] > 0.3).all()
    stream = Stream(renderer, list(range(6)), 56, 3, torch.Generator().manual_seed(2))
    assert torch.isfinite(stream.next().image).all()


def test_real_pictures_change_their_surroundings_and_keep_the_person(tmp_path: Path) -> None:
    import io

    from PIL import Image

    from real import Real
    from surroundings import Surroundings

    def jpeg(a: np.ndarray) -> np.ndarray:
        buffer = io.BytesIO()
        Image.fromarray(a).save(buffer, "JPEG", quality=95)
        return np.frombuffer(buffer.getvalue(), np.uint8)

    image = np.full((256, 256, 3), 40, np.uint8)
    mask = np.zeros((128, 128), np.uint8)
    image[64:192, 96:160], mask[32:96, 48:80] = 220, 255
    a, b = jpeg(image), jpeg(mask)
    path = tmp_path / "real.npz"
    np.savez(path, bytes=a, size=np.array([len(a)]), mask_bytes=b, mask_size=np.array([len(b)]), pairs=np.zeros((1, 2), int), turn=np.eye(3)[None])
    real, g = Real(str(path), "cpu", Surroundings(None, 256, "cpu")), torch.Generator().manual_seed(6)
    pick = torch.zeros(60, dtype=torch.long)
    before = real.images[pick].float() / 255
    after = real.elsewhere(Draw(60, "cpu", g), pick, before)
    off = (after - before).abs().mean(1)
    inside, outside = off[:, 90:170, 110:146].flatten(1).median(1).values, off[:, :50].mean((1, 2))
    assert inside.median() < 0.02 and 0.3 < (outside > 0.03).float().mean() < 0.8
    real.surroundings = None
    plain, other = real.draw(Draw(80, "cpu", g))
    assert plain.shape == other.shape == (80, 3, 256, 256)
    # crops drift from the person as they do when landmarks are followed: where its middle and how wide it then is, in sides
    bright = (plain.mean(1) > 0.5).float()
    across = bright.mean(1)
    middle = (across * torch.arange(256)).sum(1) / across.sum(1) / 256 + 0.5 / 256 - 0.5
    wide = bright.amax(1).sum(1) / 256 / 0.25
    assert 0.06 < middle.abs().max() < 0.10 and 0.02 < middle.abs().median() < 0.07
    assert 1.08 < wide.max() < 1.2 and 0.82 < wide.min() < 0.92


def test_pairs_of_cameras_agree_in_both_mirror_images(tmp_path: Path) -> None:
    import io

    from PIL import Image

    from real import Real, of_pairs

    packed = []
    for left in (True, False):
        image = np.zeros((256, 256, 3), np.uint8)
        image[:, :128 if left else 256] = 200
        buffer = io.BytesIO()
        Image.fromarray(image).save(buffer, "JPEG", quality=95)
        packed.append(np.frombuffer(buffer.getvalue(), np.uint8))
    turn = segment_rotation(torch.tensor([30.0, 10.0, 5.0]))
    path = tmp_path / "real.npz"
    np.savez(path, bytes=np.concatenate(packed), size=np.array([len(p) for p in packed]), pairs=np.array([[0, 1]]), turn=turn[None].numpy())
    first, _, told = Real(str(path), "cpu").draw_pairs(Draw(100, "cpu", torch.Generator().manual_seed(7)))
    flipped = first[:, 0, 128, 64] < 0.5
    assert 0.3 < flipped.float().mean() < 0.7
    r = segment_rotation(torch.tensor([[50.0, 0.0, 10.0], [70.0, 5.0, 20.0]]))[None]
    both = torch.cat((r, turn @ r)).repeat_interleave(100, 0)
    seen = torch.where(torch.cat((flipped, flipped))[:, None, None, None], mirrored_rotation(both), both)
    assert of_pairs(seen, told) < 1e-6 and of_pairs(both, told) > 0.05


def test_three_networks_in_one_file_each_read_their_own_image(tmp_path: Path) -> None:
    import onnx
    import onnxruntime
    from onnx import TensorProto, helper, numpy_helper

    from evaluate import FLIP, open_network
    from bundle import SHAPES, bundle

    def network(name: str, rotation: np.ndarray, log_sigma: float) -> str:
        """Says always the same, plus nothing of the picture's sum."""
        said = dict(rotation=np.stack([rotation, rotation]), log_sigma=np.full((2, 3), log_sigma), points=np.zeros((25, 2)), log_b=np.zeros((25, 2)))
        nodes = [helper.make_node("ReduceMean", ["image"], ["sum"], keepdims=0), helper.make_node("Mul", ["sum", "zero"], ["none"])]
        nodes += [helper.make_node("Add", [k + "_was", "none"], [k]) for k in SHAPES]
        kept = [numpy_helper.from_array(v[None].astype(np.float32), k + "_was") for k, v in said.items()] + [numpy_helper.from_array(np.float32(0), "zero")]
        graph = helper.make_graph(nodes, name, [helper.make_tensor_value_info("image", TensorProto.FLOAT, ["batch", 3, 256, 256])],
                                  [helper.make_tensor_value_info(k, TensorProto.FLOAT, ["batch", *SHAPES[k]]) for k in SHAPES], kept)
        path = str(tmp_path / name)
        onnx.save(helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8), path)
        return path

    a, b, c = (segment_rotation(torch.tensor([t, 0.0, 0.0])).double().numpy() for t in (20.0, 50.0, 35.0))
    out = str(tmp_path / "three.onnx")
    bundle(network("a.onnx", a, np.log(0.05)), network("b.onnx", FLIP @ b @ FLIP, np.log(0.15)), network("c.onnx", FLIP @ c @ FLIP, np.log(0.1)), out)
    session = onnxruntime.InferenceSession(out, providers=["CPUExecutionProvider"])
    image = np.zeros((1, 3, 256, 256), np.float32)
    for mirrored, contradicted, rotation in ((False, False, a), (False, True, a), (True, False, FLIP @ b @ FLIP), (True, True, FLIP @ c @ FLIP)):
        said = session.run(["rotation"], {"image": image, "mirrored": np.array([mirrored]), "contradicted": np.array([contradicted])})[0]
        assert np.allclose(said[0, 0], rotation, atol=1e-5)
    rotation, sigma = open_network(out)(np.zeros((256, 256, 3)))
    turned = np.degrees(np.arctan2(-rotation[0, 1, 0], rotation[0, 0, 0]))
    assert abs(turned - 23) < 0.3 and 0.05 < sigma[0, 0] < 0.07      # variances of one to nine

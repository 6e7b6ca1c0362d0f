"""Write a trained network as ONNX, torso and landmarks from one look, its sigma scaled so that 1.96 sigma holds 95 % on held-out training bodies.

usage: export.py NET.pt OUT.onnx --bodies data/bodies.npz [--bank BANK.npz] [--characters FILE] [--calibrate N]
With characters, half of the pictures that sigma is scaled on show those held back from training.
Weights are stored in half precision and widened when the file is loaded, like the other model files.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path

import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor, nn

from losses import rotation_error
from network import LOG_SIGMA_RANGE, TorsoNet, load_weights, read
from draw import Draw
from poses import draw_poses
from renderer import Renderer

HELD_OUT, BODIES = list(range(48, 56)), 56
EVERY = 11         # one character in so many is held back, as in train.py
SMALLEST_STORED_SHORT = 256


class Exported(nn.Module):
    """Picture to the outputs of the file: the torso's four, and the landmarks as the general network gives them."""

    def __init__(self, net: TorsoNet, shift: Tensor):
        super().__init__()
        self.net = net
        self.register_buffer("shift", shift)

    def forward(self, image: Tensor) -> tuple[Tensor, ...]:
        out = self.net(image)
        r, seen = read(out.raw), out.seen
        return (r.rotation, (r.log_sigma + self.shift).clamp(*LOG_SIGMA_RANGE), r.points, r.log_b,
                seen.landmarks.flatten(1), seen.presence, seen.world.flatten(1))


@torch.no_grad()
def sigma_shift(net: TorsoNet, bodies: str, bank: str | None, count: int, device: str = "cpu", seed: int = 77, characters: str | None = None) -> Tensor:
    """What to add to log sigma, (2, 3), so that 95 % of errors on held-out bodies and characters lie within 1.96 sigma."""
    generator, ratio = torch.Generator(device).manual_seed(seed), []
    for path in [bodies] + ([characters] if characters else []):
        renderer = Renderer(path, bank, device)
        total = len(renderer.wardrobe.body_rest)
        held = HELD_OUT if path == bodies else [i for i in range(total) if i % EVERY == EVERY // 2]
        for _ in range(max(1, count // 32 // (2 if characters else 1))):
            pose = draw_poses(32, held, total, device, generator, blend=False)
            dressed = renderer.wardrobe.dress(Draw(32, device, generator), pose.mix, pose.stretch)
            batch = renderer.render(renderer.skeleton.pose(pose), dressed, generator)
            reading = read(net(batch.image).raw)
            ratio.append(rotation_error(reading, batch.rotation).abs() * torch.exp(-reading.log_sigma))
    return torch.log(torch.quantile(torch.cat(ratio), 0.95, dim=0) / 1.96).cpu()


def shorten(model: onnx.ModelProto) -> None:
    """Keep large float weights in half precision, with a cast to float in front of their use."""
    casts = []
    for tensor in model.graph.initializer:
        if tensor.data_type != TensorProto.FLOAT or math.prod(tensor.dims) < SMALLEST_STORED_SHORT:
            continue
        name, values = tensor.name, numpy_helper.to_array(tensor)
        tensor.CopyFrom(numpy_helper.from_array(values.astype("float16"), name + "_half"))
        casts.append(helper.make_node("Cast", [name + "_half"], [name], to=TensorProto.FLOAT))
    nodes = list(model.graph.node)
    del model.graph.node[:]
    model.graph.node.extend(casts + nodes)


def export(net: TorsoNet, shift: Tensor, out: str | Path) -> None:
    """Write the file; the batch axis is free."""
    module = Exported(net.cpu(), shift.cpu()).eval()
    names = ["rotation", "log_sigma", "points", "log_b", "landmarks", "presence", "world_landmarks"]
    torch.onnx.export(
        module, (torch.rand(2, 3, 256, 256),), str(out), input_names=["image"], output_names=names, opset_version=17,
        dynamo=False, dynamic_axes={n: {0: "batch"} for n in ["image", *names]})
    model = onnx.load(str(out))
    shorten(model)
    onnx.checker.check_model(model)
    onnx.save(model, str(out))


def main() -> None:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("net")
    p.add_argument("out")
    p.add_argument("--bodies", default="data/bodies.npz")
    p.add_argument("--bank", default=None)
    p.add_argument("--characters", default=None)
    p.add_argument("--calibrate", type=int, default=1024, help="pictures; 0 leaves sigma as trained")
    p.add_argument("--device", default="cpu")
    a = p.parse_args()
    net = TorsoNet()
    load_weights(net, a.net)
    net.eval().to(a.device)
    shift = sigma_shift(net, a.bodies, a.bank, a.calibrate, a.device, characters=a.characters) if a.calibrate else torch.zeros(2, 3)
    print("log sigma shifted by", [[round(float(x), 3) for x in row] for row in shift])
    export(net, shift, a.out)


if __name__ == "__main__":
    main()

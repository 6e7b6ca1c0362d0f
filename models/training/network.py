"""The torso network: the encoder of the general 33-landmark network, and a head that looks closely at the torso."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn.functional import max_pool2d, pad, scaled_dot_product_attention

from rotations import from_six

POINTS = 25
# expansion, kernel, stride, channels, residual: the encoder's blocks from 128 to 8 pixels a side
BLOCKS = (
    (64, 3, 2, 24, False), (144, 3, 1, 24, True), (144, 5, 2, 32, False), (192, 5, 1, 32, True), (192, 3, 2, 64, False),
    (384, 3, 1, 64, True), (384, 3, 1, 64, True), (384, 5, 1, 88, False), (528, 5, 1, 88, True), (528, 5, 1, 88, True),
    (528, 5, 2, 144, False), (864, 5, 1, 144, True), (864, 5, 1, 144, True), (864, 5, 1, 144, True),
)
AT_32, AT_16 = 3, 9            # blocks whose outputs the head reads, 32 and 16 pixels a side
WIDTH, HEADS, LAYERS = 192, 6, 4
LOG_SIGMA_RANGE, LOG_B_RANGE = (-5.0, 1.0), (-9.0, -2.0)


@dataclass
class Reading:
    """What the network says of a batch."""

    rotation: Tensor     # n,2,3,3
    log_sigma: Tensor    # n,2,3
    points: Tensor       # n,25,2
    log_b: Tensor        # n,25,2
    depth: Tensor        # n,25, metres; used in training only


def conv(a: int, b: int, k: int = 1, stride: int = 1, groups: int = 1, padded: bool = True) -> nn.Conv2d:
    """A convolution, padded to keep the size."""
    return nn.Conv2d(a, b, k, stride, k // 2 if padded else 0, groups=groups)


class Block(nn.Module):
    """Expand, filter each channel, project."""

    def __init__(self, a: int, wide: int, k: int, stride: int, b: int, residual: bool):
        super().__init__()
        self.expand, self.filter, self.project = conv(a, wide), conv(wide, wide, k, stride, wide), conv(wide, b)
        self.act, self.residual = nn.ReLU6(), residual

    def forward(self, x: Tensor) -> Tensor:
        y = self.project(self.act(self.filter(self.act(self.expand(x)))))
        return x + y if self.residual else y


class Step(nn.Module):
    """Filter each channel, mix, add: one step of the narrow tower; a stride halves the map."""

    def __init__(self, channels: int, stride: int = 1):
        super().__init__()
        self.filter = nn.Conv2d(channels, channels, 3, stride, 1 if stride == 1 else 0, groups=channels)
        self.mix, self.act, self.stride = conv(channels, channels), nn.ReLU6(), stride

    def forward(self, x: Tensor) -> Tensor:
        kept, y = x, x
        if self.stride == 2:
            kept, y = max_pool2d(x, 2), pad(x, (0, 1, 0, 1))
        return self.act(kept + self.mix(self.act(self.filter(y))))


class Encoder(nn.Module):
    """Picture to a 2 x 2 map, with the maps of 32, 16 and 8 a side on the way."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(conv(3, 24, 3, 2), nn.ReLU6(), conv(24, 24, 3, groups=24), nn.ReLU6(), conv(24, 16))
        blocks, a = [], 16
        for wide, k, stride, b, residual in BLOCKS:
            blocks.append(Block(a, wide, k, stride, b, residual))
            a = b
        self.blocks = nn.ModuleList(blocks)
        self.last = nn.Sequential(conv(144, 864), nn.ReLU6(), conv(864, 864, 3, groups=864), nn.ReLU6(),
                                  conv(864, 864, 3, groups=864), nn.ReLU6(), conv(864, 288), nn.ReLU6())
        self.tower = nn.Sequential(Step(288, 2), *(Step(288) for _ in range(4)), Step(288, 2), *(Step(288) for _ in range(5)))

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        x = self.stem(x)
        kept = []
        for i, block in enumerate(self.blocks):
            x = block(x)
            if i in (AT_32, AT_16):
                kept.append(x)
        wide = self.last(x)
        return kept[0], kept[1], wide, self.tower(wide)


class Layer(nn.Module):
    """One transformer layer, normalised before each half."""

    def __init__(self) -> None:
        super().__init__()
        self.norm1, self.norm2 = nn.LayerNorm(WIDTH), nn.LayerNorm(WIDTH)
        self.qkv, self.out = nn.Linear(WIDTH, 3 * WIDTH), nn.Linear(WIDTH, WIDTH)
        self.up, self.down, self.act = nn.Linear(WIDTH, 3 * WIDTH), nn.Linear(3 * WIDTH, WIDTH), nn.GELU()

    def forward(self, x: Tensor) -> Tensor:
        n, t, _ = x.shape
        q, k, v = self.qkv(self.norm1(x)).view(n, t, 3, HEADS, WIDTH // HEADS).permute(2, 0, 3, 1, 4).unbind(0)
        x = x + self.out(scaled_dot_product_attention(q, k, v).transpose(1, 2).reshape(n, t, WIDTH))
        return x + self.down(self.act(self.up(self.norm2(x))))


def fold(x: Tensor) -> Tensor:
    """Two by two places into channels: (n, c, 2h, 2w) to (n, 4c, h, w)."""
    return nn.functional.pixel_unshuffle(x, 2)


class TorsoHead(nn.Module):
    """Tokens of the whole crop and of the window where the torso is, and four that ask."""

    ASK = 4

    def __init__(self, outputs: int):
        super().__init__()
        self.whole = nn.Linear(288 + 4 * 88, WIDTH)
        self.window = nn.Linear(4 * 32 + 88, WIDTH)
        self.small = nn.Linear(288, WIDTH)
        self.place = nn.Parameter(torch.randn(64 + 64 + 4 + self.ASK, WIDTH) * 0.02)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.norm, self.out = nn.LayerNorm(WIDTH), nn.Linear(self.ASK * WIDTH, outputs)
        nn.init.zeros_(self.out.weight)
        nn.init.zeros_(self.out.bias)

    def forward(self, m32: Tensor, m16: Tensor, m8: Tensor, m2: Tensor) -> Tensor:
        n = m2.shape[0]
        # the torso's window: the middle half across, one to five eighths down
        fine = torch.cat((fold(m32[:, :, 4:20, 8:24]), m16[:, :, 2:10, 4:12]), 1)
        whole = torch.cat((m8, fold(m16)), 1)
        tokens = torch.cat((
            self.whole(whole.flatten(2).transpose(1, 2)), self.window(fine.flatten(2).transpose(1, 2)),
            self.small(m2.flatten(2).transpose(1, 2)), torch.zeros(n, self.ASK, WIDTH, device=m2.device)), 1)
        x = tokens + self.place
        for layer in self.layers:
            x = layer(x)
        return self.out(self.norm(x[:, -self.ASK:]).flatten(1))


class TorsoNet(nn.Module):
    """Picture (n,3,256,256), 0..1, to raw outputs; `read` makes sense of them."""

    OUTPUTS = 12 + 6 + POINTS * 4

    def __init__(self) -> None:
        super().__init__()
        self.encoder = Encoder()
        self.plain = nn.Sequential(nn.Flatten(), nn.Linear(288 * 4, 512), nn.SiLU(), nn.Linear(512, self.OUTPUTS))
        self.head = TorsoHead(self.OUTPUTS + POINTS)

    def forward(self, image: Tensor) -> Tensor:
        maps = self.encoder(image)
        extra = self.head(*maps)
        first = self.plain(maps[3])
        return torch.cat((first + extra[:, :self.OUTPUTS], extra[:, self.OUTPUTS:]), 1)


def read(raw: Tensor) -> Reading:
    """Rotations, uncertainties and points of raw outputs."""
    n = raw.shape[0]
    k = raw[:, 18:118].view(n, POINTS, 4)
    return Reading(
        from_six(raw[:, :12].view(n, 2, 6)), raw[:, 12:18].view(n, 2, 3).clamp(*LOG_SIGMA_RANGE),
        k[..., :2] * 0.25 + 0.5, (k[..., 2:] - 2).clamp(*LOG_B_RANGE), raw[:, 118:])


def load_from_onnx(net: TorsoNet, path: str | Path) -> None:
    """Take the encoder's weights from the general landmark network in ONNX; its convolutions come in the same order."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    values = {i.name: numpy_helper.to_array(i).astype(np.float32) for i in graph.initializer}
    for node in graph.node:
        if node.op_type == "Cast" and node.input[0] in values:
            values[node.output[0]] = values[node.input[0]]
    convs = [n for n in graph.node if n.op_type == "Conv"]
    own = [m for m in net.encoder.modules() if isinstance(m, nn.Conv2d)]
    with torch.no_grad():
        for module, node in zip(own, convs):
            module.weight.copy_(torch.tensor(values[node.input[1]]))
            module.bias.copy_(torch.tensor(values[node.input[2]]))


def save_weights(net: nn.Module, path: str | Path) -> None:
    """Half-precision weights."""
    torch.save({k: v.half() if v.is_floating_point() else v for k, v in net.state_dict().items()}, path)


def load_weights(net: nn.Module, path: str | Path) -> None:
    """The reverse."""
    net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in torch.load(path, map_location="cpu").items()})

"""One encoder, two heads: the general 33-landmark network's encoder and landmark outputs, and a head for the torso.

The landmark outputs hold the encoder to the real pictures that taught it; the torso head also reads them, as places.
"""

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
# landmarks that the torso head reads as places: nose, shoulders, elbows, wrists, hips, knees, ankles
PLACES = (0, 11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28)
CROP = 256
LOG_SIGMA_RANGE, LOG_B_RANGE = (-5.0, 1.0), (-9.0, -2.0)


@dataclass
class Reading:
    """What the network says of a batch."""

    rotation: Tensor     # n,2,3,3
    log_sigma: Tensor    # n,2,3
    points: Tensor       # n,25,2
    log_b: Tensor        # n,25,2
    depth: Tensor        # n,25, metres; used in training only


@dataclass
class Seen:
    """The landmark head's outputs, as the general network gives them."""

    landmarks: Tensor    # n,39,5 x, y, z in crop pixels, visibility and presence logits
    presence: Tensor     # n,1 probability
    world: Tensor        # n,39,3 metres


@dataclass
class Outputs:
    """All that comes out of one look."""

    raw: Tensor          # n,143 of the torso head; `read` makes sense of them
    places: Tensor       # n,18 rotations and their spreads from the landmarks alone
    seen: Seen
    small: Tensor        # n,288,2,2 the encoder's last map


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

    def forward(self, x: Tensor, restyle: bool = False) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """`restyle` lets pictures of the batch lend each other their looks (training only)."""
        x = self.stem(x)
        kept = []
        for i, block in enumerate(self.blocks):
            if restyle and i in (0, 2):
                x = lend_styles(x)
            x = block(x)
            if i in (AT_32, AT_16):
                kept.append(x)
        wide = self.last(x)
        # what places are read from is kept in full precision; this part is small
        with torch.autocast(x.device.type, enabled=False):
            small = self.tower(wide.float())
        return kept[0], kept[1], wide, small


def lend_styles(x: Tensor, share: float = 0.25) -> Tensor:
    """Mean and spread of every channel mixed with those of another picture of the batch, on a share of the pictures."""
    n = len(x)
    mean, spread = x.mean((2, 3), keepdim=True), x.std((2, 3), keepdim=True) + 1e-4
    mean, spread = mean.detach(), spread.detach()
    other = (torch.rand(n, device=x.device) * n).long().clamp(max=n - 1)
    part = torch.rand(n, 1, 1, 1, device=x.device, dtype=x.dtype) * (torch.rand(n, 1, 1, 1, device=x.device) < share)
    return (x - mean) / spread * torch.lerp(spread, spread[other], part) + torch.lerp(mean, mean[other], part)


class LandmarkHead(nn.Module):
    """The general network's last layers: landmarks, presence and world landmarks from the smallest map."""

    def __init__(self) -> None:
        super().__init__()
        self.landmarks, self.presence, self.world = nn.Conv2d(288, 195, 2), nn.Conv2d(288, 1, 2), nn.Conv2d(288, 117, 2)

    def forward(self, small: Tensor) -> Seen:
        # in full precision, also while all else is in 16 bits: places of up to 256 pixels would have steps of one pixel
        with torch.autocast(small.device.type, enabled=False):
            x = small.float()
            return Seen(self.landmarks(x).reshape(-1, 39, 5), self.presence(x).reshape(-1, 1).sigmoid(), self.world(x).reshape(-1, 39, 3))


def as_places(seen: Seen) -> Tensor:
    """The 33 landmarks as numbers near one, (n, 33, 8): places in the crop, how sure, places in the body."""
    a = seen.landmarks[:, :33].detach().float()
    return torch.cat(((a[..., :2] - 0.5 * CROP) / (0.25 * CROP), a[..., 2:3] / (0.25 * CROP), a[..., 3:].sigmoid(), 2 * seen.world[:, :33].detach().float()), -1)


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
        self.landmark = nn.Linear(8, WIDTH)
        self.of_landmark = nn.Parameter(torch.randn(len(PLACES), WIDTH) * 0.02)
        nn.init.normal_(self.landmark.weight, 0.0, 0.02)
        self.register_buffer("read_places", torch.tensor(PLACES), persistent=False)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.norm, self.out = nn.LayerNorm(WIDTH), nn.Linear(self.ASK * WIDTH, outputs)
        nn.init.zeros_(self.out.weight)
        nn.init.zeros_(self.out.bias)

    def forward(self, m32: Tensor, m16: Tensor, m8: Tensor, m2: Tensor, places: Tensor) -> Tensor:
        """In training some pictures show no close look, some single tokens are missing: no detail is there to lean on."""
        n = m2.shape[0]
        # the torso's window: the middle half across, one to five eighths down
        fine = torch.cat((fold(m32[:, :, 4:20, 8:24]), m16[:, :, 2:10, 4:12]), 1)
        whole = torch.cat((m8, fold(m16)), 1)
        tokens = torch.cat((
            self.whole(whole.flatten(2).transpose(1, 2)), self.window(fine.flatten(2).transpose(1, 2)),
            self.small(m2.flatten(2).transpose(1, 2)), torch.zeros(n, self.ASK, WIDTH, device=m2.device)), 1)
        if self.training:
            close = torch.rand(n, 1, device=m2.device) > 0.1
            whole = torch.rand(n, 1, device=m2.device) > 0.05
            kept = torch.cat((whole.expand(-1, 64), close.expand(-1, 64), torch.ones(n, 4 + self.ASK, dtype=torch.bool, device=m2.device)), 1)
            kept = kept & (torch.rand(n, kept.shape[1], device=m2.device) > 0.05)
            tokens = tokens * kept[..., None]
        x = torch.cat((self.landmark(places[:, self.read_places]) + self.of_landmark, tokens + self.place), 1)
        for layer in self.layers:
            x = layer(x)
        return self.out(self.norm(x[:, -self.ASK:]).flatten(1))


class TorsoNet(nn.Module):
    """Picture (n,3,256,256), 0..1, to `Outputs`."""

    OUTPUTS = 12 + 6 + POINTS * 4

    def __init__(self) -> None:
        super().__init__()
        self.encoder, self.landmarks = Encoder(), LandmarkHead()
        self.plain = nn.Sequential(nn.Flatten(), nn.Linear(288 * 4, 512), nn.SiLU(), nn.Linear(512, self.OUTPUTS))
        self.head = TorsoHead(self.OUTPUTS + POINTS)
        self.places = nn.Sequential(nn.Linear(33 * 8, 512), nn.SiLU(), nn.Linear(512, 512), nn.SiLU(), nn.Linear(512, 18))

    def forward(self, image: Tensor, restyle: bool = False) -> Outputs:
        maps = self.encoder(image, restyle)
        seen = self.landmarks(maps[3])
        places = as_places(seen)
        extra = self.head(*maps, places)
        raw = torch.cat((self.plain(maps[3]) + extra[:, :self.OUTPUTS], extra[:, self.OUTPUTS:]), 1)
        return Outputs(raw, self.places(places.flatten(1)), seen, maps[3])

    def heads(self) -> list[nn.Parameter]:
        """All that is not the general network's."""
        return [*self.plain.parameters(), *self.head.parameters(), *self.places.parameters()]


class General(nn.Module):
    """The general landmark network, kept as it is: the teacher of the landmark head."""

    def __init__(self, path: str | Path):
        super().__init__()
        self.encoder, self.landmarks = Encoder(), LandmarkHead()
        load_from_onnx(self, path)
        self.requires_grad_(False).eval()

    def forward(self, image: Tensor) -> tuple[Seen, Tensor]:
        small = self.encoder(image)[3]
        return self.landmarks(small), small


def read_places(places: Tensor) -> tuple[Tensor, Tensor]:
    """Rotations (n,2,3,3) and log sigma (n,2,3) of the landmarks alone."""
    n = len(places)
    return from_six(places[:, :12].view(n, 2, 6)), places[:, 12:].view(n, 2, 3).clamp(*LOG_SIGMA_RANGE)


def read(raw: Tensor) -> Reading:
    """Rotations, uncertainties and points of raw outputs."""
    n = raw.shape[0]
    k = raw[:, 18:118].view(n, POINTS, 4)
    return Reading(
        from_six(raw[:, :12].view(n, 2, 6)), raw[:, 12:18].view(n, 2, 3).clamp(*LOG_SIGMA_RANGE),
        k[..., :2] * 0.25 + 0.5, (k[..., 2:] - 2).clamp(*LOG_B_RANGE), raw[:, 118:])


def load_from_onnx(net: TorsoNet | General, path: str | Path) -> None:
    """Encoder and landmark head from the general landmark network in ONNX; its convolutions come in the same order."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    values = {i.name: numpy_helper.to_array(i).astype(np.float32) for i in graph.initializer}
    for node in graph.node:
        if node.op_type == "Cast" and node.input[0] in values:
            values[node.output[0]] = values[node.input[0]]
    convs = [n for n in graph.node if n.op_type == "Conv"]
    own = [m for m in net.encoder.modules() if isinstance(m, nn.Conv2d)]
    last = [net.landmarks.landmarks, net.landmarks.presence, net.landmarks.world]
    of_last = [next(n for n in convs if values[n.input[1]].shape == tuple(m.weight.shape)) for m in last]
    with torch.no_grad():
        for module, node in zip(own + last, convs[:len(own)] + of_last):
            module.weight.copy_(torch.tensor(values[node.input[1]]))
            module.bias.copy_(torch.tensor(values[node.input[2]]))


def save_weights(net: nn.Module, path: str | Path) -> None:
    """Half-precision weights."""
    torch.save({k: v.half() if v.is_floating_point() else v for k, v in net.state_dict().items()}, path)


def load_weights(net: nn.Module, path: str | Path, strict: bool = True) -> None:
    """The reverse; without `strict` what the file lacks stays as it is."""
    kept = {k: v.float() if v.is_floating_point() else v for k, v in torch.load(path, map_location="cpu").items()}
    net.load_state_dict(kept, strict=strict)

"""Train the two-headed network on golfers rendered as it goes, and on real pictures without labels.

usage: train.py --bodies data/bodies.npz --bank bank.npz --real REAL.npz --weights NET --out NET.pt --seconds 500 ...
NET is the general landmark network as .onnx, or a .pt of this recipe. With several
GPUs start one process each through `torchrun --nproc-per-node N train.py ...`. On a CPU it runs too, slowly.
"""

from __future__ import annotations

import argparse
import math
import os
import time
from dataclasses import dataclass
from typing import Any

import torch
import torch.distributed as dist
from torch import Tensor, nn

from losses import losses, of_places
from network import General, Seen, TorsoNet, load_from_onnx, load_weights, read, save_weights
from draw import Draw
from real import Lines, Real, like_general, of_lines, mirrored_rotation, of_pairs, recolour, settled_view
from recorded import Recorded
from renderer import Batch, Renderer
from rotations import DEGREE
from stream import Stream, joined
from watch import Watched

TRAINING_BODIES, BODIES = list(range(48)), 56
HELD_BACK = 11     # one character in so many is not trained on
LOOK_UP = 10       # steps between looks at the clock, which wait for the device
EARLY = 5          # blocks of the encoder that see edges and grain, which are the renderer's own


def arguments(given: list[str] | None = None) -> argparse.Namespace:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--bodies", default="data/bodies.npz")
    p.add_argument("--bank", default=None, help="background squares; plain colours without")
    p.add_argument("--real", default=None, help="real pictures without labels, packed by real.py")
    p.add_argument("--general", default="../pose_landmark_full_hm.onnx", help="the landmark network that teaches the landmark head")
    p.add_argument("--weights", required=True)
    p.add_argument("--out", required=True)
    p.add_argument("--seconds", type=float, default=1e9, help="wall clock of the training loop")
    p.add_argument("--steps", type=int, default=10**9)
    p.add_argument("--batch", type=int, default=320, help="pictures a step and process")
    p.add_argument("--watch", nargs="*", default=[], help="crops of real people with truth, packed as watch.py says; read now and then, never trained on")
    p.add_argument("--look-every", type=int, default=1000, help="steps between such looks")
    p.add_argument("--taught", type=int, default=64, help="rendered pictures a step on which the landmark head is taught")
    p.add_argument("--real-batch", type=int, default=40, help="real pictures a step and process")
    p.add_argument("--pair-batch", type=int, default=8, help="pairs of real pictures a step and process")
    p.add_argument("--characters", default=None, help="textured characters, written by characters.py")
    p.add_argument("--character-share", type=float, default=0.4, help="share of the rendered pictures that show them")
    p.add_argument("--no-golf", type=float, default=0.2, help="share of the rendered pictures whose pose is no golf")
    p.add_argument("--line-batch", type=int, default=0, help="real pictures a step and process whose turn several calibrated cameras tell")
    p.add_argument("--lines", type=float, default=0.3, help="weight of those")
    p.add_argument("--agree", type=float, default=0.5, help="weight of agreement with itself on real pictures")
    p.add_argument("--stereo", type=float, default=0.3, help="weight of two cameras' agreement")
    p.add_argument("--hold", type=float, default=1.0, help="weight of the landmark head's likeness to the general network")
    p.add_argument("--outfits", default=None, help="photographed clothes and skins, written by outfits.py")
    p.add_argument("--until", type=float, default=None, help="clock time, in seconds of the epoch, at which the loop ends (instead of --seconds)")
    p.add_argument("--save-every", type=float, default=150.0, help="seconds between savings of the state and the averaged network")
    p.add_argument("--encoder-rate", type=float, default=4e-5)
    p.add_argument("--early-share", type=float, default=0.25, help="rate of the encoder's first layers as a share of that")
    p.add_argument("--head-rate", type=float, default=1e-3)
    p.add_argument("--warmup", type=int, default=300)
    p.add_argument("--settled", action="store_true", help="the start is trained: use the likelihood from the first step")
    p.add_argument("--floor", type=float, default=0.01, help="last learning rate, share of the first")
    p.add_argument("--part", default="1/1", help="this run is part i of n of one schedule, as in 2/3")
    p.add_argument("--state", default=None, help="file that carries weights, averages and optimiser from part to part")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--compile", action="store_true")
    return p.parse_args(given)


class Average:
    """Slow average of the weights: what is kept in the end."""

    def __init__(self, net: nn.Module, slowest: float = 0.998):
        self.kept = [p.detach().clone() for p in net.parameters()]
        self.slowest = slowest

    def update(self, net: nn.Module, step: int) -> None:
        share = min(self.slowest, step / (step + 60))
        torch._foreach_lerp_(self.kept, [p.detach() for p in net.parameters()], 1 - share)

    def start_from(self, kept: list[Tensor]) -> None:
        for k, was in zip(self.kept, kept):
            k.copy_(was)

    def put_into(self, net: nn.Module) -> None:
        with torch.no_grad():
            for p, k in zip(net.parameters(), self.kept):
                p.copy_(k)


def start_network(path: str, general: str, device: str) -> TorsoNet:
    """A network with the starting weights in place; heads that they lack start anew."""
    net = TorsoNet()
    load_from_onnx(net, general)
    if not path.endswith(".onnx"):
        load_weights(net, path, strict=False)
    return net.to(device).to(memory_format=torch.channels_last)


def rate(step: int, share_done: float, a: argparse.Namespace) -> float:
    """Learning rate as a share of its largest: warm-up, then half a cosine over all parts."""
    part, parts = (int(x) for x in a.part.split("/"))
    along = (part - 1 + share_done) / parts
    return min(1.0, (step + 1) / a.warmup) * (a.floor + (1 - a.floor) * 0.5 * (1 + math.cos(math.pi * along)))


def save_state(path: str, net: nn.Module, average: Average, optimiser: torch.optim.Optimizer, steps: int) -> None:
    """Everything that the next part goes on from, in three small files: PATH.net, PATH.average, PATH.second.

    Half precision; of the optimiser the second moments, by parameter: the first ones are back after some ten steps.
    """
    second = [optimiser.state[p].get("exp_avg_sq", torch.zeros_like(p)).bfloat16() if p in optimiser.state else None for p in net.parameters()]
    torch.save({k: v.half() if v.is_floating_point() else v for k, v in net.state_dict().items()}, path + ".net")
    torch.save([k.half() for k in average.kept], path + ".average")
    torch.save(dict(second=second, steps=steps), path + ".second")


def load_state(path: str, net: nn.Module, average: Average, optimiser: torch.optim.Optimizer) -> int:
    """The reverse; gives the steps done so far."""
    device = next(net.parameters()).device
    load_weights(net, path + ".net")
    average.start_from([k.float() for k in torch.load(path + ".average", map_location=device)])
    was = torch.load(path + ".second", map_location=device)
    for p, second in zip(net.parameters(), was["second"]):
        if second is not None:
            # bias corrections as after a thousand steps: the second moments are long settled
            optimiser.state[p] = dict(step=torch.tensor(1000.0, device=device), exp_avg=torch.zeros_like(p.detach()), exp_avg_sq=torch.zeros_like(p.detach()).copy_(second))
    return int(was["steps"])


class Learning:
    """One step in two parts that can be recorded; between them the cards exchange their gradients."""

    TOLD = ("error %.2f deg", "spread %.3f", "points %.3f", "total %.3f", "hold %.3f", "agree %.3f", "stereo %.3f", "lines %.3f")

    def __init__(self, net: TorsoNet, general: General, real: Real | None, optimiser: torch.optim.Optimizer, generator: torch.Generator, device: str, world: int, a: argparse.Namespace):
        self.net, self.real, self.optimiser, self.generator, self.device, self.world, self.a = net, real, optimiser, generator, device, world, a
        self.model: Any = torch.compile(net) if a.compile else net
        self.teach: Any = torch.compile(general) if a.compile else general
        self.parameters = [p for p in net.parameters() if p.requires_grad]
        for p in self.parameters:
            p.grad = torch.zeros_like(p)
        self.flat = torch.zeros(sum(p.numel() for p in self.parameters), device=device)
        self.log, self.logged = torch.zeros(len(self.TOLD), device=device), 0
        # how far the likelihood and the real pictures have been let in
        self.settled, self.along = torch.ones((), device=device), torch.ones((), device=device)
        self.batches: list[Batch] = []
        self.gradients, self.update = Recorded(self._gradients, device, generator), Recorded(self._update, device)

    def step(self, batches: list[Batch], done: int) -> None:
        """One step on these pictures after `done` others."""
        self.batches = batches
        self.settled.fill_(1.0 if self.a.settled else min(1.0, done / 1500))
        self.along.fill_(min(1.0, done / 300))
        self.gradients()
        if self.world > 1:
            dist.all_reduce(self.flat)
        self.update()
        self.logged += 1
        if done == 0:
            self.told()      # the first step was taken several times

    def told(self) -> str:
        """Means since the last time."""
        mean = (self.log / max(1, self.logged)).tolist()
        self.log.zero_()
        self.logged = 0
        return ", ".join(what % value for what, value in zip(self.TOLD, mean))

    def _gradients(self) -> None:
        torch._foreach_zero_([p.grad for p in self.parameters])
        cuda = self.device.startswith("cuda")
        batch = joined(self.batches)
        n, image, others = len(batch.image), batch.image, self._real_pictures()
        if others is not None:
            image = torch.cat((image, *others.images))
        image = image.contiguous(memory_format=torch.channels_last)
        with torch.autocast("cuda" if cuda else "cpu", dtype=torch.bfloat16, enabled=cuda):
            out = self.model(image, True)
            # evenly over the rendered pictures: some of every source, and as many mirrored as plain
            taught = torch.cat((torch.linspace(0, n - 1, min(self.a.taught, n), device=self.device).round().long(), torch.arange(n, len(image), device=self.device)))
            with torch.no_grad():
                general_seen, general_small = self.teach(image[taught].contiguous(memory_format=torch.channels_last))
        hold = like_general(_floats(out.seen, taught), _floats(general_seen), out.small[taught].float(), general_small.float())
        part = losses(read(out.raw[:n].float()), batch, self.settled)
        total = part.total + 0.3 * of_places(out.places[:n].float(), batch) + self.a.hold * hold
        zero = torch.zeros((), device=self.device)
        agree, stereo, lines = (zero, zero, zero) if others is None else others.losses(read(out.raw[n:].float()).rotation)
        total = total + self.along * (self.a.agree * agree + self.a.stereo * stereo + self.a.lines * lines)
        total.backward()
        torch.cat([p.grad.flatten() for p in self.parameters], out=self.flat)
        self.log += torch.stack((part.angle.mean() / DEGREE, *(x.detach() for x in (part.spread, part.points, part.total, hold, agree, stereo, lines))))

    def _real_pictures(self) -> RealPictures | None:
        """Real pictures of this step, with what is asked of them."""
        if self.real is None:
            return None
        a, cuda = self.a, self.device.startswith("cuda")
        with torch.no_grad():
            d, p = Draw(a.real_batch, self.device, self.generator), Draw(a.pair_batch, self.device, self.generator)
            plain, other = self.real.draw(d)
            first, second, turn = self.real.draw_pairs(p)
            with torch.autocast("cuda" if cuda else "cpu", dtype=torch.bfloat16, enabled=cuda):
                target = settled_view(self.net, plain.contiguous(memory_format=torch.channels_last))
            # half of the other views are mirrored, and then so must their answer be
            flip = d.chance(0.5)
            seen_now = torch.where(flip[:, None, None, None], other.flip(-1), recolour(d, other))
            target = torch.where(flip[:, None, None, None], mirrored_rotation(target), target)
            line_image, line = self.real.draw_lines(Draw(a.line_batch, self.device, self.generator)) if a.line_batch else (plain[:0], None)
        return RealPictures((seen_now, first, second, line_image), target, turn, line)

    def _update(self) -> None:
        # what is not a number counts as nothing
        self.flat.div_(self.world).nan_to_num_(0.0, 0.0, 0.0)
        grads = [p.grad for p in self.parameters]
        torch._foreach_copy_(grads, [f.view_as(g) for f, g in zip(self.flat.split([g.numel() for g in grads]), grads)])
        torch.nn.utils.clip_grad_norm_(self.parameters, 1.0)
        self.optimiser.step()


@dataclass
class RealPictures:
    """Real pictures of a step: other views, both cameras' of a pair, and those whose turn several cameras tell."""

    images: tuple[Tensor, Tensor, Tensor, Tensor]
    target: Tensor           # what the first must agree with
    turn: Tensor             # between the pairs' cameras
    line: Lines | None

    def losses(self, read_as: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Disagreement with itself, of two cameras, and with several cameras' lines."""
        views, pairs = len(self.images[0]), len(self.images[1])
        agree = (read_as[:views] - self.target).square().sum((-1, -2)).clamp(max=2.0).mean()
        stereo = of_pairs(read_as[views:views + 2 * pairs], self.turn)
        return agree, stereo, of_lines(read_as[views + 2 * pairs:], self.line) if self.line else torch.zeros_like(agree)


def _floats(seen: Seen, rows: Tensor | None = None) -> Seen:
    """The landmark outputs in full precision, some rows of them."""
    return Seen(*(x.float() if rows is None else x[rows].float() for x in (seen.landmarks, seen.presence, seen.world)))


def train(a: argparse.Namespace) -> TorsoNet:
    """The loop; gives the averaged network and writes it to `a.out` (first process only)."""
    world, rank = int(os.environ.get("WORLD_SIZE", "1")), int(os.environ.get("RANK", "0"))
    cuda = torch.cuda.is_available()
    device = f"cuda:{rank}" if cuda else "cpu"
    if cuda:
        torch.cuda.set_device(rank)
        torch.backends.cudnn.benchmark = True
        torch.backends.cudnn.benchmark_limit = 3
        torch.backends.cuda.matmul.allow_tf32 = True
    if world > 1:
        dist.init_process_group("nccl" if cuda else "gloo")
    torch.manual_seed(a.seed)
    net = start_network(a.weights, a.general, device).train()
    general = General(a.general).to(device).to(memory_format=torch.channels_last)
    watched = [Watched(path, device) for path in a.watch] if rank == 0 else []
    generator = torch.Generator(device).manual_seed(1000 * a.seed + 10 * int(a.part.split("/")[0]) + rank)
    of_characters = round(a.batch * a.character_share) if a.characters else 0
    bodies = Renderer(a.bodies, a.bank, device, outfits=a.outfits)
    real = Real(a.real, device, bodies.surroundings) if a.real else None
    streams = [Stream(bodies, TRAINING_BODIES, BODIES, a.batch - of_characters, generator, a.no_golf)]
    if of_characters:
        renderer = Renderer(a.characters, a.bank, device)
        total = len(renderer.wardrobe.body_rest)
        streams.append(Stream(renderer, [i for i in range(total) if i % HELD_BACK != HELD_BACK // 2], total, of_characters, generator, a.no_golf, 0.25))
    early = [*net.encoder.stem.parameters(), *net.encoder.blocks[:EARLY].parameters()]
    late = [*net.encoder.blocks[EARLY:].parameters(), *net.encoder.last.parameters(), *net.encoder.tower.parameters(), *net.landmarks.parameters()]
    # a recorded step reads its rates from the device
    groups = [dict(params=p, lr=torch.tensor(r, device=device) if cuda else r, largest=r) for p, r in ((early, a.early_share * a.encoder_rate), (late, a.encoder_rate), (net.heads(), a.head_rate))]
    optimiser = torch.optim.AdamW(groups, weight_decay=0.02, fused=cuda, capturable=cuda)
    average = Average(net)
    before = load_state(a.state, net, average, optimiser) if a.state and os.path.exists(a.state + ".net") else 0
    learning = Learning(net, general, real, optimiser, generator, device, world, a)
    begun, step = time.time(), 0
    saved, length = begun, a.seconds if a.until is None else max(1.0, a.until - begun)
    while step < a.steps:
        if step % LOOK_UP == 0:
            done = torch.tensor(max((time.time() - begun) / length, step / a.steps), device=device)
            if world > 1:
                dist.broadcast(done, 0)
            if done.item() >= 1:
                break
            for group in optimiser.param_groups:
                now = group["largest"] * rate(step, done.item(), a)
                group["lr"] = group["lr"].fill_(now) if cuda else now
        learning.step([stream.next() for stream in streams], step)
        step += 1
        average.update(net, before + step)
        if rank == 0 and (step % 250 == 0 or step == 20):
            print(f"step {step} {time.time() - begun:.0f} s, {learning.told()}, {step * a.batch * world / (time.time() - begun):.0f} pictures/s", flush=True)
        if rank == 0 and a.state and time.time() - saved > a.save_every:
            saved = time.time()
            save_state(a.state, net, average, optimiser, before + step)
        if step % a.look_every == 0:
            for w in watched:
                print(w.report(net), flush=True)
    if a.state and rank == 0:
        save_state(a.state, net, average, optimiser, before + step)
    average.put_into(net)
    for w in watched:
        print("the averaged network\n" + w.report(net), flush=True)
    if rank == 0:
        save_weights(net, a.out)
        print(f"{step} steps of {a.batch * world} pictures in {time.time() - begun:.0f} s", flush=True)
    if world > 1:
        dist.destroy_process_group()
    return net


if __name__ == "__main__":
    train(arguments())

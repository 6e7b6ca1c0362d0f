"""Train the torso network on golfers rendered as it goes.

usage: train.py --bodies data/bodies.npz --bank bank.npz --weights NET --out NET.pt --seconds 500 [--steps N] ...
NET is the general landmark network as .onnx, or a .pt of this recipe. With several
GPUs start one process each through `torchrun --nproc-per-node N train.py ...`. On a CPU it runs too, slowly.
"""

from __future__ import annotations

import argparse
import math
import os
import time
from typing import Any

import torch
import torch.distributed as dist
from torch import Tensor, nn

from golfer import Posed
from losses import losses
from network import TorsoNet, load_from_onnx, load_weights, read, save_weights
from draw import Draw
from poses import draw_poses
from renderer import Renderer
from rotations import DEGREE

TRAINING_BODIES, BODIES = list(range(48)), 56
POOL = 60          # batches of poses drawn at a time
REUSE = 3          # batches that share their dressed bodies, each in new poses, light and places


def arguments(given: list[str] | None = None) -> argparse.Namespace:
    """The command line."""
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--bodies", default="data/bodies.npz")
    p.add_argument("--bank", default=None, help="background squares; plain colours without")
    p.add_argument("--weights", required=True)
    p.add_argument("--out", required=True)
    p.add_argument("--seconds", type=float, default=1e9, help="wall clock of the training loop")
    p.add_argument("--steps", type=int, default=10**9)
    p.add_argument("--batch", type=int, default=320, help="pictures a step and process")
    p.add_argument("--encoder-rate", type=float, default=4e-4)
    p.add_argument("--head-rate", type=float, default=8e-4)
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

    def __init__(self, net: nn.Module, slowest: float = 0.999):
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


def share_gradients(net: nn.Module, world: int) -> None:
    """Average the gradients over the processes; what is not a number counts as nothing."""
    grads = [p.grad for p in net.parameters() if p.grad is not None]
    flat = torch.cat([g.flatten() for g in grads])
    if world > 1:
        dist.all_reduce(flat)
        flat /= world
    flat.nan_to_num_(0.0, 0.0, 0.0)
    at = 0
    for g in grads:
        g.copy_(flat[at:at + g.numel()].view_as(g))
        at += g.numel()


def start_network(path: str, device: str) -> TorsoNet:
    """A network with the starting weights in place."""
    net = TorsoNet()
    if path.endswith(".onnx"):
        load_from_onnx(net, path)
    else:
        load_weights(net, path)
    return net.to(device).to(memory_format=torch.channels_last)


def rate(step: int, share_done: float, a: argparse.Namespace) -> float:
    """Learning rate as a share of its largest: warm-up, then half a cosine over all parts."""
    part, parts = (int(x) for x in a.part.split("/"))
    along = (part - 1 + share_done) / parts
    return min(1.0, (step + 1) / a.warmup) * (a.floor + (1 - a.floor) * 0.5 * (1 + math.cos(math.pi * along)))


def save_state(path: str, net: nn.Module, average: Average, optimiser: torch.optim.Optimizer, steps: int) -> None:
    """Everything that the next part goes on from, in full precision."""
    torch.save(dict(net=net.state_dict(), average=average.kept, optimiser=optimiser.state_dict(), steps=steps), path)


def load_state(path: str, net: nn.Module, average: Average, optimiser: torch.optim.Optimizer) -> int:
    """The reverse; gives the steps done so far."""
    was = torch.load(path, map_location=next(net.parameters()).device)
    net.load_state_dict(was["net"])
    average.start_from(was["average"])
    optimiser.load_state_dict(was["optimiser"])
    return int(was["steps"])


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
    net = start_network(a.weights, device)
    model: Any = torch.compile(net) if a.compile else net
    renderer = Renderer(a.bodies, a.bank, device)
    generator = torch.Generator(device).manual_seed(1000 * a.seed + 10 * int(a.part.split("/")[0]) + rank)
    encoder, head = list(net.encoder.parameters()), [*net.plain.parameters(), *net.head.parameters()]
    groups = [dict(params=encoder, lr=a.encoder_rate, largest=a.encoder_rate), dict(params=head, lr=a.head_rate, largest=a.head_rate)]
    optimiser = torch.optim.AdamW(groups, weight_decay=0.02, fused=cuda)
    average = Average(net)
    posed: Posed | None = None
    before = load_state(a.state, net, average, optimiser) if a.state and os.path.exists(a.state) else 0
    begun, step, report = time.time(), 0, []
    while True:
        passed = time.time() - begun
        done = torch.tensor([max(passed / a.seconds, step / a.steps)], device=device)
        if world > 1:
            dist.broadcast(done, 0)
        if done.item() >= 1:
            break
        for group in optimiser.param_groups:
            group["lr"] = group["largest"] * rate(step, done.item(), a)
        at = step % POOL
        if posed is None or at == 0:
            pool = draw_poses(a.batch * POOL, TRAINING_BODIES, BODIES, device, generator)
            pool.mix = pool.mix.view(POOL, a.batch, -1)[::REUSE].repeat_interleave(REUSE, 0).flatten(0, 1)
            posed = renderer.skeleton.pose(pool)
        rows = torch.arange(at * a.batch, (at + 1) * a.batch, device=device)
        if step % REUSE == 0:
            with torch.no_grad():
                dressed = renderer.wardrobe.dress(Draw(a.batch, device, generator), pool.mix[rows])
        batch = renderer.render(posed.take(rows), dressed, generator)
        image = batch.image.contiguous(memory_format=torch.channels_last)
        with torch.autocast("cuda" if cuda else "cpu", dtype=torch.bfloat16, enabled=cuda):
            raw = model(image)
        part = losses(read(raw.float()), batch, 1.0 if a.settled else min(1.0, step / 1500))
        optimiser.zero_grad(set_to_none=True)
        part.total.backward()
        share_gradients(net, world)
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        average.update(net, before + step)
        report.append(torch.stack((part.angle.mean() / DEGREE, part.spread.detach(), part.points.detach(), part.total.detach())))
        if step % 250 == 0 or step == 20:
            mean = torch.stack(report).mean(0).tolist()
            report = []
            if rank == 0:
                print(f"step {step} {time.time() - begun:.0f} s, error {mean[0]:.2f} deg, spread {mean[1]:.3f}, points {mean[2]:.3f}, "
                      f"total {mean[3]:.3f}, {step * a.batch * world / (time.time() - begun):.0f} pictures/s", flush=True)
    if a.state and rank == 0:
        save_state(a.state, net, average, optimiser, before + step)
    average.put_into(net)
    if rank == 0:
        save_weights(net, a.out)
        print(f"{step} steps of {a.batch * world} pictures in {time.time() - begun:.0f} s", flush=True)
    if world > 1:
        dist.destroy_process_group()
    return net


if __name__ == "__main__":
    train(arguments())

"""The even mean of some networks' weights; they must come from one line of training.

usage: mean.py OUT.pt NET.pt NET.pt [NET.pt ...]
"""

from __future__ import annotations

import sys

import torch


def main(out: str, *nets: str) -> None:
    """Half-precision weights in, the same out."""
    kept = [torch.load(n, map_location="cpu") for n in nets]
    torch.save({k: sum(n[k].float() for n in kept).div(len(kept)).half() for k in kept[0]}, out)


if __name__ == "__main__":
    main(*sys.argv[1:])

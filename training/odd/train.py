"""Train the reader of odd places on rendered strips and write it as ONNX.

Run at the repository root (two cores do):

    export PYTHONPATH=src:training:training/ring
    python training/odd/train.py --out src/saltglaze/sight/odd.onnx

Seeds are fixed; the films the benchmarks measure on have other seeds.
"""

from __future__ import annotations

import time

import numpy as np
import torch
from as_onnx import write
from net import OddNet
from pictures import until
from rendered import asked, by_many, keeping, kept_or, tell
from torch import Tensor, nn
from torch.nn import functional
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

from saltglaze.sight.strips import ANGLES, RINGS

SEED = 20261125
FIRST_SEED = 6_000_000
HELD_OUT = 8
"""Every eighth script is kept out of training."""

ODD, CLEAN = 40, 10
"""A cell that differs from the clean wall by more than the first (of 255) is odd, by no more
than the second clean; between them it is neither taught nor counted."""

HEAVIER = 4.0
"""Odd cells, few, count this much more."""

BATCH = 64


def main() -> None:
    """Render, train, measure, write."""
    given = keeping(asked(render_s=1500.0, train_s=840.0, workers=2)).parse_args()
    torch.manual_seed(SEED)
    torch.set_num_threads(given.workers)
    strips, differs, script = kept_or(
        given,
        ("strips", "differs", "script"),
        lambda: by_many(until, FIRST_SEED, given.render_s, given.workers, 100_000),
    )
    held = script % HELD_OUT == 0
    print("strips", len(strips), "held out", int(held.sum()), flush=True)
    net = fit(OddNet(), strips[~held], differs[~held], given.train_s)
    report = measure(net, strips[held], differs[held])
    report |= {"strips": int((~held).sum()), "scripts": len(np.unique(script[~held]))}
    report |= {"weights": sum(p.numel() for p in net.parameters())}
    tell(given, report)
    write(net, (2, RINGS, ANGLES), given.out, "strips", "odd")


def fit(net: OddNet, strips: np.ndarray, differs: np.ndarray, seconds: float) -> nn.Module:
    """Train for a time on turned, mirrored and spoilt strips; return a mean of late nets."""
    mean = AveragedModel(net, multi_avg_fn=get_ema_multi_avg_fn(0.99), use_buffers=True)
    best = torch.optim.AdamW(net.parameters(), lr=3e-3, weight_decay=1e-2)
    draw = np.random.default_rng(SEED)
    start, step = time.monotonic(), 0
    while (used := time.monotonic() - start) < seconds:
        for group in best.param_groups:
            group["lr"] = 3e-3 * 0.5 * (1 + np.cos(np.pi * min(used / seconds, 1.0))) + 1e-5
        pick = draw.integers(0, len(strips), BATCH)
        seen, apart = spoil(torch.tensor(strips[pick]).float(), torch.tensor(differs[pick]))
        odd, counts = taught(apart)
        with torch.autocast("cpu", dtype=torch.bfloat16):
            told = net(seen)
        each = functional.binary_cross_entropy_with_logits(told.float(), odd, reduction="none")
        loss = (each * counts * (1.0 + HEAVIER * odd)).sum() / counts.sum()
        best.zero_grad()
        loss.backward()
        best.step()
        mean.update_parameters(net)
        step += 1
        if step % 200 == 0:
            print(step, round(used), float(loss.detach()), flush=True)
    return mean.module


def taught(differs: Tensor) -> tuple[Tensor, Tensor]:
    """Return what is odd and what counts, (n, RINGS / 2, ANGLES / 2)."""
    most = functional.max_pool2d(differs[:, None].float(), 2)[:, 0]
    return (most > ODD).float(), ((most > ODD) | (most <= CLEAN)).float()


def spoil(strips: Tensor, differs: Tensor) -> tuple[Tensor, Tensor]:
    """Return strips mirrored, turned, of more or less contrast, and grained."""
    if torch.rand(()) < 0.5:
        strips, differs = strips.flip(-1), differs.flip(-1)
    turn = int(torch.randint(0, ANGLES, ()))
    strips, differs = torch.roll(strips, turn, -1), torch.roll(differs, turn, -1)
    n = len(strips)
    strips = strips * torch.exp(0.3 * torch.randn(n, 1, 1))
    strips = strips + 4.0 * torch.rand(n, 1, 1) * torch.randn_like(strips)
    return strips.clamp(-127.0, 127.0), differs


@torch.no_grad()
def measure(net: nn.Module, strips: np.ndarray, differs: np.ndarray) -> dict[str, float]:
    """Return the average precision over the cells of held-out scripts, and how many are odd."""
    net.eval()
    parts = np.array_split(strips, max(len(strips) // 256, 1))
    told = torch.cat([net(torch.tensor(part).float()) for part in parts]).flatten()
    odd, counts = (each.flatten() for each in taught(torch.tensor(differs)))
    order = told[counts > 0].argsort(descending=True)
    right = odd[counts > 0][order]
    precision = right.cumsum(0) / torch.arange(1, len(right) + 1)
    return {
        "average_precision": float((precision * right).sum() / right.sum()),
        "odd_share": float(right.mean()),
    }


if __name__ == "__main__":
    main()

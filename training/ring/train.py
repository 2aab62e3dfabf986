"""Train the ring reader on rendered strips and write it as ONNX.

Run at the repository root (a GPU shortens it, none is needed):

    PYTHONPATH=src:training python training/ring/train.py --out src/saltglaze/sight/ring.onnx

Seeds are fixed; the films the benchmarks measure on have other seeds.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

import numpy as np
import torch
from as_onnx import write
from net import RingNet
from render import until
from rendered import asked, by_many, tell
from torch import Tensor
from torch.nn import functional

from saltglaze.sight.strips import ANGLES, RINGS

SEED = 20261125
TRAIN_SEEDS, TEST_SEEDS = 3_000_000, 5_000_000
LONG = 64
"""Samples of a film that the net learns from at a time."""


def main() -> None:
    """Render, train, measure, write."""
    parser = asked(render_s=330.0, train_s=150.0, workers=16)
    parser.add_argument("--wide", type=int, default=40)
    parser.add_argument("--start", type=Path, help="weights of an earlier round to go on from")
    parser.add_argument("--first-seed", type=int, default=TRAIN_SEEDS)
    parser.add_argument("--rate", type=float, default=3e-3)
    given = parser.parse_args()
    torch.manual_seed(SEED)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    # All rendering comes first: a process that has woken the GPU should not fork.
    drawn = [_films(given, given.first_seed, 1.0), _films(given, TEST_SEEDS, 0.06)]
    print("rendered", flush=True)
    films, held = ([torch.tensor(part).to(device) for part in parts] for parts in drawn)
    print("films", len(films[0]), "held out", len(held[0]), flush=True)
    net = RingNet(given.wide).to(device)
    if given.start:
        net.load_state_dict(torch.load(given.start, map_location=device))
        print("before", json.dumps(measure(net, held)), flush=True)
    fit(net, films, given.train_s, given.rate)
    report = measure(net, held)
    report |= {"films": len(films[0]), "weights": sum(p.numel() for p in net.parameters())}
    tell(given, report)
    torch.save(net.state_dict(), given.out.with_suffix(".pt"))
    write(net, (50, RINGS, ANGLES), given.out, "strips", "rings")


def _films(given: argparse.Namespace, first_seed: int, share: float) -> tuple[np.ndarray, ...]:
    return by_many(until, first_seed, given.render_s * share, given.workers, 10_000)


def fit(net: RingNet, films: list[Tensor], seconds: float, rate: float) -> None:
    """Train for a time on turned, mirrored, reversed and spoilt pieces of films."""
    best = torch.optim.AdamW(net.parameters(), lr=rate, weight_decay=1e-3)
    start, step, batch = time.monotonic(), 0, 64
    while (used := time.monotonic() - start) < seconds:
        for group in best.param_groups:
            group["lr"] = rate * 0.5 * (1 + np.cos(np.pi * min(used / seconds, 1.0))) + 1e-5
        strips, heat, weight = pieces(films, batch)
        with torch.autocast(strips.device.type, dtype=torch.bfloat16):
            told = net.many(strips)
        loss = loss_of(told.float(), heat, weight)
        best.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        best.step()
        step += 1
        if step % 500 == 0:
            print(step, round(used), float(loss), flush=True)


def pieces(films: list[Tensor], count: int) -> tuple[Tensor, Tensor, Tensor]:
    """Draw pieces of films: turned about the axis, mirrored, run backwards, relit, grained."""
    strips, heat, weight = films
    device = strips.device
    which = torch.randint(0, len(strips), (count,), device=device)
    first = torch.randint(0, strips.shape[1] - LONG + 1, (count,), device=device)
    at = first[:, None] + torch.arange(LONG, device=device)[None, :]
    back = torch.rand(count, device=device) < 0.3
    at = torch.where(back[:, None], at.flip(1), at)
    column = torch.arange(ANGLES, device=device)[None, :]
    side = torch.where(torch.rand(count, 1, device=device) < 0.5, -1, 1)
    column = (side * column + torch.randint(0, ANGLES, (count, 1), device=device)) % ANGLES
    some = strips[which[:, None], at].float()
    some = some.gather(3, column[:, None, None, :].expand(-1, LONG, RINGS, -1))
    gain = torch.exp(0.4 * torch.randn(count, 1, 1, 1, device=device))
    # A joint may as well be paler than the wall: mortar, lime, a bead of sealant.
    gain = gain * torch.where(torch.rand(count, 1, 1, 1, device=device) < 0.2, -1.0, 1.0)
    grain = 10.0 * torch.rand(count, 1, 1, 1, device=device) ** 2
    some = (some * gain + grain * torch.randn_like(some)).clamp(-127.0, 127.0)
    return some, heat[which[:, None], at].float(), weight[which[:, None], at]


def loss_of(told: Tensor, heat: Tensor, weight: Tensor) -> Tensor:
    """Return the mean cross entropy where the view is clear."""
    each = functional.binary_cross_entropy_with_logits(told, heat, reduction="none").mean(dim=2)
    return (each * weight).sum() / weight.sum().clamp(min=1.0)


@torch.no_grad()
def measure(net: RingNet, films: list[Tensor]) -> dict[str, float]:
    """Return the loss on held-out films and how well a ring's cell is told from others."""
    net.eval()
    strips, heat, weight = films
    told = torch.cat([net.many(part.float()) for part in strips.split(16)])
    clear = weight > 0
    ring, other = told[clear][heat[clear] > 0.8], told[clear][heat[clear] < 0.02]
    report = {"loss": float(loss_of(told, heat.float(), weight))}
    for false in (0.001, 0.01):
        limit = float(np.quantile(other.cpu().numpy(), 1.0 - false))
        report[f"ring_cells_told_at_{false}_false"] = float((ring > limit).float().mean())
    net.train()
    return report


if __name__ == "__main__":
    main()

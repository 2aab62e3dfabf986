"""Train the waterline reader on rendered films and write it as ONNX.

Run at the repository root (two cores do):

    PYTHONPATH=src:training:training/view python training/water/train.py \
        --out src/saltglaze/sight/water.onnx

Pictures are rendered as for the view reader, whose word on the roll the walls are unrolled
about. Seeds are fixed; the films the benchmarks measure on have other seeds.
"""

from __future__ import annotations

import time

import numpy as np
import torch
from as_onnx import write
from net import WaterNet
from render import pairs, script_of
from rendered import asked, by_many, keeping, kept_or, tell
from torch import Tensor, nn
from torch.nn import functional
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

from saltglaze.sight.glance import glance
from saltglaze.sight.waterline import COLUMNS, DEPTHS, ROWS, unrolled

SEED = 20261125
FIRST_SEED = 5_000_000
HELD_OUT = 7
"""Every seventh script is kept out of training."""

PLAIN = 0.3
"""This share of the scripts without water under a tide mark is rendered; of the others all."""

SOFT = 0.01
"""A depth is taught as a bell this wide over the depths of the answer."""

BATCH = 256
JUDGED = (0, 6)
"""View classes in which water can be judged: clear and off the axis."""


def main() -> None:
    """Render, train, measure, write."""
    given = keeping(asked(render_s=1200.0, train_s=1380.0, workers=2)).parse_args()
    torch.manual_seed(SEED)
    torch.set_num_threads(given.workers)
    walls, depths, script = kept_or(
        given,
        ("walls", "depths", "script"),
        lambda: by_many(until, FIRST_SEED, given.render_s, given.workers, 100_000),
    )
    held = script % HELD_OUT == 0
    print("pairs", len(walls), "held out", int(held.sum()), flush=True)
    net = fit(WaterNet(), walls[~held], depths[~held], given.train_s)
    report = measure(net, walls[held], depths[held])
    report |= {"pairs": int((~held).sum()), "scripts": len(np.unique(script[~held]))}
    report |= {"weights": sum(p.numel() for p in net.parameters())}
    tell(given, report)
    write(net, (2, 2, ROWS, COLUMNS), given.out, "walls", "depths")


def until(first_seed: int, end_s: float) -> list[tuple[np.ndarray, ...]]:
    """Render scripts from a seed on: walls in which water can be judged, depths, the script."""
    parts = []
    for seed in range(first_seed + 1, first_seed + 100_000):
        if time.monotonic() > end_s:
            break
        if wanted(seed):
            discs, labels = pairs(seed)
            walls = unrolled(discs, glance(discs).roll_rad)
            judged = np.isin(labels[:, 3], JUDGED)
            parts.append((walls[judged], labels[judged, 1], np.full(int(judged.sum()), seed)))
    return parts


def wanted(seed: int) -> bool:
    """Whether a script is rendered: water under a tide mark is the hard case."""
    script = script_of(seed)
    wet = max(share for _, share in script.water.knots) > 0.02
    return (wet and script.bed.tide > 0.0) or np.random.default_rng([seed, 77]).random() < PLAIN


def fit(net: WaterNet, walls: np.ndarray, depths: np.ndarray, seconds: float) -> nn.Module:
    """Train for a time on mirrored, turned, relit and grained walls; return a mean of late nets."""
    mean = AveragedModel(net, multi_avg_fn=get_ema_multi_avg_fn(0.995), use_buffers=True)
    best = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=2e-2)
    draw = np.random.default_rng(SEED)
    start, step = time.monotonic(), 0
    while (used := time.monotonic() - start) < seconds:
        for group in best.param_groups:
            group["lr"] = 2e-3 * 0.5 * (1 + np.cos(np.pi * min(used / seconds, 1.0))) + 1e-5
        pick = draw.integers(0, len(walls), BATCH)
        taught = bell(torch.tensor(depths[pick]))
        with torch.autocast("cpu", dtype=torch.bfloat16):
            told = net(spoil(torch.tensor(walls[pick]).float() / 255.0))
        loss = -(taught * functional.log_softmax(told.float(), dim=1)).sum(dim=1).mean()
        best.zero_grad()
        loss.backward()
        best.step()
        mean.update_parameters(net)
        step += 1
        if step % 500 == 0:
            print(step, round(used), float(loss.detach()), flush=True)
    return mean.module


def bell(depths: Tensor) -> Tensor:
    """Return what is taught of each depth, (n, len(DEPTHS)), rows adding up to 1."""
    apart = (depths[:, None] - torch.tensor(DEPTHS, dtype=torch.float32)[None, :]) / SOFT
    bells = torch.exp(-0.5 * apart**2) + 1e-9
    return bells / bells.sum(dim=1, keepdim=True)


def spoil(walls: Tensor) -> Tensor:
    """Return walls mirrored, turned by up to four degrees, relit and grained."""
    n = len(walls)
    if torch.rand(()) < 0.5:
        walls = walls.flip(-1)
    walls = torch.roll(walls, int(torch.randint(-2, 3, ())), dims=-1)
    gamma = torch.exp(0.35 * torch.randn(n, 1, 1, 1))
    lit = walls.clamp(1e-4, 1.0) ** gamma * torch.exp(0.25 * torch.randn(n, 1, 1, 1))
    return (lit + 0.04 * torch.rand(n, 1, 1, 1) * torch.randn_like(lit)).clamp(0.0, 1.0)


@torch.no_grad()
def measure(net: nn.Module, walls: np.ndarray, depths: np.ndarray) -> dict[str, float]:
    """Return errors of the mean depth on held-out scripts, of all and of the surer ones."""
    net.eval()
    told = [net(torch.tensor(part).float() / 255.0) for part in np.array_split(walls, 50)]
    chance = functional.softmax(torch.cat(told), dim=1).numpy().astype(float)
    mean = chance @ DEPTHS
    sd = np.sqrt(np.maximum(chance @ DEPTHS**2 - mean**2, 0.0))
    apart = np.abs(mean - depths)
    report = {"p50": float(np.quantile(apart, 0.5)), "p95": float(np.quantile(apart, 0.95))}
    for share in (0.5, 0.7, 0.85):
        surer = sd <= np.quantile(sd, share)
        report[f"p95_of_surest_{share}"] = float(np.quantile(apart[surer], 0.95))
    return report


if __name__ == "__main__":
    main()

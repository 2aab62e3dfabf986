"""Train the view reader on rendered discs and write it as ONNX.

Run at the repository root (a GPU shortens it, none is needed):

    PYTHONPATH=src:training python training/view/train.py --out src/saltglaze/sight/view.onnx

Seeds are fixed; the films the benchmarks measure on have other seeds.
"""

from __future__ import annotations

import time

import numpy as np
import torch
from as_onnx import write
from net import ViewNet
from render import until
from rendered import asked, by_many, tell
from torch import Tensor, nn
from torch.nn import functional
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn

SEED = 20261125
TRAIN_SEEDS, TEST_SEEDS = 1_000_000, 2_000_000


def main() -> None:
    """Render, train, measure, write."""
    given = asked(render_s=480.0, train_s=420.0, workers=16).parse_args()
    torch.manual_seed(SEED)
    # All rendering comes first: a process that has woken the GPU should not fork.
    discs, labels = by_many(until, TRAIN_SEEDS, given.render_s, given.workers, 10_000)
    held, held_labels = by_many(until, TEST_SEEDS, given.render_s * 0.06, given.workers, 10_000)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    print("rendered", len(discs), "held out", len(held), flush=True)
    net = ViewNet().to(device)
    net = fit(net, torch.tensor(discs).to(device), torch.tensor(labels).to(device), given.train_s)
    report = measure(net, torch.tensor(held).to(device), torch.tensor(held_labels).to(device))
    report |= {"pairs": len(discs), "weights": sum(p.numel() for p in net.parameters())}
    tell(given, report)
    write(net, (2, *discs.shape[1:]), given.out, "discs", "seen")


def fit(net: ViewNet, discs: Tensor, labels: Tensor, seconds: float) -> nn.Module:
    """Train for a time, with turned, mirrored and spoilt discs; return the mean of late nets."""
    mean = AveragedModel(net, multi_avg_fn=get_ema_multi_avg_fn(0.999), use_buffers=True)
    best = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-4)
    start, step, batch = time.monotonic(), 0, 512
    while (used := time.monotonic() - start) < seconds:
        for group in best.param_groups:
            group["lr"] = 2e-3 * 0.5 * (1 + np.cos(np.pi * min(used / seconds, 1.0))) + 1e-5
        pick = torch.randint(0, len(discs), (batch,), device=discs.device)
        pictures, told = spoil(discs[pick].float() / 255.0, labels[pick])
        with torch.autocast(discs.device.type, dtype=torch.bfloat16):
            seen = net(pictures)
        loss = losses(seen.float(), told)
        best.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        best.step()
        mean.update_parameters(net)
        step += 1
        if step % 500 == 0:
            print(step, round(used), float(loss), flush=True)
    return mean.module


def spoil(pictures: Tensor, labels: Tensor) -> tuple[Tensor, Tensor]:
    """Return discs turned, mirrored, relit, blurred and grained, with their labels."""
    n, _, side, _ = pictures.shape
    device = pictures.device
    labels = labels.clone()
    turn = torch.rand(n, device=device) * 360.0
    mirror = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    labels[:, 0] = mirror * labels[:, 0] + turn
    labels[:, 5] = mirror * labels[:, 5]
    angle = torch.deg2rad(turn)
    size = 1.0 + 0.12 * (torch.rand(n, device=device) - 0.5)
    cos, sin, zero = torch.cos(angle) * size, torch.sin(angle) * size, torch.zeros(n, device=device)
    # affine_grid maps output to input: mirror the input side after turning back.
    grid = torch.stack(
        [torch.stack([mirror * cos, mirror * sin, zero], 1), torch.stack([-sin, cos, zero], 1)], 1
    )
    where = functional.affine_grid(grid, [n, 2, side, side], align_corners=False)
    out = functional.grid_sample(pictures, where, align_corners=False, padding_mode="border")
    gamma = torch.exp(0.35 * torch.randn(n, 1, 1, 1, device=device))
    out = out.clamp(1e-4, 1.0) ** gamma * torch.exp(0.25 * torch.randn(n, 1, 1, 1, device=device))
    soft = functional.avg_pool2d(out, 3, 1, 1)
    out = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.3, soft, out)
    grain = 0.04 * torch.rand(n, 1, 1, 1, device=device)
    out = out + grain * torch.randn_like(out)
    return (out.clamp(0, 1) * disc_mask(side, device)), labels


def disc_mask(side: int, device: torch.device) -> Tensor:
    """Return 1 inside the disc."""
    at = torch.arange(side, device=device) - (side - 1) / 2
    return (at[:, None] ** 2 + at[None, :] ** 2 <= (side / 2) ** 2).float()


def losses(seen: Tensor, labels: Tensor) -> Tensor:
    """Return the negative log likelihood of all that is told of a pair."""
    roll = torch.deg2rad(labels[:, 0])
    along = seen[:, 0] * torch.sin(roll) + seen[:, 1] * torch.cos(roll)
    kappa = torch.sqrt(seen[:, 0] ** 2 + seen[:, 1] ** 2 + 1e-6)
    # von Mises: -k cos(d) + log I0(k), written with the scaled Bessel function.
    direction = kappa - along + torch.log(torch.special.i0e(kappa))
    judged = (labels[:, 3] == 0) | (labels[:, 3] == 6)
    depth = gauss(seen[:, 2], seen[:, 3], labels[:, 1])
    standing = functional.binary_cross_entropy_with_logits(
        seen[:, 4], labels[:, 2], reduction="none"
    )
    wet = judged & (labels[:, 1] > 0.02)
    view = functional.cross_entropy(seen[:, 5:12], labels[:, 3].long(), reduction="none")
    advance = gauss(seen[:, 12], seen[:, 13], labels[:, 4])
    turn = gauss(seen[:, 14], seen[:, 15], labels[:, 5] / 10.0)
    edge = functional.binary_cross_entropy_with_logits(seen[:, 16], labels[:, 6], reduction="none")
    parts = direction + (depth + advance + turn + 0.5 * edge) * judged + 0.5 * standing * wet + view
    return parts.mean()


def gauss(mean: Tensor, log_sd: Tensor, true: Tensor) -> Tensor:
    """Return the negative log likelihood of a heavy-shouldered normal."""
    sd = torch.exp(log_sd.clamp(-5.0, 2.0))
    apart = (true - mean) / sd
    return torch.log1p(apart**2 / 4.0) * 2.5 + torch.log(sd)


@torch.no_grad()
def measure(net: ViewNet, discs: Tensor, labels: Tensor) -> dict[str, float]:
    """Return errors on held-out films, as they are and turned by a right angle."""
    net.eval()
    seen = torch.cat([net(part.float() / 255.0) for part in discs.split(512)]).float()
    roll = torch.rad2deg(torch.atan2(seen[:, 0], seen[:, 1]))
    off = (roll - labels[:, 0] + 180.0) % 360.0 - 180.0
    kappa = torch.sqrt(seen[:, 0] ** 2 + seen[:, 1] ** 2)
    clear = labels[:, 3] == 0
    report = {}
    for least in (30, 100, 200, 400):
        sure = clear & (kappa > least)
        if sure.any():
            report[f"roll_share_kappa_{least}"] = float(sure.float().sum() / clear.sum())
            report[f"roll_p95_kappa_{least}"] = float(off[sure].abs().quantile(0.95))
    apart = (seen[:, 2] - labels[:, 1])[clear].abs()
    report["water_p50"] = float(apart.quantile(0.5))
    report["water_p95"] = float(apart.quantile(0.95))
    wet = clear & (labels[:, 1] > 0.05)
    still = seen[wet, 4] > 0
    report["standing_right"] = float((still == (labels[wet, 2] > 0.5)).float().mean())
    edge = seen[:, 16] > 0
    report["edge_right"] = float((edge == (labels[:, 6] > 0.5))[clear].float().mean())
    for what, dry in (("dry_edge", True), ("wet_edge", False)):
        sure = clear & edge & (kappa > 100) & ((labels[:, 1] < 0.005) == dry)
        if sure.any():
            report[f"roll_p95_{what}"] = float(off[sure].abs().quantile(0.95))
    named = seen[:, 5:12].argmax(1)
    report["view_right"] = float((named == labels[:, 3]).float().mean())
    for view in range(7):
        of = labels[:, 3] == view
        if of.any():
            report[f"view_{view}_recall"] = float((named[of] == view).float().mean())
    report["advance_p50"] = float((seen[:, 12] - labels[:, 4])[clear].abs().quantile(0.5))
    report["turn_p50_deg"] = float((seen[:, 14] * 10.0 - labels[:, 5])[clear].abs().quantile(0.5))
    return report


if __name__ == "__main__":
    main()

"""Train and export the counter reader and the text finder; score.py measures them.

    COUNTER_FONTS=/usr/share python train.py --out OUT --reader-seconds 300 --finder-seconds 150

Everything the nets see is rendered here from ``--seed``; schedules run on the clock, so a
repeat on other hardware sees another number of samples. Needs torch; the product does not.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from pathlib import Path

import numpy as np
import torch
from glyphs import font_case
from net import Finder, Reader
from overlay import CHARSET, Maker
from torch import nn
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

CLASS_OF = {c: i + 1 for i, c in enumerate(CHARSET)}


class Samples(IterableDataset):
    """Endless batches, each worker from its own seed."""

    def __init__(self, kind: str, batch: int, seed: int) -> None:
        self.kind, self.batch, self.seed = kind, batch, seed

    def __iter__(self):
        import cv2

        cv2.setNumThreads(1)
        torch.set_num_threads(1)
        info = get_worker_info()
        maker = Maker(font_case(False), False, self.seed * 1000 + (info.id if info else 0))
        while True:
            yield (
                reader_batch(maker, self.batch)
                if self.kind == "reader"
                else finder_batch(maker, self.batch)
            )


def reader_batch(maker: Maker, count: int):
    """Make strips, joined labels and label lengths."""
    crops = [maker.crop() for _ in range(count)]
    strips = torch.from_numpy(np.stack([c[0] for c in crops]))[:, None]
    labels = [[CLASS_OF[ch] for ch in c[1]] for c in crops]
    return (
        strips,
        torch.tensor([v for label in labels for v in label]),
        torch.tensor([len(v) for v in labels]),
        [c[1] for c in crops],
        [c[2] for c in crops],
    )


def finder_batch(maker: Maker, count: int):
    """Make patches with their core and height maps."""
    patches = [maker.patch() for _ in range(count)]
    return tuple(torch.from_numpy(np.stack([p[k] for p in patches])) for k in range(3))


def train(
    kind: str,
    model: nn.Module,
    loss_of,
    seconds: float,
    seed: int,
    workers: int,
    device: str,
    batch: int,
    rate: float,
) -> int:
    """Run one cosine schedule over the wall clock; return the samples seen."""
    loader = DataLoader(
        Samples(kind, batch, seed), batch_size=None, num_workers=workers, prefetch_factor=4
    )
    opt = torch.optim.AdamW(model.parameters(), lr=rate, weight_decay=0.01)
    model.to(device).train()
    start, step, running = None, 0, 0.0
    for data in loader:
        start = start or time.monotonic()
        share = (time.monotonic() - start) / seconds
        if share >= 1:
            break
        opt.param_groups[0]["lr"] = (
            rate * min(1.0, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-5
        )
        loss = loss_of(model, data, device)
        opt.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 2.0)
        opt.step()
        running = 0.98 * running + 0.02 * float(loss.detach()) if step else float(loss.detach())
        step += 1
        if step % 500 == 0:
            print(f"{kind} step {step} at {share:.0%} loss {running:.4f}", flush=True)
    del loader
    return step * batch


def reader_loss(model, data, device):
    """CTC loss; light and dark, weak and strong are drawn here."""
    strips, flat, lengths, _, _ = data
    x = strips.to(device, non_blocking=True).float()
    n = x.shape[0]
    flip = torch.rand(n, 1, 1, 1, device=device) < 0.15
    x = torch.where(flip, 255 - x, x)
    x = x * (0.7 + 0.3 * torch.rand(n, 1, 1, 1, device=device))
    with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
        logits, _ = model(x)
    log_p = logits.float().log_softmax(-1).transpose(0, 1)
    steps = torch.full((n,), log_p.shape[0], dtype=torch.long)
    return nn.functional.ctc_loss(log_p, flat.to(device), steps, lengths, zero_infinity=True)


def finder_loss(model, data, device):
    """Cross entropy and overlap on the core map, squared error of the height inside it."""
    x, core, tall = (d.to(device) for d in data)
    with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
        out = model(x[:, None].float()).float()
    p = out[:, 0].sigmoid()
    overlap = 1 - (2 * (p * core).sum() + 1) / (p.sum() + core.sum() + 1)
    cross = nn.functional.binary_cross_entropy_with_logits(
        out[:, 0], core, pos_weight=torch.tensor(3.0, device=device)
    )
    height = (core * (out[:, 1] - tall) ** 2).sum() / (core.sum() + 1)
    return cross + 0.5 * overlap + 0.5 * height


def export(reader: Reader, finder: Finder | None, out: Path) -> None:
    """Write ONNX files with free batch and width."""
    reader.cpu().eval()
    torch.onnx.export(
        reader,
        (torch.zeros(2, 1, 32, 160),),
        str(out / "reader.onnx"),
        opset_version=17,
        dynamo=False,
        input_names=["strip"],
        output_names=["odds", "features"],
        dynamic_axes={
            "strip": {0: "n", 3: "w"},
            "odds": {0: "n", 1: "t"},
            "features": {0: "n", 1: "t"},
        },
    )
    if finder is not None:
        finder.cpu().eval()
        torch.onnx.export(
            finder,
            (torch.zeros(1, 1, 240, 320),),
            str(out / "finder.onnx"),
            opset_version=17,
            dynamo=False,
            input_names=["frame"],
            output_names=["maps"],
            dynamic_axes={"frame": {0: "n", 2: "h", 3: "w"}, "maps": {0: "n", 2: "a", 3: "b"}},
        )


def main() -> None:
    """Train both nets and export them."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--reader-seconds", type=float, default=300)
    ask.add_argument("--finder-seconds", type=float, default=150)
    ask.add_argument("--seed", type=int, default=20261125)
    ask.add_argument("--workers", type=int, default=15)
    ask.add_argument("--batch", type=int, default=256)
    ask.add_argument("--rate", type=float, default=3e-3)
    ask.add_argument("--start", type=Path, help="folder with reader.pt / finder.pt to go on from")
    got = ask.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(got.seed)
    got.out.mkdir(parents=True, exist_ok=True)
    reader, finder = Reader(len(CHARSET) + 1), Finder()
    if got.start:
        reader.load_state_dict(torch.load(got.start / "reader.pt"))
        finder.load_state_dict(torch.load(got.start / "finder.pt"))
    seen = {
        "reader": train(
            "reader",
            reader,
            reader_loss,
            got.reader_seconds,
            got.seed,
            got.workers,
            device,
            got.batch,
            got.rate,
        )
    }
    torch.save(reader.state_dict(), got.out / "reader.pt")
    if got.finder_seconds > 0:
        seen["finder"] = train(
            "finder",
            finder,
            finder_loss,
            got.finder_seconds,
            got.seed + 1,
            got.workers,
            device,
            32,
            got.rate,
        )
        torch.save(finder.state_dict(), got.out / "finder.pt")
    export(reader, finder if got.finder_seconds > 0 else None, got.out)
    report = {
        "seen": seen,
        "parameters": {
            "reader": sum(p.numel() for p in reader.parameters()),
            "finder": sum(p.numel() for p in finder.parameters()),
        },
    }
    (got.out / "report.json").write_text(json.dumps(report, indent=1))
    print(json.dumps(report))


if __name__ == "__main__":
    main()

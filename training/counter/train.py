"""Train, export and score the counter reader and the text finder.

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


def reader_batch(maker: Maker, count: int, gentle: bool | None = None, empty: float = 0.1):
    """Make strips, joined labels and label lengths."""
    crops = [maker.crop(gentle, empty) for _ in range(count)]
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


def greedy(logits: np.ndarray) -> tuple[str, float]:
    """Best path, collapsed; its probability is the product over steps."""
    z = logits - logits.max(-1, keepdims=True)
    p = np.exp(z) / np.exp(z).sum(-1, keepdims=True)
    best = p.argmax(-1)
    text = "".join(CHARSET[k - 1] for i, k in enumerate(best) if k and (i == 0 or best[i - 1] != k))
    return text, float(np.prod(p.max(-1)))


def bare(text: str) -> str:
    """Digits, point and sign only."""
    return "".join(c for c in text if c in "0123456789.,-+")


def score(model: Reader, held_out: bool, gentle: bool, count: int, seed: int, device: str) -> dict:
    """Share of strips read right, number part only, and how right the sure ones are."""
    maker = Maker(font_case(held_out), held_out, seed)
    strips, _, _, truth, fonts = reader_batch(maker, count, gentle, 0.1)
    model.eval().to(device)
    with torch.no_grad():
        logits = (
            torch.cat([model(part.to(device).float())[0] for part in strips.split(256)])
            .float()
            .cpu()
            .numpy()
        )
    read = [greedy(row) for row in logits]
    right = np.array([bare(a[0]) == bare(b) for a, b in zip(read, truth, strict=True)])
    sure = np.array([r[1] for r in read])
    none = np.array([not t for t in truth])
    by_font: dict[str, list[bool]] = {}
    for font, ok, empty in zip(fonts, right, none, strict=True):
        if not empty:
            by_font.setdefault(font.split("-pixelled")[0], []).append(bool(ok))
    worst = sorted(((float(np.mean(v)), k, len(v)) for k, v in by_font.items() if len(v) >= 15))[
        :12
    ]
    return {
        "count": count,
        "right": float(right[~none].mean()),
        "empty_right": float(right[none].mean()),
        "sure_share": float((sure > 0.8).mean()),
        "right_when_sure": float(right[sure > 0.8].mean()),
        "worst": worst,
    }


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
    """Train both nets, export them, print the scores."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--reader-seconds", type=float, default=300)
    ask.add_argument("--finder-seconds", type=float, default=150)
    ask.add_argument("--seed", type=int, default=20261125)
    ask.add_argument("--workers", type=int, default=15)
    ask.add_argument("--batch", type=int, default=256)
    ask.add_argument("--rate", type=float, default=3e-3)
    ask.add_argument("--no-score", action="store_true")
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
    for held_out in () if got.no_score else (False, True):
        for gentle in (True, False):
            name = (
                f"{'held-out' if held_out else 'trained'} fonts, {'gentle' if gentle else 'rough'}"
            )
            report[name] = score(reader, held_out, gentle, 2000, got.seed + 77, device)
            print(name, json.dumps(report[name]), flush=True)
    (got.out / "report.json").write_text(json.dumps(report, indent=1))
    print(json.dumps(report["seen"]), report["parameters"])


if __name__ == "__main__":
    main()

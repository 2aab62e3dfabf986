"""Score the shipped reader and finder on strips and patches with fonts they never saw.

    COUNTER_FONTS=/usr/share python score.py [--count 1500] [--nets ../../src/saltglaze/sight/counter]

Needs no torch. Strips are drawn by overlay.py from a seed that training never used;
many of the rough ones cannot be read by a person either, so the figures compare nets and
fonts and are no forecast of field accuracy. What films give is in docs/methods/counter.md.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import onnxruntime as ort
from glyphs import font_case
from overlay import CHARSET, Maker

SEED = 77_000_001


def greedy(odds: np.ndarray) -> tuple[str, float]:
    """Best path, collapsed, and the product of its probabilities."""
    raised = np.exp(odds - odds.max(-1, keepdims=True))
    p = raised / raised.sum(-1, keepdims=True)
    best = p.argmax(-1)
    text = "".join(CHARSET[k - 1] for i, k in enumerate(best) if k and (i == 0 or best[i - 1] != k))
    return text, float(np.prod(p.max(-1)))


def figures(text: str) -> str:
    """Digits, point and sign alone; a comma counts as a point."""
    return "".join(c for c in text.replace(",", ".") if c in "0123456789.-+")


def score_reader(net: ort.InferenceSession, held_out: bool, gentle: bool, count: int) -> None:
    """Print the share of strips whose figures are read right, and by font."""
    maker = Maker(font_case(held_out), held_out, SEED)
    drawn = [maker.crop(gentle) for _ in range(count)]
    read = []
    for at in range(0, count, 50):
        strips = np.stack([d[0] for d in drawn[at : at + 50]])[:, None].astype(np.float32)
        read += [greedy(row) for row in net.run(None, {"strip": strips})[0]]
    right = np.array([figures(r[0]) == figures(d[1]) for r, d in zip(read, drawn, strict=True)])
    sure = np.array([r[1] for r in read])
    empty = np.array([not d[1] for d in drawn])
    kind = f"{'held-out' if held_out else 'trained'} fonts, {'gentle' if gentle else 'rough'}"
    print(
        f"{kind}: figures right {right[~empty].mean():.1%} of {(~empty).sum()}, "
        f"nothing read where nothing stands {right[empty].mean():.1%} of {empty.sum()}, "
        f"right where sure (above 0.9) {right[sure > 0.9].mean():.1%} of {(sure > 0.9).sum()}"
    )
    by_font: dict[str, list[bool]] = {}
    for (_, label, font), ok in zip(drawn, right, strict=True):
        if label:
            by_font.setdefault(font.removesuffix("-pixelled"), []).append(bool(ok))
    worst = sorted((float(np.mean(v)), len(v), k) for k, v in by_font.items() if len(v) >= 15)
    print("   weakest: " + ", ".join(f"{name} {share:.0%} of {n}" for share, n, name in worst[:6]))


def score_finder(net: ort.InferenceSession, count: int) -> None:
    """Print recall and precision of text cells on patches with held-out fonts."""
    maker = Maker(font_case(True), True, SEED + 1)
    hit = said = true = 0
    for _ in range(count):
        patch, core, _ = maker.patch()
        text = net.run(None, {"frame": patch[None, None].astype(np.float32)})[0][0, 0] > 0
        hit += int((text & (core > 0)).sum())
        said, true = said + int(text.sum()), true + int((core > 0).sum())
    print(f"finder, held-out fonts: recall {hit / true:.1%}, precision {hit / said:.1%} of cells")


def main() -> None:
    """Score both nets."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--count", type=int, default=1500)
    here = Path(__file__).resolve().parents[2] / "src/saltglaze/sight/counter"
    ask.add_argument("--nets", type=Path, default=here)
    given = ask.parse_args()
    options = ort.SessionOptions()
    options.intra_op_num_threads = 1
    reader = ort.InferenceSession(str(given.nets / "reader.onnx"), options)
    for held_out in (False, True):
        for gentle in (True, False):
            score_reader(reader, held_out, gentle, given.count)
    score_finder(ort.InferenceSession(str(given.nets / "finder.onnx"), options), given.count // 5)


if __name__ == "__main__":
    main()

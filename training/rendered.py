"""What training scripts are asked and tell, and their renderings: by many processes, kept."""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

Arrays = tuple[np.ndarray, ...]
Until = Callable[[int, float], list[Arrays]]
"""Renders scripts from a seed on until a moment of the clock: a tuple of arrays for each."""


def asked(render_s: float, train_s: float, workers: int) -> argparse.ArgumentParser:
    """Return a parser of what every script is asked, with these defaults."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--report", type=Path)
    parser.add_argument("--render-s", type=float, default=render_s)
    parser.add_argument("--train-s", type=float, default=train_s)
    parser.add_argument("--workers", type=int, default=workers)
    return parser


def by_many(until: Until, first_seed: int, seconds: float, workers: int, apart: int) -> Arrays:
    """Render until the time is up; each process begins ``apart`` seeds after the last."""
    end = time.monotonic() + seconds
    shares = [(first_seed + apart * worker, end) for worker in range(workers)]
    with multiprocessing.get_context("fork").Pool(workers) as pool:
        parts = [part for share in pool.starmap(until, shares) for part in share]
    return tuple(np.concatenate(column) for column in zip(*parts, strict=True))


def keeping(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Let a script keep its renderings in a file, and train on some that were kept."""
    parser.add_argument("--kept", type=Path, nargs="*", help="renderings kept by --keep")
    parser.add_argument("--keep", type=Path, help="keep the renderings in this file")
    return parser


def kept_or(
    given: argparse.Namespace, names: tuple[str, ...], render: Callable[[], Arrays]
) -> Arrays:
    """Return the renderings that were kept, or render; keep them where that is asked."""
    if given.kept:
        files = [np.load(file) for file in given.kept]
        return tuple(np.concatenate([file[name] for file in files]) for name in names)
    drawn = render()
    if given.keep:
        np.savez(given.keep, **dict(zip(names, drawn, strict=True)))
    return drawn


def tell(given: argparse.Namespace, report: dict[str, float]) -> None:
    """Print what was measured, and keep it where that is asked."""
    text = json.dumps(report, indent=1)
    print(text)
    if given.report:
        given.report.write_text(text + "\n")

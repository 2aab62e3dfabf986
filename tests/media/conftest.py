"""Small clips for the tests: a bright block that moves one step each picture."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from saltglaze.media.encode import AUDIO_RATE_HZ, FilmWriter


def _picture(number: int, width: int, height: int) -> np.ndarray:
    """Grey left half, dark right half, and a white block whose row tells the number."""
    rgb = np.full((height, width, 3), 60, np.uint8)
    rgb[:, : width // 2] = 120
    step = height // 16
    row = (number % 14) * step
    rgb[row : row + step, : width // 4] = 250
    return rgb


def _number_shown(luma: np.ndarray) -> int:
    """Read the number back from a picture (modulo 14)."""
    height, width = luma.shape
    strip = luma[:, : width // 4].mean(axis=1)
    step = height // 16
    sums = [strip[k * step : (k + 1) * step].mean() for k in range(14)]
    return int(np.argmax(sums))


def _clip(
    path: Path,
    *,
    count: int = 30,
    size: tuple[int, int] = (320, 240),
    fps: float = 25.0,
    times: list[float] | None = None,
    sound: bool = False,
    **how: Any,
) -> Path:
    with FilmWriter(path, width_px=size[0], height_px=size[1], fps=fps, audio=sound, **how) as film:
        for number in range(count):
            film.picture(_picture(number, *size), times[number] if times else number / fps)
        if sound:
            t = np.arange(int(count / fps * AUDIO_RATE_HZ)) / AUDIO_RATE_HZ
            film.sound((0.5 * np.sin(2 * np.pi * 440 * t)).astype(np.float32))
    return path


@pytest.fixture
def clip() -> Callable[..., Path]:
    """Write a clip: ``clip(path, count=, size=, fps=, times=, sound=, codec=...)``."""
    return _clip


@pytest.fixture
def number_shown() -> Callable[[np.ndarray], int]:
    return _number_shown

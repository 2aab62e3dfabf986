"""Burn the counter and the text around it into a picture."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.glyphs import font
from saltglaze.demo.script import Corner, FilmScript, Overlay, TextStyle

Picture = NDArray[np.uint8]


@dataclass(frozen=True)
class Box:
    """Where a line of text stands, pixels: its letters' rows and columns."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int


def burn(picture: Picture, script: FilmScript, counter_m: float, time_s: float) -> Box | None:
    """Draw the overlay on an RGB picture in place; return the counter's box, if shown."""
    overlay = script.overlay
    for label in overlay.labels:
        text = label.text.replace("{clock}", clock_text(script.started, time_s))
        _put(picture, overlay, text, label.corner, label.line, max(round(overlay.size_px * 0.8), 7))
    if not overlay.shown:
        return None
    return _put(picture, overlay, overlay.text(counter_m), overlay.corner, 0, overlay.size_px)


def clock_text(started: str, time_s: float) -> str:
    """Return the time of day ``time_s`` seconds after ``started`` (HH:MM:SS)."""
    begin = dt.datetime.strptime(started, "%H:%M:%S")
    return (begin + dt.timedelta(seconds=int(time_s))).strftime("%H:%M:%S")


@dataclass(frozen=True)
class Stamp:
    """A line of text ready to be put on: share of the picture kept, and what is added.

    ``rows`` and ``columns`` are the first and last of the ink, digits' height for rows.
    """

    keep: NDArray[np.float32]
    add: Picture
    rows: tuple[int, int]
    columns: tuple[int, int]


@lru_cache(maxsize=64)
def _stamp(overlay: Overlay, text: str, size_px: int) -> Stamp | None:
    """Return the stamp of a line in the overlay's look; ``None`` where there is no ink."""
    mask, top, bottom = font(overlay.font).line(text, size_px)
    edge = max(round(size_px / 11), 1)
    boxed = overlay.style is TextStyle.BOXED
    pad = edge + (max(size_px // 5, 2) if boxed else 1)
    letters = np.pad(mask, pad)
    inked = np.flatnonzero(letters.max(axis=0) > 76)
    if inked.size == 0:
        return None
    if boxed:
        ground = np.zeros_like(letters)
        ground[max(top, 0) : bottom + 2 * pad] = 255
    elif overlay.style is TextStyle.OUTLINED:
        ground = cv2.dilate(letters, np.ones((2 * edge + 1, 2 * edge + 1), np.uint8))
    elif overlay.style is TextStyle.SHADOWED:
        ground = np.roll(letters, (edge + 1, edge + 1), axis=(0, 1))
    else:
        ground = np.zeros_like(letters)
    bright = letters.astype(np.float32)[..., None] / np.float32(255)
    dark = np.asarray(ground).astype(np.float32)[..., None] / np.float32(255) * (1 - bright)
    add = np.asarray(overlay.ground, np.float32) * dark
    add = add + np.asarray(overlay.colour, np.float32) * bright
    keep = np.repeat(1 - dark - bright, 3, axis=2)
    return Stamp(
        np.ascontiguousarray(keep, np.float32),
        np.clip(add, 0, 255).astype(np.uint8),
        (top + pad, bottom + pad),
        (int(inked[0]), int(inked[-1])),
    )


def _put(
    picture: Picture, overlay: Overlay, text: str, corner: Corner, line: int, size_px: int
) -> Box | None:
    stamp = _stamp(overlay, text, size_px)
    if stamp is None:
        return None
    height, width = picture.shape[:2]
    step = round(1.7 * size_px) * line
    margin = overlay.margin_px
    left = {
        Corner.TOP_LEFT: margin,
        Corner.BOTTOM_LEFT: margin,
        Corner.TOP: (width - stamp.add.shape[1]) // 2,
        Corner.BOTTOM: (width - stamp.add.shape[1]) // 2,
    }.get(corner, width - margin - stamp.add.shape[1])
    at_top = corner in (Corner.TOP_LEFT, Corner.TOP_RIGHT, Corner.TOP)
    top, bottom = stamp.rows
    first = margin + step - top if at_top else height - margin - step - bottom
    window = _window(stamp.add.shape, first, left, height, width)
    if window is None:
        return None
    (r0, r1, c0, c1), (pr, pc) = window
    spot = picture[pr : pr + r1 - r0, pc : pc + c1 - c0]
    kept = cv2.multiply(spot, stamp.keep[r0:r1, c0:c1], dtype=cv2.CV_8U)
    spot[...] = cv2.add(kept, stamp.add[r0:r1, c0:c1])
    begin, end = stamp.columns
    return Box(left + begin, first + top, end - begin + 1, bottom - top)


def _window(
    shape: tuple[int, ...], first: int, left: int, height: int, width: int
) -> tuple[tuple[int, int, int, int], tuple[int, int]] | None:
    """Return the part of a mask that falls on the picture, and where it lands."""
    r0, c0 = max(-first, 0), max(-left, 0)
    r1, c1 = min(shape[0], height - first), min(shape[1], width - left)
    if r1 <= r0 or c1 <= c0:
        return None
    return (r0, r1, c0, c1), (first + r0, left + c0)

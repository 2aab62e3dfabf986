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


@lru_cache(maxsize=64)
def _masks(
    name: str, text: str, size_px: int, style: TextStyle
) -> tuple[NDArray[np.float32], NDArray[np.float32], int, int]:
    """Return letters and ground as 0..1 masks, and the first and last row of the digits."""
    mask, top, bottom = font(name).line(text, size_px)
    edge = max(round(size_px / 11), 1)
    pad = edge + (max(size_px // 5, 2) if style is TextStyle.BOXED else 1)
    letters = np.pad(mask, pad)
    if style is TextStyle.BOXED:
        ground = np.zeros_like(letters)
        ground[max(top, 0) : bottom + 2 * pad] = 255
    elif style is TextStyle.OUTLINED:
        ground = cv2.dilate(letters, np.ones((2 * edge + 1, 2 * edge + 1), np.uint8))
    elif style is TextStyle.SHADOWED:
        ground = np.roll(letters, (edge + 1, edge + 1), axis=(0, 1))
    else:
        ground = np.zeros_like(letters)
    scale = np.float32(1 / 255)
    return (
        letters.astype(np.float32) * scale,
        np.asarray(ground).astype(np.float32) * scale,
        top + pad,
        bottom + pad,
    )


def _put(
    picture: Picture, overlay: Overlay, text: str, corner: Corner, line: int, size_px: int
) -> Box | None:
    letters, ground, top, bottom = _masks(overlay.font, text, size_px, overlay.style)
    height, width = picture.shape[:2]
    step = round(1.7 * size_px) * line
    margin = overlay.margin_px
    left = {
        Corner.TOP_LEFT: margin,
        Corner.BOTTOM_LEFT: margin,
        Corner.TOP: (width - letters.shape[1]) // 2,
        Corner.BOTTOM: (width - letters.shape[1]) // 2,
    }.get(corner, width - margin - letters.shape[1])
    at_top = corner in (Corner.TOP_LEFT, Corner.TOP_RIGHT, Corner.TOP)
    first = margin + step - top if at_top else height - margin - step - bottom
    window = _window(letters.shape, first, left, height, width)
    if window is None:
        return None
    (r0, r1, c0, c1), (pr, pc) = window
    spot = picture[pr : pr + r1 - r0, pc : pc + c1 - c0]
    dark, bright = ground[r0:r1, c0:c1, None], letters[r0:r1, c0:c1, None]
    mixed = spot * (1 - dark) + np.asarray(overlay.ground, np.float32) * dark
    mixed = mixed * (1 - bright) + np.asarray(overlay.colour, np.float32) * bright
    spot[...] = np.clip(mixed, 0, 255).astype(np.uint8)
    columns = np.flatnonzero(letters.max(axis=0) > 0.3)
    if columns.size == 0:
        return None
    return Box(left + int(columns[0]), first + top, int(columns[-1] - columns[0] + 1), bottom - top)


def _window(
    shape: tuple[int, ...], first: int, left: int, height: int, width: int
) -> tuple[tuple[int, int, int, int], tuple[int, int]] | None:
    """Return the part of a mask that falls on the picture, and where it lands."""
    r0, c0 = max(-first, 0), max(-left, 0)
    r1, c1 = min(shape[0], height - first), min(shape[1], width - left)
    if r1 <= r0 or c1 <= c0:
        return None
    return (r0, r1, c0, c1), (first + r0, left + c0)

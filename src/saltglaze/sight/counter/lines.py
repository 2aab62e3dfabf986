"""Find lines of burned-in text in a few pictures of a film."""

from __future__ import annotations

from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.counter.nets import DIGIT_SHARE, STEP_PX, STRIP_PX, text_maps

SURVEY_PX: Final = 480
"""Shorter side of the picture as the finder sees it."""

LEAST_PX: Final = 64
MOST_PX: Final = 8192
LARGEST_SCALE: Final = 2.5
"""Pictures outside these sides hold no counter that a person could read."""

LIKELY: Final = 0.35
"""Mean probability over the surveyed pictures from which a cell is text."""

MOST_LINES: Final = 14


class TextLine(NamedTuple):
    """A line of text, pixels of the frame; ``cap_px`` is the height of its digits."""

    left_px: float
    right_px: float
    middle_px: float
    cap_px: float

    def near(self, other: TextLine) -> bool:
        """Whether both are the same line of the overlay, seen twice."""
        return (
            abs(self.middle_px - other.middle_px) < 0.35 * max(self.cap_px, other.cap_px)
            and self.left_px < other.right_px
            and other.left_px < self.right_px
            and 0.6 < self.cap_px / other.cap_px < 1.67
        )


class Survey:
    """Text maps of several pictures, averaged: overlay text stays, the pipe moves on."""

    def __init__(self) -> None:
        self.count = 0
        self._text: NDArray[np.float32] | None = None
        self._tall: NDArray[np.float32] | None = None
        self._scale = 1.0

    def add(self, luma: NDArray[np.uint8]) -> None:
        """Take in one picture."""
        height, width = luma.shape
        if min(height, width) < LEAST_PX or max(height, width) > MOST_PX:
            return
        self._scale = min(SURVEY_PX / min(height, width), LARGEST_SCALE)
        sides = [max(64, round(side * self._scale / STEP_PX) * STEP_PX) for side in (width, height)]
        shrink = self._scale < 1
        seen = cv2.resize(
            luma, tuple(sides), interpolation=cv2.INTER_AREA if shrink else cv2.INTER_LINEAR
        )
        text, tall = text_maps(np.asarray(seen, dtype=np.uint8))
        if self._text is None or self._tall is None or self._text.shape != text.shape:
            self._text, self._tall, self.count = text, tall * text, 1
            return
        self._text = self._text + text
        self._tall = self._tall + tall * text
        self.count += 1

    def lines(self) -> list[TextLine]:
        """Return the lines found so far, the likeliest first."""
        if self._text is None or self._tall is None:
            return []
        text = self._text / np.float32(self.count)
        tall = self._tall / np.maximum(self._text, 1e-6)
        count, marks, boxes, _ = cv2.connectedComponentsWithStats(
            (text > LIKELY).astype(np.uint8), connectivity=4
        )
        found: list[tuple[float, TextLine]] = []
        for mark in range(1, count):
            left, top, width, height, _ = (int(v) for v in boxes[mark])
            here = (marks[top : top + height, left : left + width] == mark) * text[
                top : top + height, left : left + width
            ]
            weight = float(here.sum())
            rows = np.arange(top, top + height) + 0.5
            middle = float((here.sum(axis=1) * rows).sum() / weight)
            cap = float((here * tall[top : top + height, left : left + width]).sum() / weight)
            cell = STEP_PX / self._scale
            line = TextLine(left * cell, (left + width) * cell, middle * cell, cap / self._scale)
            if line.right_px - line.left_px > 1.1 * line.cap_px:
                found.append((weight, line))
        found.sort(key=lambda pair: -pair[0])
        return _joined([line for _, line in found[:MOST_LINES]])


def _joined(lines: list[TextLine]) -> list[TextLine]:
    """Join pieces of one line that stand close beside each other."""
    lines = sorted(lines, key=lambda line: line.left_px)
    done: list[TextLine] = []
    for line in lines:
        for at, before in enumerate(done):
            level = abs(before.middle_px - line.middle_px) < 0.4 * min(before.cap_px, line.cap_px)
            gap = line.left_px - before.right_px
            if level and gap < 2.0 * before.cap_px and 0.7 < before.cap_px / line.cap_px < 1.4:
                wide = (before.right_px - before.left_px, line.right_px - line.left_px)
                cap = float(np.average([before.cap_px, line.cap_px], weights=wide))
                middle = float(np.average([before.middle_px, line.middle_px], weights=wide))
                right = max(before.right_px, line.right_px)
                done[at] = TextLine(before.left_px, right, middle, cap)
                break
        else:
            done.append(line)
    return done


class Window(NamedTuple):
    """The part of a frame that is cut out and scaled to a strip."""

    left_px: int
    top_px: int
    right_px: int
    bottom_px: int
    strip_width_px: int

    @property
    def scale(self) -> float:
        """Strip pixels to a frame pixel."""
        return self.strip_width_px / max(1, self.right_px - self.left_px)


def window(line: TextLine, left_px: float, right_px: float) -> Window:
    """Return the window for the stretch ``left_px..right_px`` of a line."""
    half = 0.5 * line.cap_px / DIGIT_SHARE
    top, bottom = round(line.middle_px - half), round(line.middle_px + half)
    bottom = max(bottom, top + 4)
    left, right = round(left_px), max(round(right_px), round(left_px) + 8)
    width = (right - left) * STRIP_PX / (bottom - top)
    return Window(left, top, right, bottom, max(32, round(width / 16) * 16))


def cut(luma: NDArray[np.uint8], place: Window) -> NDArray[np.uint8]:
    """Return the strip (32, w); what lies beyond the frame repeats its edge."""
    height, width = luma.shape
    part = luma[
        max(0, place.top_px) : max(0, place.bottom_px),
        max(0, place.left_px) : max(0, place.right_px),
    ]
    if part.size == 0:
        return np.zeros((STRIP_PX, place.strip_width_px), np.uint8)
    lack = (
        max(0, -place.top_px),
        max(0, place.bottom_px - height),
        max(0, -place.left_px),
        max(0, place.right_px - width),
    )
    if any(lack):
        part = cv2.copyMakeBorder(part, *lack, cv2.BORDER_REPLICATE)
    shrink = part.shape[0] > STRIP_PX
    how = cv2.INTER_AREA if shrink else cv2.INTER_LINEAR
    return np.asarray(
        cv2.resize(part, (place.strip_width_px, STRIP_PX), interpolation=how), np.uint8
    )

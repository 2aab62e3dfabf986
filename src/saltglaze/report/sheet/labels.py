"""Label placement: spread along a line, or beside points in a frame, never overlapping."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from saltglaze.report.sheet.scene import Box, Point


def spread(
    wanted: Sequence[float], sizes: Sequence[float], low: float, high: float
) -> tuple[float, ...] | None:
    """Return label centres on a line from ``low`` to ``high``, order kept, none touching.

    Least sum of squared shifts from ``wanted`` (ascending), found by pooling adjacent
    blocks: the isotonic-regression argument applied to centres less the room taken
    before them (Ayer et al. 1955, pool-adjacent-violators; from memory). ``None`` where
    the labels together are longer than the line.
    """
    if not wanted:
        return ()
    if sum(sizes) > high - low:
        return None
    before = [0.0]
    for first, second in pairwise(sizes):
        before.append(before[-1] + (first + second) / 2.0)
    blocks: list[tuple[float, int]] = []
    for want, room in zip(wanted, before, strict=True):
        blocks.append((want - room, 1))
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            (mean_b, n_b), (mean_a, n_a) = blocks.pop(), blocks.pop()
            blocks.append(((mean_a * n_a + mean_b * n_b) / (n_a + n_b), n_a + n_b))
    floor = low + sizes[0] / 2.0
    ceiling = high - sizes[-1] / 2.0 - before[-1]
    flat = [min(max(mean, floor), ceiling) for mean, count in blocks for _ in range(count)]
    return tuple(value + room for value, room in zip(flat, before, strict=True))


class Frame:
    """Room for labels in a frame: keeps what is taken, finds the nearest free place."""

    def __init__(self, box: Box, taken: Iterable[Box] = ()) -> None:
        self.box = box
        self.taken: list[Box] = list(taken)

    def free(self, box: Box, gap: float = 0.3) -> bool:
        """Whether a box lies inside the frame and clear of all that is taken."""
        return box.inside(self.box) and not any(box.overlaps(other, gap) for other in self.taken)

    def take(self, box: Box) -> None:
        """Mark a box as taken."""
        self.taken.append(box)

    def place(
        self, anchor: Point, width: float, height: float, reach: float = 14.0, near: float = 1.2
    ) -> Box | None:
        """Take and return the free box nearest to ``anchor``, or ``None`` within ``reach``.

        Boxes are tried on rings of growing distance, right and upper places first, as a
        draughtsman letters a point.
        """
        distance = near
        while distance <= reach:
            for angle in _ANGLES:
                box = _beside(anchor, angle, distance, width, height)
                if self.free(box):
                    self.take(box)
                    return box
            distance += max(0.8, distance * 0.18)
        return None

    def place_anywhere(self, anchor: Point, width: float, height: float) -> Box | None:
        """Take and return the nearest free box in the whole frame, ``None`` if it is full."""
        found = self.place(anchor, width, height, reach=40.0)
        if found is not None:
            return found
        spots: list[tuple[float, Box]] = []
        y = self.box.top
        while y + height <= self.box.bottom:
            x = self.box.left
            while x + width <= self.box.right:
                box = Box(x, y, x + width, y + height)
                spots.append((math.dist(box.middle, anchor), box))
                x += width * 0.6
            y += height * 0.6
        for _, box in sorted(spots):
            if self.free(box):
                self.take(box)
                return box
        return None


_ANGLES = tuple(math.radians(a) for a in (-50, -130, 50, 130, -90, 90, 0, 180, -25, 155, -155, 25))


def _beside(anchor: Point, angle: float, distance: float, width: float, height: float) -> Box:
    """Return the box whose nearest edge lies ``distance`` from the anchor along an angle."""
    dx, dy = math.cos(angle), math.sin(angle)
    x = anchor[0] + dx * distance + (dx * width / 2 if abs(dx) > 0.2 else 0.0)
    y = anchor[1] + dy * distance + (dy * height / 2 if abs(dy) > 0.2 else 0.0)
    x += math.copysign(width / 2 * (1 - abs(dx)), dx) if abs(dx) > 0.2 else 0.0
    y += math.copysign(height / 2 * (1 - abs(dy)), dy) if abs(dy) > 0.2 else 0.0
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def nearest_edge(box: Box, point: Point) -> Point:
    """Return the point of a box's rim nearest to a point outside, for a leader line."""
    return (
        min(max(point[0], box.left), box.right),
        min(max(point[1], box.top), box.bottom),
    )

"""From the decoder's picture to the one a person sees: one field, square pixels, upright."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import av
import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.uint8]

PLANAR_LUMA = frozenset(
    {"yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p", "nv12", "nv21", "gray"}
    | {"yuv411p", "yuvj411p", "yuv410p", "yuva420p", "yuv440p", "yuvj440p"}
)
"""Pixel formats whose first plane is eight-bit luma."""

TELEVISION = {(720, 576), (720, 480), (704, 576), (704, 480), (720, 486), (352, 576), (352, 480)}
"""Sizes of standard-definition captures, 4:3 where the file says nothing else
(ITU-R BT.601 sampling; common practice of recorders)."""


@dataclass(frozen=True)
class Shape:
    """How the pictures of one film are turned into upright, square-pixel ones.

    ``width_px`` and ``height_px`` are of the result; ``quarter_turns`` are
    counter-clockwise; ``field`` takes every other line of an interlaced picture.
    """

    width_px: int
    height_px: int
    quarter_turns: int = 0
    field: bool = False

    def apply(self, picture: Plane) -> Plane:
        """Return a decoded plane or RGB picture in the film's shape."""
        lines = picture[::2] if self.field else picture
        turned = self.quarter_turns % 2 == 1
        size = (self.height_px, self.width_px) if turned else (self.width_px, self.height_px)
        if (lines.shape[1], lines.shape[0]) != size:
            shrinks = lines.shape[1] > size[0] or lines.shape[0] > size[1]
            how = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
            lines = np.asarray(cv2.resize(lines, size, interpolation=how), dtype=np.uint8)
        if self.quarter_turns:
            lines = np.ascontiguousarray(np.rot90(lines, self.quarter_turns))
        return lines


def shape_of(frame: av.VideoFrame, aspect: Fraction | None) -> Shape:
    """Return the shape of a film from its first picture and its pixel aspect, if stated."""
    width, height = frame.width, frame.height
    if not aspect or not Fraction(1, 8) < aspect < 8:
        aspect = Fraction(1)
    if aspect == 1 and (width, height) in TELEVISION:
        aspect = Fraction(4 * height, 3 * width)
    square = max(2 * round(width * aspect / 2), 2)
    turns = round(_rotation(frame) / 90) % 4
    size = (height, square) if turns % 2 else (square, height)
    return Shape(size[0], size[1], turns, bool(frame.interlaced_frame))


def luma_of(frame: av.VideoFrame) -> Plane:
    """Return the luma of a picture, (height, width), without conversion where it can be had.

    The plane's lines may be longer than the picture is wide (``line_size``).
    """
    if frame.format.name not in PLANAR_LUMA:
        return np.asarray(frame.reformat(format="gray").to_ndarray(), dtype=np.uint8)
    plane = frame.planes[0]
    rows = np.frombuffer(plane, dtype=np.uint8, count=plane.line_size * plane.height)
    return rows.reshape(plane.height, plane.line_size)[:, : frame.width]


def rgb_of(frame: av.VideoFrame) -> Plane:
    """Return a picture as (height, width, 3) RGB."""
    return np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8)


def _rotation(frame: av.VideoFrame) -> int:
    try:
        return int(frame.rotation)
    except (ValueError, ArithmeticError):  # a display matrix that is no rotation
        return 0

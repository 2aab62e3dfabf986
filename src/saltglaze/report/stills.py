"""Stills made ready for paper: read, turned only if asked, shrunk, and never trusted."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from saltglaze.report.blocks import Picture

MOST_BYTES = 5_500_000
"""Room for all pictures together, so that a report stays under eight megabytes."""
_WIDEST_PX = 640
"""Twice the width on the page and 300 dots an inch on paper; half of 1280, which a JPEG
reader decodes at once."""
_NARROWEST_PX = 240
_LARGEST_PIXELS = 40_000_000
_ORIENTATION = 0x0112


def width_for(count: int) -> int:
    """Return the width in pixels at which so many stills stay within the room."""
    each = MOST_BYTES / max(count, 1)
    width = int((each / 0.20) ** 0.5 * (16 / 9) ** 0.5)
    return max(_NARROWEST_PX, min(_WIDEST_PX, width))


def picture(folder: Path, relative: str, alt: str, width_px: int) -> Picture | str:
    """Return a still as a small JPEG, or a reason key where it cannot be shown.

    Reasons: ``outside`` (the path leaves the folder), ``missing``, ``unreadable``.
    """
    root = folder.resolve()
    path = (root / relative).resolve()
    if not path.is_relative_to(root):
        return "outside"
    if not path.is_file():
        return "missing"
    try:
        return _picture(path, alt, width_px)
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, Image.DecompressionBombError):
        return "unreadable"


def _picture(path: Path, alt: str, width_px: int) -> Picture:
    with Image.open(path) as opened:
        if opened.width * opened.height > _LARGEST_PIXELS:
            raise ValueError("picture too large")
        if opened.width == opened.height:
            width_px = width_px * 3 // 4  # as many pixels as a 16 to 9 picture has
        opened.draft("RGB", (width_px, width_px))
        turned = opened.getexif().get(_ORIENTATION, 1) != 1
        upright = ImageOps.exif_transpose(opened) if turned else opened
        upright = upright if upright.mode == "RGB" else upright.convert("RGB")
        if upright.width > width_px:
            height = max(1, round(upright.height * width_px / upright.width))
            upright = upright.resize((width_px, height), Image.Resampling.BILINEAR)
        buffer = io.BytesIO()
        upright.save(buffer, "JPEG", quality=78)
        return Picture(buffer.getvalue(), alt, square=upright.width == upright.height)

from __future__ import annotations

import numpy as np
import pytest

from saltglaze.demo.glyphs import CHARACTERS, FONTS, font
from saltglaze.demo.overlay import burn, clock_text
from saltglaze.demo.script import Corner, Label, Overlay, TextStyle


@pytest.mark.parametrize("name", sorted(FONTS))
def test_every_font_has_every_sign_and_tells_the_digits_apart(name):
    face = font(name)
    assert set(CHARACTERS) <= set(face.masks)
    heights = {m.shape[0] for m in face.masks.values()}
    assert len(heights) == 1
    digits = [face.line(d, 28)[0].astype(float) for d in "0123456789"]
    width = max(d.shape[1] for d in digits)
    padded = [np.pad(d, ((0, 0), (0, width - d.shape[1]))) for d in digits]
    for a in range(10):
        assert padded[a].max() > 200
        for b in range(a):
            assert np.abs(padded[a] - padded[b]).mean() > 3.0


@pytest.mark.parametrize("name", sorted(FONTS))
@pytest.mark.parametrize("size", [14, 28, 45])
def test_digits_are_as_high_as_asked(name, size):
    mask, top, bottom = font(name).line("8", size)
    rows = np.flatnonzero(mask.max(axis=1) > 100)
    slack = size * 0.5 if font(name).hard else max(0.12 * size, 2)
    assert rows[-1] - rows[0] + 1 == pytest.approx(size, abs=slack)
    assert top <= rows[0] + 2
    assert bottom >= rows[-1] - 2


@pytest.mark.parametrize("corner", list(Corner))
@pytest.mark.parametrize("style", list(TextStyle))
def test_the_counter_stands_in_its_corner(script, corner, style):
    overlay = Overlay(corner=corner, style=style, size_px=24, margin_px=20)
    picture = np.full((480, 640, 3), 90, np.uint8)
    box = burn(picture, script(overlay=overlay), 12.34, 0.0)
    assert box is not None
    changed = np.abs(picture.astype(int) - 90).max(axis=2) > 40
    rows, columns = np.nonzero(changed)
    assert abs(rows.min() - box.top_px) <= 14
    assert abs(rows.max() + 1 - box.top_px - box.height_px) <= 16
    inside = changed[
        box.top_px : box.top_px + box.height_px, box.left_px : box.left_px + box.width_px
    ]
    assert inside.mean() > 0.15
    assert (rows.mean() < 240) == corner.value.startswith("top")
    if corner.value.endswith("left"):
        assert columns.mean() < 320
    if corner.value.endswith("right"):
        assert columns.mean() > 320


def test_labels_are_burned_in_beside_the_counter(script):
    overlay = Overlay(shown=False, labels=(Label("{clock}", Corner.TOP_LEFT),))
    picture = np.zeros((240, 320, 3), np.uint8)
    assert burn(picture, script(overlay=overlay), 0.0, 61.0) is None
    assert picture[:100, :200].max() > 200
    assert clock_text("10:12:00", 61.0) == "10:13:01"

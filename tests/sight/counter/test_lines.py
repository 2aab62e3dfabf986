"""Lines of text are found where they were burned in."""

from __future__ import annotations

import numpy as np
import pytest

from saltglaze.demo.script import Corner, Label, Overlay
from saltglaze.sight.counter.lines import Survey, TextLine, cut, window


@pytest.mark.parametrize(
    ("size", "cap_px"), [((320, 240), 12), ((640, 480), 24), ((1280, 720), 40)]
)
def test_every_line_is_found_with_its_height(size, cap_px, film_of):
    overlay = Overlay(size_px=cap_px, margin_px=30, labels=(Label("RUN 03", Corner.TOP_LEFT),))
    survey = Survey()
    for frame in film_of(overlay, lambda t: 3 + t, seconds=1, size=size):
        survey.add(frame.luma)
    below = [line for line in survey.lines() if line.middle_px > size[1] / 2]
    above = [line for line in survey.lines() if line.middle_px < size[1] / 2]
    assert len(below) == len(above) == 1
    assert below[0].middle_px == pytest.approx(size[1] - 30 - cap_px / 2, abs=0.2 * cap_px)
    assert below[0].cap_px == pytest.approx(cap_px, rel=0.25)
    assert below[0].right_px == pytest.approx(size[0] - 30, abs=0.8 * cap_px)


def test_a_picture_of_noise_has_no_lines():
    survey = Survey()
    draw = np.random.default_rng(1)
    for _ in range(3):
        survey.add(draw.integers(0, 255, (480, 640)).astype(np.uint8))
    assert survey.lines() == []


def test_a_window_beyond_the_frame_repeats_the_edge():
    luma = np.arange(100, dtype=np.uint8)[:, None].repeat(200, axis=1)
    strip = cut(luma, window(TextLine(150, 230, 95, 20), 140, 240))
    assert strip.shape[0] == 32
    assert strip.max() == 99


def test_a_window_outside_the_frame_is_blank():
    strip = cut(np.full((50, 50), 9, np.uint8), window(TextLine(300, 400, 25, 12), 300, 400))
    assert strip.shape[0] == 32
    assert not strip.any()

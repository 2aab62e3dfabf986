from __future__ import annotations

import numpy as np
import pytest

from saltglaze.media.colour import colour_frame
from saltglaze.media.film import Film


@pytest.mark.parametrize(
    ("ending", "codec"), [("mp4", "h264"), ("avi", "mjpeg"), ("mpg", "mpeg2video")]
)
@pytest.mark.parametrize("number", [0, 7, 12, 29])
def test_the_picture_of_a_moment_is_the_one_on_the_screen(
    tmp_path, clip, number_shown, ending, codec, number
):
    path = clip(tmp_path / f"a.{ending}", codec=codec, count=30, key_every=8)
    rgb = colour_frame(path, number / 25 + 0.015)
    assert rgb.shape == (240, 320, 3)
    assert number_shown(rgb[..., 1]) == number % 14


def test_after_the_end_stands_the_last_picture(tmp_path, clip, number_shown):
    rgb = colour_frame(clip(tmp_path / "a.mp4", count=20), 99.0)
    assert number_shown(rgb[..., 1]) == 19 % 14


def test_colours_are_red_green_blue(tmp_path):
    from saltglaze.media.encode import FilmWriter

    path = tmp_path / "a.mp4"
    with FilmWriter(path, width_px=160, height_px=120, fps=25, crf=10) as film:
        film.picture(np.full((120, 160, 3), (200, 40, 20), np.uint8), 0.0)
    mean = colour_frame(path, 0.0).reshape(-1, 3).mean(axis=0)
    assert mean == pytest.approx([200, 40, 20], abs=8)


def test_geometry_is_that_of_the_luma(tmp_path, clip):
    path = clip(tmp_path / "a.avi", codec="mpeg2video", size=(720, 576), count=3)
    luma = next(iter(Film(path).frames())).luma
    rgb = colour_frame(path, 0.0)
    assert rgb.shape[:2] == luma.shape
    # Grey pictures: green is luma, but for the step from studio to full range.
    assert np.corrcoef(rgb[..., 1].ravel(), luma.ravel())[0, 1] > 0.99

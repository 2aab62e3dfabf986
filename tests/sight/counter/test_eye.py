"""The eye on cheap pictures with the demo's lettering, and on real ones."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import cv2
import numpy as np
import pytest

from saltglaze.demo.script import Corner, Label, Overlay, Recorder, TextStyle
from saltglaze.model.frame import Frame
from saltglaze.model.run import LengthUnit
from saltglaze.sight.counter import CounterEye

PICTURES = Path(__file__).parents[4] / "shared" / "pictures"
AROUND = (
    Label("{clock}", Corner.TOP_LEFT),
    Label("2031-04-17", Corner.TOP_LEFT, 1),
    Label("14.2 BAR", Corner.TOP_RIGHT),
    Label("LINE 4", Corner.BOTTOM_LEFT),
)
FOOT_M = 0.3048


def advancing(time_s):
    return 3.0 + 0.12 * time_s


def track_of(frames, **kind):
    eye = CounterEye(**kind)
    for frame in frames:
        eye.feed(frame)
    return eye.finish()


def share_right(track, overlay, counter_m):
    """Share of readings that say what the overlay showed, to the last digit."""
    worth = FOOT_M if track.unit is LengthUnit.FEET else 1.0
    right = [
        abs(
            r.distance_m / worth
            - float(re.search(r"[-+]?[\d.]+", overlay.text(counter_m(r.time_s))).group())
        )
        < 0.01 * 10**-overlay.decimals
        for r in track.readings
    ]
    return np.mean(right)


OVERLAYS = {
    "outlined, white": Overlay(),
    "boxed, top left": Overlay(font="mono_bold", style=TextStyle.BOXED, corner=Corner.TOP_LEFT),
    "pixel, yellow, metres": Overlay(
        font="dots",
        colour=(255, 255, 0),
        unit=LengthUnit.METRES,
        unit_text="m",
        decimals=2,
        digits=4,
        corner=Corner.BOTTOM_LEFT,
    ),
    "stroke, foot mark": Overlay(font="stroke", unit_text="'", space_before_unit=False),
    "black on light box": Overlay(
        font="sans", colour=(0, 0, 0), ground=(235, 235, 235), style=TextStyle.BOXED
    ),
    "segments": Overlay(font="seven", digits=4, corner=Corner.TOP_RIGHT),
    "prefixed": Overlay(font="grotesque", prefix="DIST: "),
    "signed": Overlay(font="bitmap", sign=True, digits=3),
}


@pytest.mark.parametrize("overlay", OVERLAYS.values(), ids=OVERLAYS.keys())
def test_reads_counters_of_many_looks(overlay, film_of):
    overlay = dataclasses.replace(
        overlay, labels=tuple(lb for lb in AROUND if lb.corner is not overlay.corner)
    )
    track = track_of(film_of(overlay, advancing, seconds=6))
    assert len(track.readings) == 30
    assert share_right(track, overlay, advancing) == 1.0
    assert track.unit is overlay.unit
    assert track.resolution_m == pytest.approx(
        (FOOT_M if overlay.unit is LengthUnit.FEET else 1.0) * 10**-overlay.decimals
    )
    assert track.resets == ()
    assert track.unread_because is None


def test_says_where_the_counter_stands(film_of):
    overlay = Overlay(size_px=24, margin_px=30, corner=Corner.BOTTOM_RIGHT)
    box = track_of(film_of(overlay, advancing, seconds=4)).box
    assert 430 < box.top_px + box.height_px / 2 < 450
    assert 24 <= box.height_px <= 48
    assert 440 < box.left_px < 520
    assert 540 < box.left_px + box.width_px < 620


def test_reads_a_small_fringed_analogue_picture(film_of):
    recorder = Recorder(chroma_shift_px=3, ghost=0.15, bleed_px=2.0, line_noise=3)
    overlay = Overlay(font="dots_plain", size_px=14, digits=4, unit_text="'", labels=AROUND[:2])
    track = track_of(
        film_of(overlay, advancing, size=(320, 240), recorder=recorder, quality=40, seconds=8)
    )
    assert share_right(track, overlay, advancing) > 0.95


def test_a_reset_is_told_and_followed(film_of):
    def law(time_s):
        return advancing(time_s) if time_s < 4 else 0.12 * (time_s - 4)

    overlay = Overlay(labels=AROUND)
    track = track_of(film_of(overlay, law, seconds=9))
    (reset,) = track.resets
    assert reset.time_s == pytest.approx(4.0, abs=0.25)
    assert reset.after_m == pytest.approx(0.0, abs=0.1)
    assert share_right(track, overlay, law) == 1.0


def test_frames_without_the_overlay_give_no_raw_reading_and_less_confidence(film_of):
    def there(time_s):
        return Overlay(labels=AROUND, shown=not 4 < time_s < 6)

    track = track_of(film_of(there, advancing, seconds=10))
    gone = [r for r in track.readings if 4.1 < r.time_s < 5.9]
    kept = [r for r in track.readings if r.time_s < 3.9]
    assert gone
    assert all(r.raw is None and r.note == "held" for r in gone)
    assert max(r.confidence for r in gone) < min(r.confidence for r in kept)


def test_a_counter_that_moves_on_the_screen_is_found_again(film_of):
    def there(time_s):
        return Overlay(corner=Corner.TOP if time_s > 8 else Corner.BOTTOM_RIGHT)

    track = track_of(film_of(there, advancing, seconds=20))
    late = [r for r in track.readings if r.time_s > 15]
    assert len(late) > 20
    assert all(r.raw is not None for r in late)


@pytest.mark.parametrize(
    "overlay",
    [Overlay(shown=False), Overlay(shown=False, labels=AROUND)],
    ids=["bare picture", "clock, date, pressure, text"],
)
def test_no_counter_gives_no_distance(overlay, film_of):
    track = track_of(film_of(overlay, advancing, seconds=8))
    assert track.box is None
    assert track.readings == ()
    assert track.unread_because


def test_a_resting_counter_with_a_unit_is_read_and_one_without_is_not_guessed(film_of):
    with_unit = track_of(film_of(Overlay(), lambda _: 3.0, seconds=5))
    assert {r.raw for r in with_unit.readings} == {"9.8"}
    bare = track_of(film_of(Overlay(unit_text=""), lambda _: 3.0, seconds=5))
    assert bare.box is None
    assert "never changes" in bare.unread_because


def test_the_unit_not_shown_is_said_to_be_assumed_or_stated(film_of):
    overlay = Overlay(unit_text="", unit=LengthUnit.METRES)
    assumed = track_of(film_of(overlay, advancing, seconds=5))
    assert "no unit is shown" in assumed.unit_because
    stated = track_of(film_of(overlay, advancing, seconds=5), unit=LengthUnit.METRES)
    assert stated.unit is LengthUnit.METRES
    assert "job states" in stated.unit_because


def test_no_frames_give_a_reason():
    assert CounterEye().finish().unread_because == "the film has no picture"


def test_tiny_and_changing_frame_sizes_do_no_harm():
    eye = CounterEye()
    for number, size in enumerate([(2, 2), (8, 500), (480, 640), (90, 90)]):
        eye.feed(Frame(number * 1.0, np.zeros(size, np.uint8), number))
    assert eye.finish().box is None


real = pytest.mark.skipif(not PICTURES.exists(), reason="the shared pictures are not here")


def still(path, count=6):
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    draw = np.random.default_rng(5)
    for number in range(count):
        noisy = picture + draw.normal(0, 2, picture.shape)
        yield Frame(number * 0.25, np.clip(noisy, 0, 255).astype(np.uint8), number)


@real
@pytest.mark.parametrize(
    "name",
    [
        "lab_195mm_concrete_15cm_nolight_rgb_11-14.png",
        "lab_195mm_concrete_15cm_extlight_rgb_11-16.png",
        "lab_400mm_PVC_30cm_extlight_rgb2_10-03.png",
        "lab_200mm_PVC_15cm_extlight_rgb_11-25.png",
        *(f"coudlabs_frame{k}.png" for k in range(9)),
        "overlay_timestamp_example.jpg",
    ],
)
def test_real_pictures_without_a_counter_give_no_reading(name):
    track = track_of(still(PICTURES / name))
    assert track.box is None
    assert track.readings == ()

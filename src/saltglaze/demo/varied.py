"""Random scripts, each unlike the last, to measure estimators on what they were not tuned on."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.glyphs import FONTS
from saltglaze.demo.laws import BedLaw, CounterLaw, KnotLaw, WaterLaw
from saltglaze.demo.script import (
    Corner,
    Defect,
    FilmScript,
    Label,
    Look,
    Overlay,
    Picture,
    PipeSegment,
    Recorder,
    TextStyle,
    ViewEvent,
    WallDefect,
)
from saltglaze.model.run import LengthUnit
from saltglaze.model.track import ViewState

SIZES = ((1280, 720), (640, 480), (768, 576), (640, 360), (320, 240))
COLOURS = (
    (255, 255, 255),
    (255, 255, 0),
    (250, 240, 120),
    (0, 0, 0),
    (230, 230, 230),
    (80, 255, 80),
)
CORNERS = (Corner.TOP_LEFT, Corner.TOP_RIGHT, Corner.BOTTOM_LEFT, Corner.BOTTOM_RIGHT)
SECTION_M = {Look.CLAY: 0.61, Look.CAST_IRON: 1.52, Look.PVC: 3.05, Look.CONCRETE: 0.91}
KINDS = tuple(kind for kind in Defect if kind is not Defect.OFFSET_JOINT)
LONG = (Defect.CRACK, Defect.FRACTURE, Defect.DEPOSITS, Defect.GREASE)
"""These run along the pipe; the others sit at a station."""

WORDS = (
    "LINE 4 UPSTREAM",
    "INVENTED ROW 12",
    "LATERAL",
    "6IN CLAY",
    "CREW 2",
    "RUN 03",
    "14.2 BAR",
)


def varied_script(seed: int, duration_s: float = 20.0) -> FilmScript:
    """Return a script drawn from a seed: another font, place, noise, roll, water, wall."""
    draw = np.random.default_rng([seed, 2024])
    width, height = SIZES[int(draw.choice(len(SIZES), p=[0.4, 0.2, 0.1, 0.2, 0.1]))]
    fps = float(draw.choice([12.5, 25.0, 30.0]))
    station = _station(draw, duration_s)
    length = float(station.at(np.linspace(0, duration_s, 200)).max()) + 6.0
    segments = _segments(draw, length)
    analogue = (width, height) in SIZES[1:3] + SIZES[4:] and draw.random() < 0.6
    events = _events(draw, duration_s)
    pale = any(s.look in (Look.PVC, Look.CONCRETE) for s in segments)
    burnt = any(e.state in (ViewState.GLARE, ViewState.FOGGED) for e in events)
    overlay = _overlay(draw, height, plain=not (pale or burnt))
    radius = segments[0].diameter_m / 2
    water = _water(draw, length)
    return FilmScript(
        duration_s=duration_s,
        station=station,
        segments=segments,
        fps=fps,
        width_px=width,
        height_px=height,
        stored_width_px=720 if width == 768 else None,
        seed=seed,
        roll_deg=_roll(draw, duration_s),
        yaw_deg=_turns(draw, duration_s, 22.0),
        pitch_deg=_turns(draw, duration_s, 14.0),
        lens_height_m=None if draw.random() < 0.3 else float(radius * draw.uniform(0.7, 1.05)),
        lens_side_m=float(draw.normal(0, 0.05) * radius),
        water=water,
        bed=_bed(np.random.default_rng([seed, 2025]), length),
        defects=drawn_defects(draw, KINDS, (0.5, length), apart_m=2.5),
        counter=_counter(draw, duration_s),
        overlay=overlay,
        recorder=_recorder(draw, width == 768) if analogue else Recorder(),
        picture=_picture(draw),
        events=events,
        bitrate=int(width * height * fps * draw.uniform(0.05, 0.16)),
        started="{:02d}:{:02d}:{:02d}".format(*draw.integers((7, 0, 0), (18, 60, 60))),
    )


def _station(draw: np.random.Generator, duration_s: float) -> KnotLaw:
    """Return pushes, pauses and reversals at invented but usual speeds (0.03 to 0.25 m/s)."""
    at_s, at_m = 0.0, float(draw.uniform(0.3, 4.0))
    knots = [(at_s, at_m)]
    while at_s < duration_s:
        kind = draw.choice(["push", "pause", "back"], p=[0.62, 0.26, 0.12])
        lasts = float(draw.uniform(1.5, 6.0))
        speed = {
            "push": float(draw.uniform(0.03, 0.25)),
            "pause": 0.0,
            "back": -float(draw.uniform(0.03, 0.15)),
        }[str(kind)]
        at_m = max(at_m + speed * lasts, 0.05)
        at_s += lasts
        knots.append((at_s, at_m))
    return KnotLaw(tuple(knots))


def _segments(draw: np.random.Generator, length_m: float) -> tuple[PipeSegment, ...]:
    looks = list(Look)
    cuts = sorted(draw.uniform(1.0, length_m - 1.0, int(draw.choice([0, 1], p=[0.6, 0.4]))))
    edges = [0.0, *cuts, length_m]
    diameter = float(draw.choice([0.1, 0.15, 0.2], p=[0.55, 0.35, 0.1]))
    made = []
    for start, end in pairwise(edges):
        look = looks[int(draw.choice(4, p=[0.45, 0.2, 0.2, 0.15]))]
        section = SECTION_M[look] * float(draw.choice([1.0, 1.5]))
        made.append(
            PipeSegment(
                start, end, look, diameter, section, 0.01 * section, tint=float(draw.uniform(-1, 1))
            )
        )
    return tuple(made)


def _overlay(draw: np.random.Generator, height_px: int, plain: bool) -> Overlay:
    """Return a counter's look; text without outline or box only where the ground is dark."""
    corners = list(draw.permutation(len(CORNERS)))
    labels = []
    if draw.random() < 0.6:
        labels.append(Label("{clock}", CORNERS[corners[1]]))
    if draw.random() < 0.5:
        labels.append(Label("2026-04-17", CORNERS[corners[1]], 1))
    if draw.random() < 0.6:
        labels.append(Label(str(draw.choice(WORDS)), CORNERS[corners[2]]))
    colour = COLOURS[int(draw.choice(len(COLOURS), p=[0.45, 0.2, 0.1, 0.1, 0.1, 0.05]))]
    dark = sum(colour) < 200
    bare = (TextStyle.PLAIN, TextStyle.SHADOWED)
    style = TextStyle(
        str(draw.choice(["outlined", "boxed", "plain", "shadowed"], p=[0.4, 0.25, 0.2, 0.15]))
    )
    if (dark and style in bare) or (style is TextStyle.PLAIN and not plain):
        style = TextStyle.OUTLINED
    metric = draw.random() < 0.35
    decimals = int(draw.choice([1, 2])) if metric else 1
    unit_text = (
        str(draw.choice(["m", "M", ""])) if metric else str(draw.choice(["ft", "FT", "'", "", "f"]))
    )
    return Overlay(
        font=str(draw.choice(sorted(FONTS))),
        size_px=max(int(height_px * draw.uniform(0.030, 0.060)), 12),
        colour=colour,
        ground=(235, 235, 235) if dark else (0, 0, 0),
        style=style,
        corner=CORNERS[corners[0]],
        margin_px=int(height_px * draw.uniform(0.03, 0.08)),
        unit=LengthUnit.METRES if metric else LengthUnit.FEET,
        decimals=decimals,
        digits=int(draw.choice([0, 0, 3, 4])),
        unit_text=unit_text,
        space_before_unit=bool(draw.random() < 0.6),
        sign=bool(draw.random() < 0.12),
        labels=tuple(labels),
    )


def _counter(draw: np.random.Generator, duration_s: float) -> CounterLaw:
    resets: tuple[tuple[float, float], ...] = ()
    if draw.random() < 0.2:
        resets = ((float(draw.uniform(0.2, 0.8) * duration_s), 0.0),)
    return CounterLaw(
        scale=float(draw.normal(0.99, 0.012)),
        zero_m=float(draw.choice([0.0, draw.uniform(0.0, 2.0), draw.uniform(5.0, 60.0)])),
        slip_m=float(draw.uniform(0.0, 0.08)),
        slip_seed=int(draw.integers(1_000_000)),
        play_m=float(draw.choice([0.0, draw.uniform(0.01, 0.06)])),
        resets=resets,
    )


def _roll(draw: np.random.Generator, duration_s: float) -> KnotLaw:
    kind = draw.choice(["level", "fixed", "slow", "twisting"], p=[0.3, 0.2, 0.3, 0.2])
    if kind == "level":
        times = np.linspace(0, duration_s, max(int(duration_s / 3), 2))
        return KnotLaw(_knots(times, draw.normal(0, 1.2, times.size)))
    start = float(draw.uniform(-180, 180))
    if kind == "fixed":
        return KnotLaw.constant(start)
    step = 4.0 if kind == "slow" else 2.0
    size = 15.0 if kind == "slow" else 50.0
    times = np.arange(0, duration_s + step, step)
    values = start + np.cumsum(draw.normal(0, size, times.size))
    return KnotLaw(_knots(times, values))


def _turns(draw: np.random.Generator, duration_s: float, most_deg: float) -> KnotLaw:
    """Return now and then a turn of the head and back; mostly straight ahead."""
    if draw.random() < 0.75 or duration_s < 10:
        return KnotLaw.constant(0.0)
    begin = float(draw.uniform(1.0, duration_s - 7.0))
    turned = float(draw.choice([-1, 1]) * draw.uniform(0.5, 1.0) * most_deg)
    return KnotLaw(((begin, 0.0), (begin + 1.5, turned), (begin + 3.5, turned), (begin + 5.0, 0.0)))


def _water(draw: np.random.Generator, length_m: float) -> WaterLaw:
    kind = draw.choice(["dry", "flow", "sag"], p=[0.3, 0.4, 0.3])
    if kind == "dry":
        return WaterLaw()
    base = float(draw.uniform(0.03, 0.2))
    if kind == "flow":
        stations = np.linspace(0, length_m, 5)
        shares = np.clip(base + draw.normal(0, 0.02, 5), 0.02, 0.3)
        return WaterLaw(_knots(stations, shares))
    start = float(draw.uniform(0, length_m * 0.6))
    end = start + float(draw.uniform(1.0, 4.0))
    deepest = float(draw.uniform(0.1, 0.45))
    return WaterLaw(
        (
            (start, 0.0),
            (start + 0.3 * (end - start), deepest),
            (end - 0.2 * (end - start), deepest),
            (end, 0.0),
        ),
        standing=((start, end),),
    )


def _bed(draw: np.random.Generator, length_m: float) -> BedLaw:
    """Return, in some lines, a settled bed or the tide mark of older water, or both."""
    kind = draw.choice(["clean", "bed", "tide", "both"], p=[0.5, 0.2, 0.2, 0.1])
    rgb = np.array((96.0, 80.0, 58.0)) * draw.uniform(0.55, 1.6) + draw.normal(0.0, 8.0, 3)
    if kind == "clean":
        return BedLaw()
    base = float(draw.uniform(0.04, 0.2))
    knots: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    if kind != "tide":
        stations = np.linspace(0, length_m, 6)
        shares = np.clip(base + draw.normal(0, 0.02, 6), 0.02, 0.3)
        shares *= draw.random(6) < 0.85  # here and there it is washed away
        knots = _knots(stations, shares)
    stained = kind != "bed"
    return BedLaw(
        knots,
        lean_deg=float(draw.normal(0.0, 2.0)),
        rough=float(draw.uniform(0.3, 1.5)),
        rgb=(float(rgb[0]), float(rgb[1]), float(rgb[2])),
        tide_share=base + float(draw.uniform(0.03, 0.15)) if stained else 0.0,
        tide=float(draw.uniform(0.15, 0.5)) if stained else 0.0,
    )


def drawn_defects(
    draw: np.random.Generator,
    kinds: Sequence[Defect],
    stations_m: tuple[float, float],
    apart_m: float,
    longest_m: float = 0.7,
    largest_m: float = 0.05,
) -> tuple[WallDefect, ...]:
    """Return defects of these kinds, in the mean one in every ``apart_m`` of the line.

    ``stations_m`` are the first station a defect may have and the end of the line.
    """
    first_m, end_m = stations_m
    made = []
    for number in range(int(draw.poisson(end_m / apart_m))):
        kind = kinds[int(draw.integers(len(kinds)))]
        made.append(
            WallDefect(
                kind=kind,
                station_m=float(draw.uniform(first_m, end_m)),
                clock_deg=180.0 if kind is Defect.DEPOSITS else float(draw.uniform(0, 360)),
                extent_deg=float(draw.uniform(15, 120)),
                length_m=float(draw.uniform(0.1, longest_m)) if kind in LONG else 0.05,
                size_m=float(draw.uniform(0.02, largest_m)),
                strength=float(draw.uniform(0.3, 1.0)),
                id=f"d{number}",
            )
        )
    return tuple(made)


def _recorder(draw: np.random.Generator, may_interlace: bool) -> Recorder:
    return Recorder(
        chroma_shift_px=float(draw.uniform(0, 4)),
        ghost=float(draw.choice([0.0, draw.uniform(0.05, 0.25)])),
        bleed_px=float(draw.uniform(0.5, 3.0)),
        interlaced=bool(may_interlace and draw.random() < 0.5),
        line_noise=float(draw.uniform(0, 4)),
        dropouts_per_s=float(draw.choice([0.0, 0.15])),
    )


def _picture(draw: np.random.Generator) -> Picture:
    return Picture(
        focal_share=float(draw.uniform(0.4, 0.6)),
        light=float(draw.uniform(0.75, 1.25)),
        reach_diameters=float(draw.uniform(3.0, 8.0)),
        vignette=float(draw.uniform(0.0, 0.6)),
        noise=float(draw.uniform(0.5, 7.0)),
        blur_px=float(draw.choice([0.0, draw.uniform(0.4, 1.4)])),
        warmth=float(draw.uniform(-0.6, 0.6)),
    )


def _events(draw: np.random.Generator, duration_s: float) -> tuple[ViewEvent, ...]:
    if draw.random() < 0.65:
        return ()
    state = (ViewState.DARK, ViewState.FOULED, ViewState.FOGGED, ViewState.GLARE)[
        int(draw.integers(4))
    ]
    begin = float(draw.uniform(0.0, duration_s * 0.7))
    return (
        ViewEvent(
            state, begin, begin + float(draw.uniform(2.0, 6.0)), float(draw.uniform(0.6, 1.0))
        ),
    )


def _knots(at: NDArray[np.float64], values: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    return tuple((float(t), float(v)) for t, v in zip(at, values, strict=True))

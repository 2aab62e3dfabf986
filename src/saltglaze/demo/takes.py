"""How the invented line was filmed: the long take of the whole line, and a short one for tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from saltglaze.demo import site
from saltglaze.demo.laws import CounterLaw, KnotLaw, WaterLaw
from saltglaze.demo.script import (
    Bend,
    Corner,
    Defect,
    FilmScript,
    Label,
    Look,
    Overlay,
    Picture,
    PipeSegment,
    TextStyle,
    ViewEvent,
    WallDefect,
)
from saltglaze.model.track import ViewState

COUNTER_SCALE = 0.985
"""The rod slips: the counter reads 1.5 % short."""

JOINT = site.IRON_END_M
S = site.CLAY_SECTION_M

DEFECTS: tuple[WallDefect, ...] = (
    WallDefect(Defect.DEPOSITS, 3.2, 110.0, 120.0, 0.45, strength=0.8, id="scale"),
    WallDefect(Defect.FINE_ROOTS, JOINT + 4 * S, 350.0, 80.0, strength=0.7, id="roots_fine"),
    WallDefect(Defect.ROOT_MASS, JOINT + 10 * S, 40.0, 190.0, strength=0.9, id="roots_mass"),
    WallDefect(Defect.OFFSET_JOINT, JOINT + 13 * S, 185.0, size_m=0.013, id="offset"),
    WallDefect(Defect.TAP, 13.40, 270.0, size_m=0.095, id="tap"),
    WallDefect(Defect.FRACTURE, 14.10, 35.0, 16.0, 0.50, id="fracture"),
    WallDefect(Defect.CHIPPED, 18.30 + 2 * S, 140.0, 50.0, id="chipped"),
    WallDefect(Defect.FINE_ROOTS, 18.30 + 13 * S, 5.0, 150.0, strength=1.0, id="roots_street"),
    WallDefect(Defect.CLEAN_OUT, 26.90, 0.0, size_m=0.085, id="opening"),
)
"""What is wrong with the invented line, by station (metres) and clock angle."""

SEGMENTS: tuple[PipeSegment, ...] = (
    PipeSegment(0.0, site.IRON_END_M, Look.CAST_IRON, site.IRON_BORE_M, 1.52),
    PipeSegment(site.IRON_END_M, site.REPAIR[0], Look.CLAY, site.CLAY_BORE_M, S),
    PipeSegment(*site.REPAIR, Look.PVC, site.CLAY_BORE_M, 0.0),
    PipeSegment(site.REPAIR[1], site.line_length_m(), Look.CLAY, site.CLAY_BORE_M, S, tint=-0.3),
)


@dataclass(frozen=True)
class Take:
    """One take: its script, where the lens was when it began, and when locates were made."""

    script: FilmScript
    start_m: float
    located_s: tuple[float, ...]


LONG_WAY: tuple[tuple[float, float], ...] = (
    (0.0, 0.10), (6.0, 0.55), (13.0, 0.55), (30.0, 3.00), (35.0, 3.00), (43.0, 4.10), (50.0, 4.10),
    (64.0, 6.55), (71.0, 6.55), (83.0, 8.55), (89.0, 8.55), (97.0, 10.20), (105.0, 10.20),
    (109.0, 10.70), (110.0, 10.70), (115.0, 10.05), (117.0, 10.05), (128.0, 12.03), (135.0, 12.03),
    (142.0, 13.20), (154.0, 13.20), (158.0, 13.92), (165.0, 13.92), (172.0, 15.00), (177.0, 15.00),
    (192.0, 18.10), (195.0, 18.10), (201.0, 19.33), (207.0, 19.33), (214.0, 20.60), (229.0, 22.40),
    (232.0, 22.40), (241.0, 23.90), (247.0, 24.95), (250.0, 24.95), (257.0, 26.03), (263.0, 26.03),
    (267.0, 26.72), (274.0, 26.72), (281.0, 27.60), (290.0, 27.60),
)  # fmt: skip
"""(time, station) of the lens: pushes, stops to look, one reversal."""

LONG_ROLL: tuple[tuple[float, float], ...] = (
    (0.0, 0.0), (30.0, 6.0), (60.0, 20.0), (95.0, 62.0), (120.0, 95.0), (140.0, 130.0),
    (165.0, 130.0), (200.0, 80.0), (235.0, 40.0), (265.0, 25.0), (290.0, 25.0),
)  # fmt: skip

SHORT_WAY: tuple[tuple[float, float], ...] = (
    (0.0, 9.40), (1.0, 9.40), (4.0, 10.20), (7.0, 10.20), (12.0, 12.03), (15.0, 12.03),
    (19.0, 13.20), (22.0, 13.20), (25.0, 13.92), (28.0, 13.92),
)  # fmt: skip


def _water() -> WaterLaw:
    stations = np.union1d(np.arange(0.0, 35.0, 0.1), [site.SAG[0], site.SAG[1]])
    shares = site.water_share_at(stations)
    knots = tuple((float(s), float(w)) for s, w in zip(stations, shares, strict=True))
    return WaterLaw(knots, standing=(site.SAG,))


def _bends() -> tuple[Bend, ...]:
    first, second = site.bends_m()
    return (Bend(first, 0.25, 22.5, 270.0), Bend(second, 0.25, 22.5, 90.0))


def _overlay(size_px: int) -> Overlay:
    return Overlay(
        font="sans_bold",
        size_px=size_px,
        colour=(255, 255, 255),
        style=TextStyle.OUTLINED,
        corner=Corner.BOTTOM_RIGHT,
        margin_px=size_px,
        unit_text="ft",
        labels=(
            Label("INVENTED LINE - 14 FERRULE LANE", Corner.TOP_LEFT),
            Label("2026-05-14", Corner.TOP_RIGHT),
            Label("{clock}", Corner.TOP_RIGHT, 1),
        ),
    )


def long_take() -> Take:
    """Return the take of the whole line, 290 s of 1280 x 720 at 15 pictures a second."""
    turn = ((143.0, 0.0), (145.0, 16.0), (150.0, 16.0), (152.0, 0.0))
    lift = ((143.0, 0.0), (145.0, 10.0), (150.0, 10.0), (152.0, 0.0))
    script = FilmScript(
        duration_s=290.0,
        station=KnotLaw(LONG_WAY),
        segments=SEGMENTS,
        fps=15.0,
        width_px=1280,
        height_px=720,
        seed=314,
        roll_deg=KnotLaw(LONG_ROLL),
        yaw_deg=KnotLaw(turn),
        pitch_deg=KnotLaw(lift),
        lens_height_m=0.055,
        water=_water(),
        defects=DEFECTS,
        bends=_bends(),
        ends_in_main=True,
        counter=CounterLaw(scale=COUNTER_SCALE, play_m=0.03, resets=((9.0, 0.0),)),
        overlay=_overlay(28),
        picture=Picture(noise=2.5, reach_diameters=7.0, warmth=0.1),
        events=(ViewEvent(ViewState.FOULED, 241.0, 246.0, 0.6),),
        bitrate=1_500_000,
        started="09:41:20",
    )
    return Take(script, 0.10, (68.0, 86.0, 101.0, 131.0, 147.0, 174.5, 204.0, 260.0, 286.0))


def short_take() -> Take:
    """Return 28 s of the line's middle at 640 x 360, for tests."""
    script = FilmScript(
        duration_s=28.0,
        station=KnotLaw(SHORT_WAY),
        segments=SEGMENTS,
        fps=12.5,
        width_px=640,
        height_px=360,
        seed=315,
        roll_deg=KnotLaw(((0.0, 60.0), (10.0, 90.0), (18.0, 130.0), (28.0, 130.0))),
        lens_height_m=0.055,
        water=_water(),
        defects=DEFECTS,
        bends=_bends(),
        ends_in_main=True,
        counter=CounterLaw(scale=COUNTER_SCALE),
        overlay=_overlay(18),
        picture=Picture(noise=2.0, reach_diameters=7.0),
        bitrate=900_000,
        started="09:58:00",
    )
    return Take(script, 9.40, (5.5, 13.5, 20.5, 26.5))

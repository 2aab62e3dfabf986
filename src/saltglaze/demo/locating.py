"""Surface locates as a crew would have taken them, drawn from the truth with seeded noise."""

from __future__ import annotations

import math

import numpy as np

from saltglaze.demo import site
from saltglaze.demo.takes import Take
from saltglaze.model.base import Estimate
from saltglaze.model.ground import FixKind, Locate, Mark, MarkedFeature, PlanPoint, Tie

SONDE_BEHIND_LENS_M = 0.30
ACROSS_SD_M = 0.08
"""How far off the line the strongest signal is marked (invented, for depths below 2 m)."""
DEPTH_SD_SHARE = 0.05
RTK_SD_M = 0.02
TAPE_SD_M = 0.02

TIED_NORTH_OF_M = -7.0
"""Nearer the house than this the crew used two tapes, beyond it the receiver."""


def locates_and_ties(
    take: Take, run_id: str, seed: int = 88
) -> tuple[tuple[Locate, ...], tuple[Tie, ...]]:
    """Return the locates of a take and the taped distances that fix some of them.

    The fourth of a long take was read beside the gas service and lies well off, as
    happens; everything else is noise of the stated size.
    """
    draw = np.random.default_rng(seed)
    locates: list[Locate] = []
    ties: list[Tie] = []
    for number, time_s in enumerate(take.located_s, 1):
        station = float(take.script.station.at(time_s)) - SONDE_BEHIND_LENS_M
        true_point = site.point_at(station)
        bad = len(take.located_s) > 5 and number == 4
        marked = _marked(true_point, 1.3 if bad else 0.0, draw)
        depth = site.ground_at(true_point) - site.invert_at(station) - site.SONDE_ABOVE_INVERT_M
        read = depth * (1 + float(draw.normal(0, DEPTH_SD_SHARE))) - (0.35 if bad else 0.0)
        tied = marked.north_m > TIED_NORTH_OF_M and not bad
        id_ = f"P{number}"
        if tied:
            ties += [_tie(mark, id_, marked, draw) for mark in site.MARKS[:2]]
        counter = float(take.script.counter.at(time_s, take.script.station))
        locates.append(
            Locate(
                id=id_,
                run_id=run_id,
                time_s=time_s,
                counter_m=take.script.overlay.shown_m(counter),
                fix=FixKind.TIES if tied else FixKind.GNSS_RTK,
                point=None if tied else _measured(marked, draw),
                point_sd_m=None if tied else RTK_SD_M,
                depth_m=Estimate.of(round(read, 2), round(DEPTH_SD_SHARE * read, 3)),
                marked=MarkedFeature.PEAK_TOTAL,
                note="signal jumpy, gas marks close by" if bad else "",
            )
        )
    return tuple(locates), tuple(ties)


def _marked(point: PlanPoint, off_m: float, draw: np.random.Generator) -> PlanPoint:
    east, north = draw.normal(0, ACROSS_SD_M, 2)
    return PlanPoint(
        east_m=point.east_m + float(east) - off_m, north_m=point.north_m + float(north)
    )


def _measured(point: PlanPoint, draw: np.random.Generator) -> PlanPoint:
    east, north = draw.normal(0, RTK_SD_M, 2)
    return PlanPoint(
        east_m=round(point.east_m + float(east), 3), north_m=round(point.north_m + float(north), 3)
    )


def _tie(mark: Mark, id_: str, point: PlanPoint, draw: np.random.Generator) -> Tie:
    true_m = math.hypot(point.east_m - mark.point.east_m, point.north_m - mark.point.north_m)
    return Tie(
        mark_id=mark.id,
        point_id=id_,
        distance_m=round(true_m + float(draw.normal(0, TAPE_SD_M)), 2),
    )

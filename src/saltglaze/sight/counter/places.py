"""Places on the picture where numbers stand, and which of them counts distance."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.run import LengthUnit
from saltglaze.sight.counter.lines import TextLine
from saltglaze.sight.counter.words import Number

FASTEST_M_S: Final = 1.5
"""Faster than any camera is pushed or pulled by hand: common practice, no source."""

FOOT_M: Final = 0.3048


class Sighting(NamedTuple):
    """What one sampled frame showed at a place; ``number`` is ``None`` for nothing readable."""

    time_s: float
    number: Number | None


@dataclass
class Place:
    """A stretch of a text line where a number was seen, and all its readings."""

    line: TextLine
    left_px: float
    right_px: float
    sightings: list[Sighting] = field(default_factory=list)

    def fits(self, left_px: float, right_px: float) -> bool:
        """Whether a number at these pixels stands at this place, give or take a digit."""
        slack = 0.3 * self.line.cap_px
        return left_px < self.right_px + slack and right_px > self.left_px - slack

    def note(self, time_s: float, number: Number, left_px: float, right_px: float) -> None:
        """Keep a reading and let the place grow to hold it."""
        if len(self.sightings) < 50:
            self.left_px, self.right_px = min(self.left_px, left_px), max(self.right_px, right_px)
        self.sightings.append(Sighting(time_s, number))

    def miss(self, time_s: float) -> None:
        """Note that nothing was read here."""
        self.sightings.append(Sighting(time_s, None))

    @property
    def seen(self) -> list[tuple[float, Number]]:
        """Times and numbers where one was read."""
        return [(s.time_s, s.number) for s in self.sightings if s.number is not None]

    @property
    def span(self) -> tuple[float, float]:
        """Time of the first and of the last number read."""
        seen = self.seen
        return (seen[0][0], seen[-1][0]) if seen else (0.0, 0.0)

    def forms(self) -> list[int]:
        """Return the possible numbers of digits behind the point, the likeliest first.

        A point is easily lost and seldom made up: a quarter of the weight is enough for it.
        """
        votes: Counter[int] = Counter()
        for _, number in self.seen:
            votes[number.decimals or 0] += round(1000 * number.likely) + 1
        total = sum(votes.values())
        with_point = Counter({d: n for d, n in votes.items() if d > 0})
        if sum(with_point.values()) > 0.25 * total:
            return [d for d, n in with_point.most_common() if n > 0.15 * total] or [
                with_point.most_common(1)[0][0]
            ]
        return [0]

    def decimals(self) -> int:
        """Digits behind the point, as most readings have it."""
        return self.forms()[0]


class Judgement(NamedTuple):
    """How much a place looks like a distance counter, and what it looks like instead."""

    score: float
    moves: bool
    why_not: str


def judge(place: Place) -> Judgement:
    """Judge a place by its readings: share read, form, unit, and how the number moves.

    A distance changes in small steps, both ways or with rests; a clock never rests;
    a number that never changes is a distance only if a unit of length stands by it.
    """
    seen = [(t, n) for t, n in place.seen if n.likely > 0.3]
    if len(seen) < 3:
        return Judgement(0.0, False, "")
    decimals = place.decimals()
    same_form = [(t, n) for t, n in seen if (n.decimals or 0) == decimals]
    share = len(same_form) / max(1, len(place.sightings))
    sure = float(np.median([n.likely for _, n in seen]))
    unit = sum(n.unit_shown for _, n in seen) / len(seen)
    other_word = sum(n.suffixed for _, n in seen) / len(seen)
    times = np.array([t for t, _ in same_form])
    values = np.array([n.value for _, n in same_form], dtype=float) / 10.0**decimals
    if len(values) < 3:
        return Judgement(0.0, False, "")
    moves, smooth, clock = _gait(times, values, 10.0**-decimals)
    score = share * (0.3 + 0.7 * sure) * (0.35 + 0.65 * smooth)
    score *= 1.0 if decimals else 0.35
    score *= 1.0 + 0.5 * (unit > 0.5)
    score *= 0.4 if other_word > 0.6 and unit < 0.2 else 1.0
    if clock:
        return Judgement(0.05 * score, moves, "it changes like a clock")
    if not moves:
        formed = unit > 0.8 or _written_as_counter(same_form)
        if decimals and formed and share > 0.9 and sure > 0.8:
            return Judgement(0.3 * score, False, "")
        return Judgement(0.02 * score, False, "it never changes and shows no unit of length")
    return Judgement(score, True, "")


def _written_as_counter(seen: list[tuple[float, Number]]) -> bool:
    """Whether a number stands alone in its line with a sign or filled up with zeros."""
    alone = sum(not (n.prefixed or n.suffixed) for _, n in seen) > 0.9 * len(seen)
    filled = sum(n.text[0] in "+-" or n.text.startswith("00") for _, n in seen) > 0.9 * len(seen)
    return alone and filled


def _gait(times: np.ndarray, values: np.ndarray, resolution: float) -> tuple[bool, float, bool]:
    """Return whether the number moves, the share of small steps, whether it ticks like a clock."""
    steps, gaps = np.diff(values), np.maximum(np.diff(times), 1e-3)
    limit = np.maximum(1.5 * resolution, FASTEST_M_S / FOOT_M * gaps)
    small = np.abs(steps) <= limit
    smooth = float(small.mean()) if small.size else 0.0
    changed = (steps != 0) & small
    common = Counter(values.tolist()).most_common(1)[0][1]
    moves = int(changed.sum()) >= 2 and common < 0.97 * len(values)
    clock = False
    if times[-1] - times[0] > 6 and len(values) > 12:
        fit = np.polyfit(times, values, 1)
        rest = values - np.polyval(fit, times)
        even = float(np.abs(rest).max()) < max(1.01 * max(resolution, 1e-9), 0.02 * np.ptp(values))
        rate = abs(float(fit[0]))
        clock = even and min(abs(rate - 1.0), abs(rate - 0.01), abs(rate - 100)) < 0.02 * max(
            rate, 0.01
        )
    return moves, smooth, clock


def unit_of_place(place: Place) -> tuple[LengthUnit, str]:
    """Return the counter's unit and what says so."""
    votes = Counter(n.unit for _, n in place.seen if n.unit is not None)
    shown = sum(votes.values())
    if shown > 0.15 * len(place.seen):
        unit, count = votes.most_common(1)[0]
        if unit is not None and count > 0.6 * shown:
            name = "feet" if unit is LengthUnit.FEET else "metres"
            return unit, f"the unit of {name} is shown in {count} of {len(place.seen)} readings"
    if place.decimals() >= 2:
        return LengthUnit.METRES, (
            "no unit is shown; hundredths are usual for metres (common practice, no source)"
        )
    return LengthUnit.FEET, (
        "no unit is shown; taken as feet, the default, since tenths say nothing about the unit: "
        "state the counter's unit in the job if it is metres"
    )

"""Tell the counter's story from the numbers read at every place of the picture."""

from __future__ import annotations

from typing import Final

import numpy as np

from saltglaze.model.run import LengthUnit
from saltglaze.model.track import CounterBox, CounterReading, CounterReset, CounterTrack
from saltglaze.sight.counter.own_digits import relearned
from saltglaze.sight.counter.places import (
    FASTEST_M_S,
    FOOT_M,
    Judgement,
    Place,
    Sighting,
    judge,
    unit_of_place,
)
from saltglaze.sight.counter.settle import Course, settle
from saltglaze.sight.counter.words import Number

LESSONS: Final = 2
"""Times that the film's own digits are learned from the course and read again."""

SURE_COURSE: Final = 0.99
"""With every frame agreeing and the course this sure, there is nothing to learn for."""

LEAST_SCORE: Final = 0.12
"""Score below which a place is no counter."""


def tell(places: list[Place], frames: int, unit: LengthUnit | None) -> CounterTrack:
    """Choose the counter among the places and return its track; or why there is none."""
    judged = sorted(((judge(p), p) for p in places), key=lambda pair: -pair[0].score)
    if not judged or judged[0][0].score < LEAST_SCORE:
        return CounterTrack(unread_because=_why_none(judged, frames))
    chosen = _continued(judged[0][1], [p for j, p in judged[1:] if j.score >= LEAST_SCORE])
    return _track(chosen, unit)


def _why_none(judged: list[tuple[Judgement, Place]], frames: int) -> str:
    if not frames:
        return "the film has no picture"
    reasons = [judgement.why_not for judgement, _ in judged if judgement.why_not]
    if reasons:
        return f"a number is burned in, but {reasons[0]}, so it is not read as a distance"
    return "no number that could be a distance counter was found burned into the picture"


def _continued(best: Place, others: list[Place]) -> list[Place]:
    """Return the places that show the counter one after another, in time order."""
    chosen = [best]
    for other in others:
        start, end = other.span
        alone = all(end <= p.span[0] or start >= p.span[1] for p in chosen)
        if alone and other.decimals() == best.decimals():
            chosen.append(other)
    return sorted(chosen, key=lambda p: p.span)


def _joined(chosen: list[Place]) -> list[Sighting]:
    """Return the sightings of places one after another; each speaks until the next begins."""
    joined: list[Sighting] = []
    for at, place in enumerate(chosen):
        begin = joined[-1].time_s if joined else -np.inf
        if at:
            begin = max(begin, place.span[0] - 1e-6)
        end = chosen[at + 1].span[0] if at + 1 < len(chosen) else np.inf
        joined += [s for s in place.sightings if begin < s.time_s < end]
    return joined


def _track(chosen: list[Place], stated: LengthUnit | None) -> CounterTrack:
    best = max(chosen, key=lambda p: len(p.seen))
    unit, because = unit_of_place(best)
    if stated is not None and "no unit is shown" in because:
        unit, because = stated, "the job states the counter's unit; none is shown"
    unit_m = FOOT_M if unit is LengthUnit.FEET else 1.0
    sightings = _joined(chosen)
    times = np.array([s.time_s for s in sightings])
    shown = [s.number for s in sightings]
    courses = {d: settle(times, shown, d, unit_m / 10**d) for d in best.forms()}
    decimals = max(courses, key=lambda d: courses[d].score)
    course, place_m = courses[decimals], unit_m / 10**decimals
    for _ in range(LESSONS if _in_doubt(shown, course, decimals) else 0):
        learned = relearned(shown, course, decimals)
        if learned is None:
            break
        course = settle(times, learned, decimals, place_m)
    readings, misreads = [], 0
    for at, (time_s, number) in enumerate(zip(times, shown, strict=True)):
        value = int(course.value[at])
        wrong = number is not None and _differs(number, value, decimals)
        misreads += wrong
        sure = float(course.probability[at]) * (1.0 if number else 0.85)
        readings.append(
            CounterReading(
                time_s=float(time_s),
                raw=number.text if number else None,
                distance_m=round(value * place_m, 6),
                confidence=min(0.999, max(0.0, sure)),
                note="misread" if wrong else "" if number else "held",
            )
        )
    resets = _resets(times, course, place_m)
    at_reset = {r.time_s for r in resets}
    readings = [
        r.model_copy(update={"note": "reset"}) if r.time_s in at_reset else r for r in readings
    ]
    return CounterTrack(
        box=_box(best),
        unit=unit,
        unit_because=because,
        resolution_m=place_m,
        readings=tuple(readings),
        resets=resets,
        misreads=misreads,
    )


def _in_doubt(shown: list[Number | None], course: Course, decimals: int) -> bool:
    """Whether any frame disagrees with the course or leaves it unsure."""
    return bool(course.probability.min() < SURE_COURSE) or any(
        number is not None and _differs(number, int(value), decimals)
        for number, value in zip(shown, course.value, strict=True)
    )


def _differs(number: Number, value: int, decimals: int) -> bool:
    """Whether the frame alone would have said another number."""
    return number.decimals != (decimals or None) or number.value != value


def _resets(times: np.ndarray, course: Course, place_m: float) -> tuple[CounterReset, ...]:
    found = []
    for k in range(1, len(times)):
        step = abs(int(course.value[k] - course.value[k - 1])) * place_m
        if step > FASTEST_M_S * (times[k] - times[k - 1]) + 3 * place_m:
            found.append(
                CounterReset(
                    time_s=float(times[k]),
                    before_m=round(float(course.value[k - 1] * place_m), 6),
                    after_m=round(float(course.value[k] * place_m), 6),
                )
            )
    return tuple(found)


def _box(place: Place) -> CounterBox:
    cap = place.line.cap_px
    left, top = max(0, round(place.left_px - cap)), max(0, round(place.line.middle_px - 0.75 * cap))
    return CounterBox(
        left_px=left,
        top_px=top,
        width_px=round(place.right_px + cap) - left,
        height_px=round(place.line.middle_px + 0.75 * cap) - top,
    )

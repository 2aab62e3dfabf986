"""What a sentence says about its things: kinds, grades, places, sizes, states.

Each attribute goes to the nearest thing that can carry it. What fits no thing of the
sentence is loose, and may belong to the thing spoken of before.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from saltglaze.model.finding import Feature
from saltglaze.model.run import Direction
from saltglaze.narration.amounts import Amount
from saltglaze.narration.nearness import nearest
from saltglaze.narration.numbers import Measure
from saltglaze.narration.places import (
    clock_hours,
    give_hours,
    give_sides,
    second_hours,
    second_sides,
)
from saltglaze.narration.qualities import give_courses, give_ground, give_qualities
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import estimate, role
from saltglaze.narration.stations import is_station
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_BEND_KINDS = {11.25: None, 22.5: "1/16", 45.0: "1/8", 60.0: "1/6", 90.0: "1/4"}


def assign(reading: Reading, things: list[Thing], view: Direction | None) -> dict[str, Any]:
    """Give each attribute to its thing, and return the loose ones by field."""
    loose: dict[str, Any] = {}
    second_hours(reading, things)
    second_sides(reading, things)
    live = [thing for thing in things if not thing.reference]
    give_qualities(reading, live, loose)
    give_courses(reading, live, loose)
    give_ground(reading, live, loose)
    give_hours(reading, live, loose, view)
    give_sides(reading, live, loose, view)
    _sizes(reading, live, loose)
    _bends(reading, live, loose)
    _counts(reading, live)
    _joints(reading, live)
    return loose


def _sizes(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    for index, amount in reading.amounts.items():
        if amount.measure in (Measure.CLOCK, Measure.PRESSURE, Measure.FLOW):
            continue
        if amount.measure is Measure.LENGTH and is_station(reading, index):
            continue
        if clock_hours(reading, index) is not None or reading.words[index - 1 : index] == ("not",):
            continue
        able = [(thing, role(reading, index, thing.feature)) for thing in things]
        fitting = [thing for thing, name in able if name]
        thing = nearest(reading, fitting, index, index + 1, describes=False)
        if thing is None:
            loose.setdefault("amounts", []).append((index, amount))
            continue
        fill(thing.fields, role(reading, index, thing.feature) or "", reading, index)


def fill(fields: dict[str, Any], name: str, reading: Reading, index: int) -> None:
    """Put an amount into a field, unless the words filled it before."""
    amount = reading.amounts[index]
    if name == "angle_deg":
        return
    if name == "width_in":
        inch = Amount(Measure.LENGTH, amount.value * 0.0254, unit="in")
        fields.setdefault("width_m", estimate("width_m", inch))
        return
    if name == "width_mm":
        mil = Amount(Measure.LENGTH, amount.value / 1000.0, unit="mm")
        fields.setdefault("width_m", estimate("width_m", mil))
        return
    if name == "diameter_mm":
        nominal = Amount(Measure.LENGTH, amount.value / 1000.0, unit="mm")
        fields.setdefault("diameter_m", estimate("diameter_m", nominal))
        return
    fields.setdefault(name, estimate(name, amount))


def _bends(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    bends = [thing for thing in things if thing.feature in (Feature.BEND, Feature.ANGLED_JOINT)]
    for index, amount in reading.amounts.items():
        if amount.measure is not Measure.ANGLE and not _bare_angle(reading, index, things):
            continue
        thing = nearest(reading, bends, index, index + 1, describes=True)
        if thing is None:
            loose.setdefault("angle", amount)
        else:
            set_angle(thing.feature, thing.fields, amount.value)


def _bare_angle(reading: Reading, index: int, things: Sequence[Thing]) -> bool:
    """Whether a number that closes a remark about nothing but a bend is its angle."""
    amount = reading.amounts[index]
    after = reading.words[index + 1 : index + 2]
    closes = not after or not after[0][0].isalnum()
    bends = bool(things) and all(thing.feature is Feature.BEND for thing in things)
    bare = amount.measure is Measure.NUMBER and amount.value in _BARE_ANGLES
    return bare and closes and bends and index > 0


_BARE_ANGLES = (11.25, 22.0, 22.5, 30.0, 45.0, 60.0, 90.0)


def set_angle(feature: Feature, fields: dict[str, Any], angle: float) -> None:
    """Set the angle of a bend, and its kind where the angle names one."""
    fields.setdefault("angle_deg", estimate("angle_deg", Amount(Measure.ANGLE, angle)))
    kind = _BEND_KINDS.get(22.5 if angle == 22.0 else angle)
    if feature is Feature.BEND and kind:
        fields.setdefault("kind", kind)


_COUNTABLE = frozenset(
    {
        Feature.TAP,
        Feature.CRACK,
        Feature.FRACTURE,
        Feature.HOLE,
        Feature.OFFSET_JOINT,
        Feature.OPEN_JOINT,
        Feature.VERMIN,
        Feature.BEND,
        Feature.INTRUDING_TAP,
        Feature.BREAK,
        Feature.REPAIR,
    }
)


def _joints(reading: Reading, things: Sequence[Thing]) -> None:
    """Count the joints a thing runs over: "over the next three joints"."""
    for index, amount in reading.amounts.items():
        after = set(reading.words[index + 1 : index + 3])
        before = set(reading.words[max(0, index - 3) : index])
        if amount.measure is not Measure.NUMBER or not after & {"joints", "sections"}:
            continue
        if before & _OVER and 1 <= amount.value <= 50:
            over = nearest(reading, things, index, index + 1, describes=False)
            if over is not None:
                over.fields.setdefault("joints", int(amount.value))


_OVER = word_set("attributes", "over")


def _counts(reading: Reading, things: Sequence[Thing]) -> None:
    """Read "two taps", "three cracks": a bare whole number close before a plural."""
    for index, amount in reading.amounts.items():
        if amount.measure is not Measure.NUMBER or amount.fraction or amount.to is not None:
            continue
        if amount.value != int(amount.value) or not 2 <= amount.value <= 20:
            continue
        for thing in things:
            word = reading.words[thing.high - 1]
            plural = word.endswith("s") or word in ("mice", "bellies")
            if thing.feature in _COUNTABLE and 0 < thing.low - index <= 2 and plural:
                thing.fields.setdefault("count", int(amount.value))

"""Places: screen words and clock hours, each to the nearest thing that can have a side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from saltglaze.model.finding import Clock, Feature, ScreenPlace
from saltglaze.model.run import Direction
from saltglaze.narration.amounts import Amount
from saltglaze.narration.nearness import nearest
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import estimate
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import SIDELESS, Thing

CLOCK_SD_H = 0.5
"""Spread of a spoken whole hour; the labels people speak are whole hours."""


def give_sides(
    reading: Reading, things: Sequence[Thing], loose: dict[str, Any], view: Direction | None
) -> None:
    """Give each word of place to its thing, else keep it loose."""
    taken = {index for thing in things for index in thing.tokens}
    for hit in reading.sides:
        if _spans(reading, hit):
            continue
        if set(hit.at) <= taken and not hit.entry.get("all_round"):
            owner = next(t for t in things if set(hit.at) & set(t.tokens))
            if owner.feature in (Feature.BEND, Feature.SAG):
                continue
        able = [thing for thing in things if thing.feature not in SIDELESS]
        thing = nearest(reading, able, hit.start, hit.end, describes=False)
        entry = _meant(reading, hit)
        if thing is not None:
            _place(entry, thing.fields, view)
            if hit.entry.get("all_round") and thing.feature in _ROUND:
                thing.fields.setdefault("kind", "circumferential")
        elif not any(t.feature is Feature.BEND for t in things):
            _place(entry, loose, view)
    covered = {index for hit in reading.sides for index in hit.at} | taken
    named = {t.high for t in things if t.feature not in SIDELESS}
    for index, place in _bare_sides(reading, covered, named):
        able = [thing for thing in things if thing.feature not in SIDELESS]
        thing = nearest(reading, able, index, index + 1, describes=False)
        corner = {"screen": _corner(reading, index, place)}
        if thing is not None and any(hit.end == index for hit in reading.acts("replace")):
            thing.fields["screen"] = place  # "on the left, I mean right"
        elif thing is not None:
            _place(corner, thing.fields, view)
        elif not things:
            _place(corner, loose, view)


def _spans(reading: Reading, hit: Hit) -> bool:
    """Whether a side is only an end of "top to bottom", or of "top and bottom are touching"."""
    words, low, high = reading.words, hit.start, hit.end
    sided = {"left", "right"} & {words[i] for i in hit.at} and len(hit.at) > 1
    if sided:
        return False  # "top to bottom on the right"
    if words[high : high + 2] in _TO_OTHER or words[max(0, low - 2) : low] in _FROM_OTHER:
        return True
    touching = ("and", "bottom", "are")
    return words[high : high + 3] == touching or words[low - 1 : high + 1] == touching


_ENDS = ("top", "bottom", "left", "right", "side")
_TO_OTHER = tuple(("to", end) for end in _ENDS)
_FROM_OTHER = tuple((end, "to") for end in _ENDS)
_ROUND = frozenset({Feature.CRACK, Feature.FRACTURE})
_ALONE = {"left": ScreenPlace.LEFT, "right": ScreenPlace.RIGHT}


def _bare_sides(
    reading: Reading, covered: set[int], named: set[int]
) -> list[tuple[int, ScreenPlace]]:
    """Find "left" or "right" that stand alone between commas: "tap, right, broken in"."""
    found = []
    words = reading.words
    for index, word in enumerate(words):
        if word not in _ALONE or index in covered or index == 0:
            continue
        before = words[index - 1]
        after = words[index + 1] if index + 1 < len(words) else "."
        framed = not before[0].isalnum() or before in (
            "mean",
            "is",
            "on",
            "upper",
            "lower",
            "and",
            "hard",
        )
        if after == "at" and words[index + 2 : index + 3] == ("the",):
            continue  # "an offset right at the transition"
        closed = not after[0].isalnum() or after in ("and", "at", "again", "too", "about")
        if closed and (framed or before == "the" or index in named):
            found.append((index, _ALONE[word]))
    return found


def _meant(reading: Reading, hit: Hit) -> Mapping[str, Any]:
    """The place that a phrase means where it stands.

    "Coming up on the left" and "down the left wall" are the left, "high, left" a corner.
    """
    words, screen = reading.words, hit.entry.get("screen")
    if screen is None:
        return hit.entry
    place = ScreenPlace(screen)
    side = next((side for side, corners in _CORNERS.items() if place in corners.values()), None)
    if side is None:
        return {"screen": _corner(reading, hit.start, place)}
    ahead = words[hit.start] == "up" and words[hit.start - 1 : hit.start] in _COMING
    along = words[hit.start] in ("up", "down") and words[hit.start + 1] in ("the", "your")
    return {"screen": side} if ahead or along else hit.entry


def _corner(reading: Reading, start: int, place: ScreenPlace) -> ScreenPlace:
    """Read "up, left", "high on the right" and "points up and to the left" as a corner."""
    words, corners = reading.words, _CORNERS.get(place)
    lead = [word for word in words[max(0, start - 5) : start] if word not in _BETWEEN]
    if corners is None or not lead or lead[-1] not in corners:
        return place
    at = max(i for i in range(start) if words[i] == lead[-1])
    return place if words[at - 1 : at] in _COMING else corners[lead[-1]]


_BETWEEN = frozenset({",", "and", "to", "the", "on", "over", "your", "toward", "towards"})
_COMING = tuple(
    (word,)
    for word in ("coming", "come", "comes", "pulling", "moving", "build", "built", "backed", "on")
)
"""Words that make an "up" behind them no height."""

_CORNERS = {
    ScreenPlace.LEFT: dict.fromkeys(("up", "high", "upper", "top"), ScreenPlace.TOP_LEFT)
    | dict.fromkeys(("low", "lower", "bottom"), ScreenPlace.BOTTOM_LEFT),
    ScreenPlace.RIGHT: dict.fromkeys(("up", "high", "upper", "top"), ScreenPlace.TOP_RIGHT)
    | dict.fromkeys(("low", "lower", "bottom"), ScreenPlace.BOTTOM_RIGHT),
}


def _place(entry: Mapping[str, Any], fields: dict[str, Any], view: Direction | None) -> None:
    if "clock" in entry:
        fields.setdefault(
            "clock", Clock(from_h=entry["clock"][0], sd_h=CLOCK_SD_H, view=view, because="word")
        )
    elif entry.get("all_round"):
        fields.setdefault(
            "clock",
            Clock(from_h=0.0, to_h=0.0, sd_h=CLOCK_SD_H, all_round=True, view=view, because="word"),
        )
    elif "screen" in entry:
        place = ScreenPlace(entry["screen"])
        held = fields.setdefault("screen", place)
        if held in _CORNERS and place in _CORNERS[held].values():
            fields["screen"] = place  # "left hand side, upper left"
    elif "round_share" in entry:
        fields.setdefault(
            "round_share", estimate("round_share", Amount(Measure.ROUND, entry["round_share"]))
        )


def give_hours(
    reading: Reading, things: Sequence[Thing], loose: dict[str, Any], view: Direction | None
) -> None:
    """Give each clock hour to its thing, else keep it loose."""
    able = [thing for thing in things if thing.feature not in SIDELESS]
    ranges = _hours_apart(reading)
    for index in reading.amounts:
        hours = ranges.get(index) or clock_hours(reading, index)
        if hours is None:
            continue
        clock = Clock(
            from_h=hours[0] % 12.0,
            to_h=None if hours[1] is None else hours[1] % 12.0,
            sd_h=CLOCK_SD_H,
            view=view,
            because="word",
        )
        thing = nearest(reading, able, index, index + 1, describes=False)
        if thing is None:
            loose.setdefault("clock", clock)
        else:
            thing.fields.setdefault("clock", clock)


def _hours_apart(reading: Reading) -> dict[int, tuple[float, float]]:
    """Read "starts at eleven and goes like a barber pole down to four" as one range."""
    words = reading.words
    hours = [i for i, a in reading.amounts.items() if _is_hour(a)]
    found: dict[int, tuple[float, float]] = {}
    for first, second in pairwise(hours):
        if second - first > _RANGE_WORDS_APART or words[second - 1] != "to":
            continue
        lead = words[max(0, first - 5) : first]
        clocks = Measure.CLOCK in (reading.amounts[first].measure, reading.amounts[second].measure)
        begins = any(word in _BEGINS for word in lead)
        if begins and (clocks or words[first - 1] == "at"):
            found[first] = (reading.amounts[first].value, reading.amounts[second].value)
    return found


_RANGE_WORDS_APART = 12
_BEGINS = word_set("attributes", "begins")


def clock_hours(reading: Reading, index: int) -> tuple[float, float | None] | None:  # noqa: PLR0911 - one guard a rule
    """Return the hours an amount tells, or ``None``: bare hours count only in their place."""
    amount = reading.amounts[index]
    if amount.measure is Measure.CLOCK:
        return amount.value, amount.to
    if amount.measure is not Measure.NUMBER or amount.fraction or amount.rough:
        return None
    if not (1 <= amount.value <= 12 and amount.value == int(amount.value)):
        return None
    words = reading.words
    before = words[index - 1] if index else ""
    after = words[index + 1] if index + 1 < len(words) else ""
    if amount.to is not None:
        return (amount.value, amount.to) if 1 <= amount.to <= 12 else None
    if after and after[0].isalnum() and after not in _AFTER_HOUR:
        return None
    if words[:2] in (("another", ","), ("one", ",")) and index == 2:
        return amount.value, None
    alone = index == 1 and before == "at" and (not after or after == ".") and len(words) <= _FEW
    if before in ("at", "around", "about", "opposite") and (index > 1 or alone):
        return amount.value, None
    closing = before == "," and after == "." and index + 2 == len(words)
    if closing and _named_round(reading):
        return amount.value, None  # "crack, nine."
    if before == "the" and after == "position":
        return amount.value, None
    paired = reading.amounts.get(index + 2)
    if after == "and" and paired is not None and paired.measure is Measure.CLOCK:
        return amount.value, None  # "two cracks, ten and two o'clock"
    if before == "and" and index > 2 and words[index - 3] == "at" and index - 2 in reading.amounts:
        return amount.value, None
    return None


def _named_round(reading: Reading) -> bool:
    """Whether a call-out names only what stands at an hour: a crack, a tap, roots, a hole."""
    names = {hit.entry["feature"] for hit in reading.features}
    return bool(names) and names <= _AT_HOURS and len(reading.amounts) <= _TWO


_AT_HOURS = frozenset({"crack", "fracture", "tap", "roots", "hole", "infiltration"})
_TWO = 2
_FEW = 3
_TWICE = frozenset(
    {Feature.CRACK, Feature.FRACTURE, Feature.HOLE, Feature.TAP, Feature.BREAK, Feature.ROOTS}
)


def second_hours(reading: Reading, things: list[Thing]) -> None:
    """Make two things of "cracked at three and nine"."""
    words = reading.words
    for index, amount in reading.amounts.items():
        other = _after_and(reading, index)
        second = reading.amounts.get(other)
        if second is None or clock_hours(reading, index) is None:
            continue
        if not _is_hour(amount) or not _is_hour(second):
            continue
        after = words[other + 1] if other + 1 < len(words) else ""
        if after and after[0].isalnum() and after not in _AFTER_HOUR:
            continue
        able = [t for t in things if t.feature in _TWICE and not t.reference]
        thing = nearest(reading, able, index, index + 1, describes=False)
        if thing is None:
            continue
        twin = replace(thing, fields=dict(thing.fields), low=other, high=other + 1)
        twin.another, twin.tokens = True, (other,)
        thing.fields.pop("count", None)
        twin.fields.pop("count", None)
        things.append(twin)


_OPPOSITE = frozenset({("top", "bottom"), ("left", "right"), ("bottom", "top"), ("right", "left")})


def second_sides(reading: Reading, things: list[Thing]) -> None:
    """Make two things of "cracked top and bottom"."""
    words = reading.words
    for at in range(1, len(words) - 1):
        pair = (words[at - 1], words[at + 1])
        if words[at] != "and" or pair not in _OPPOSITE:
            continue
        split = [t for t in things if t.feature in _ROUND and 0 <= at - 1 - t.high <= 2]
        if split and not (split[0].denied or split[0].reference):
            twin = replace(split[0], fields=dict(split[0].fields), low=at + 1, high=at + 2)
            twin.another, twin.tokens = True, (at + 1,)
            twin.fields["screen"] = ScreenPlace(words[at + 1])
            split[0].fields["screen"] = ScreenPlace(words[at - 1])
            things.append(twin)


def _after_and(reading: Reading, index: int) -> int:
    """Index of the amount behind "and", "and again at", "and also"; -1 where there is none."""
    at = index + 1
    if at < len(reading.words) and reading.words[at] == ",":
        at += 1
    if at >= len(reading.words) or reading.words[at] != "and":
        return -1
    at += 1
    while at < len(reading.words) and reading.words[at] in (
        "again",
        "also",
        "at",
    ):
        at += 1
    return at if at in reading.amounts else -1


def _is_hour(amount: Amount) -> bool:
    whole = amount.value == int(amount.value) and amount.to is None and not amount.fraction
    if amount.measure is Measure.CLOCK:
        return amount.to is None
    return amount.measure is Measure.NUMBER and whole and 1 <= amount.value <= 12


_AFTER_HOUR = word_set("attributes", "after_hour")

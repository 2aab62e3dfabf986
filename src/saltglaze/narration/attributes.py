"""What a sentence says about its things: kinds, grades, places, sizes, states.

Each attribute goes to the nearest thing that can carry it. Words of kind and grade
mostly stand before the thing they describe, places and sizes after it; crossing a
comma or an "and" costs more than a few words. What fits no thing of the sentence is
loose, and may belong to the thing spoken of before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from saltglaze.model.finding import KINDS, Clock, Feature, Grade, ScreenPlace, Turn
from saltglaze.model.run import Direction
from saltglaze.narration.amounts import Amount
from saltglaze.narration.ground import OPENINGS, THROUGH, ground_at
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import BLOCKING, WET, estimate, role
from saltglaze.narration.stations import is_station
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

CLOCK_SD_H = 0.5
"""Spread of a spoken whole hour; the labels people speak are whole hours."""

_BOUNDARY_COST = 6.0
_WRONG_SIDE_COST = 2.5
_STRUCTURAL = frozenset({Feature.START, Feature.END, Feature.COULD_NOT_PASS, Feature.LENS_FOULED})
SIDELESS = frozenset(
    {
        Feature.START,
        Feature.END,
        Feature.COULD_NOT_PASS,
        Feature.LENS_FOULED,
        Feature.CAMERA_UNDER_WATER,
        Feature.MATERIAL_CHANGE,
        Feature.DIAMETER_CHANGE,
        Feature.BEND,
        Feature.SAG,
        Feature.STANDING_WATER,
    }
)
UNGRADED = (SIDELESS - {Feature.SAG}) | {
    Feature.TAP,
    Feature.INTRUDING_TAP,
    Feature.CLEAN_OUT,
    Feature.VERMIN,
    Feature.REPAIR,
}
"""Things that are no better or worse: "a small pipe comes in" tells its size."""

_BEND_KINDS = {11.25: None, 22.5: "1/16", 45.0: "1/8", 60.0: "1/6", 90.0: "1/4"}


def assign(reading: Reading, things: list[Thing], view: Direction | None) -> dict[str, Any]:
    """Give each attribute to its thing, and return the loose ones by field."""
    loose: dict[str, Any] = {}
    _second_hours(reading, things)
    _second_sides(reading, things)
    live = [thing for thing in things if not thing.reference]
    _qualities(reading, live, loose)
    _ground(reading, live, loose)
    _clocks(reading, live, loose, view)
    _sides(reading, live, loose, view)
    _sizes(reading, live, loose)
    _bends(reading, live, loose)
    _counts(reading, live)
    _joints(reading, live)
    return loose


def nearest(
    reading: Reading, things: Sequence[Thing], low: int, high: int, *, describes: bool
) -> Thing | None:
    """Return the nearest thing to tokens ``low`` .. ``high``; ``describes`` prefers the next."""

    def cost(thing: Thing) -> float:
        if thing.low < high and thing.high > low:
            return 0.0
        ahead = thing.low >= high
        apart = thing.low - high if ahead else low - thing.high
        edges = reading.boundaries
        crossed = abs(edges[thing.low] - edges[min(low, len(edges) - 1)])
        wrong = ahead != describes
        return apart + _BOUNDARY_COST * crossed + (_WRONG_SIDE_COST if wrong else 0.0)

    return min(things, key=cost, default=None)


# ------------------------------------------------------------------ qualities
def _qualities(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    for hit in reading.qualities:
        entry = _unless_denied(reading, hit)
        if entry is None:
            continue
        able = [thing for thing in things if _able(entry, thing, hit)]
        if not able:
            if "of" in entry or not things:
                _loosen(entry, loose, sound=bool(reading.acts("sound")))
            continue
        adjective = "kind" in entry or "grade" in entry
        thing = nearest(reading, able, hit.start, hit.end, describes=adjective)
        if thing is not None:
            _describe(entry, thing, hit)
        if "at_joint" in entry and "same" in reading.words[max(0, hit.start - 1) : hit.end]:
            for other in able:  # "roots, offset same joint": both are there
                other.fields.setdefault("at_joint", True)


def _unless_denied(reading: Reading, hit: Hit) -> Mapping[str, Any] | None:
    """What a quality says; nothing behind a "not", but that "not thick" is slight."""
    words = reading.words
    if "grade" in hit.entry and _no_grade(reading, hit):
        return None
    lead = [word for word in words[max(0, hit.start - 3) : hit.start] if word not in _MUCH]
    if not lead or lead[-1] not in _NO:
        return hit.entry
    if hit.entry.get("grade") == "heavy":
        return {**hit.entry, "grade": "slight"}
    held = "grade" in hit.entry or {"turn", "at_joint"} & hit.entry.keys()
    return hit.entry if held else None


def _no_grade(reading: Reading, hit: Hit) -> bool:
    """Whether a grade word measures, compares or tells the way: "big as an egg", "a bit on"."""
    words = reading.words
    before = words[hit.start - 1] if hit.start else ""
    after = words[hit.end] if hit.end < len(words) else ""
    measured = before.startswith("<") and words[hit.start] in _MEASURING
    return (
        measured
        or before == "how"
        or after in ("as", "enough")
        or (after == "<share>" and words[hit.start] == "good")
        or (words[hit.end - 1] in _BIT and after in _ON_THE_WAY)
        or (after in _WORKED and words[hit.start] == "badly")
    )


_MEASURING = frozenset({"wide", "deep", "thick", "high"})
_BIT = frozenset({"bit", "little", "touch", "wee"})
_ON_THE_WAY = frozenset(
    {"further", "farther", "on", "past", "later", "more", "up", "along", "beyond"}
)
_WORKED = frozenset({"made", "done", "glued", "fitted", "laid", "built", "cut", "put", "joined"})
_NO = frozenset({"not", "no", "isn't", "ain't", "aren't", "never", "without", "nor"})
_MUCH = frozenset(
    {"any", "very", "too", "that", "so", "really", "a", "terribly", "all", "real", "quite"}
)


def _ground(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    """Note the ground seen through the nearest opening, or through one told of before."""
    at = ground_at(reading)
    if at is None:
        return
    openings = [thing for thing in things if thing.feature in OPENINGS]
    thing = nearest(reading, openings, at, at + 1, describes=False)
    if thing is not None:
        thing.fields.setdefault("soil_visible", True)
    elif not things:
        loose.setdefault("soil_visible", []).append((_OPEN, True))


_OPEN = tuple(feature.value for feature in OPENINGS)


def _able(entry: Mapping[str, Any], thing: Thing, hit: Hit) -> bool:
    if "of" in entry and thing.feature.value not in entry["of"]:
        return False
    if thing.feature in _STRUCTURAL:
        return False
    if {"soil_visible", "void_visible"} & entry.keys() and thing.feature not in THROUGH:
        return False
    inside = set(hit.at) <= set(thing.tokens)
    if inside:
        return ("kind" in entry and "of" in entry) or "at_joint" in entry or "turn" in entry
    return not ("grade" in entry and thing.feature in UNGRADED)


def _describe(entry: Mapping[str, Any], thing: Thing, hit: Hit) -> None:
    if "kind" in entry:
        kinds = KINDS.get(thing.feature, ())
        if entry["kind"] in kinds and _outranks(entry["kind"], thing.fields.get("kind")):
            thing.fields["kind"] = entry["kind"]
    if "grade" in entry:
        thing.fields.setdefault("grade_word", Grade(entry["grade"]))
    if "share" in entry:
        _share(thing.feature, thing.fields, entry["share"])
    if "turn" in entry:
        thing.fields.setdefault("turn", Turn(entry["turn"]))
    for name in ("at_joint", "active", "capped", "soil_visible", "void_visible"):
        if name in entry:
            thing.fields.setdefault(name, entry[name])


def _outranks(new: str, old: str | None) -> bool:
    """A second kind word wins over a vaguer first one ("hairline longitudinal crack")."""
    return old is None or (old in ("sweep", "sweating") and new != old)


def _share(feature: Feature, fields: dict[str, Any], share: float) -> None:
    amount = Amount(Measure.SHARE, share, rough=True)
    if feature in WET:
        fields.setdefault("water_share", estimate("water_share", amount))
    elif feature in BLOCKING:
        fields.setdefault("section_share", estimate("section_share", amount))


def _loosen(entry: Mapping[str, Any], loose: dict[str, Any], *, sound: bool) -> None:
    """Keep what fits no thing; "fine" in "joint's fine" is no kind of root."""
    if "kind" in entry and not sound:
        loose.setdefault("kinds", []).append(entry)
    if "grade" in entry:
        loose.setdefault("grade_word", Grade(entry["grade"]))
    if "turn" in entry:
        loose.setdefault("turn", Turn(entry["turn"]))
    for name in ("at_joint", "active", "capped", "soil_visible", "void_visible", "share"):
        if name in entry:
            loose.setdefault(name, []).append((entry.get("of"), entry[name]))


# ------------------------------------------------------------------ places
def _sides(
    reading: Reading, things: Sequence[Thing], loose: dict[str, Any], view: Direction | None
) -> None:
    taken = {index for thing in things for index in thing.tokens}
    for hit in reading.sides:
        if set(hit.at) <= taken and not hit.entry.get("all_round"):
            owner = next(t for t in things if set(hit.at) & set(t.tokens))
            if owner.feature in (Feature.BEND, Feature.SAG):
                continue
        able = [thing for thing in things if thing.feature not in SIDELESS]
        thing = nearest(reading, able, hit.start, hit.end, describes=False)
        if thing is not None:
            _place(hit.entry, thing.fields, view)
            if hit.entry.get("all_round") and thing.feature in _ROUND:
                thing.fields.setdefault("kind", "circumferential")
        elif not any(t.feature is Feature.BEND for t in things):
            _place(hit.entry, loose, view)
    covered = {index for hit in reading.sides for index in hit.at} | taken
    named = {t.high for t in things if t.feature not in SIDELESS}
    for index, place in _bare_sides(reading, covered, named):
        able = [thing for thing in things if thing.feature not in SIDELESS]
        thing = nearest(reading, able, index, index + 1, describes=False)
        if thing is not None:
            thing.fields.setdefault("screen", place)
        elif not things:
            loose.setdefault("screen", place)


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
        framed = not before[0].isalnum() or before in ("is", "on", "upper", "lower", "and", "hard")
        closed = not after[0].isalnum() or after in ("and", "at", "again", "too", "about")
        if closed and (framed or before == "the" or index in named):
            found.append((index, _ALONE[word]))
    return found


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
        fields.setdefault("screen", ScreenPlace(entry["screen"]))
    elif "round_share" in entry:
        fields.setdefault(
            "round_share", estimate("round_share", Amount(Measure.ROUND, entry["round_share"]))
        )


def _clocks(
    reading: Reading, things: Sequence[Thing], loose: dict[str, Any], view: Direction | None
) -> None:
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
    if before in ("at", "around", "about", "opposite") and index > 1:
        return amount.value, None
    if before == "and" and index > 2 and words[index - 3] == "at" and index - 2 in reading.amounts:
        return amount.value, None
    return None


_TWICE = frozenset(
    {Feature.CRACK, Feature.FRACTURE, Feature.HOLE, Feature.TAP, Feature.BREAK, Feature.ROOTS}
)


def _second_hours(reading: Reading, things: list[Thing]) -> None:
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


def _second_sides(reading: Reading, things: list[Thing]) -> None:
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


# ------------------------------------------------------------------ sizes
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
        if amount.measure is not Measure.ANGLE:
            continue
        thing = nearest(reading, bends, index, index + 1, describes=True)
        if thing is None:
            loose.setdefault("angle", amount)
        else:
            set_angle(thing.feature, thing.fields, amount.value)


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

"""Kinds, grades and states: each word of quality to the thing it describes, or kept loose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, takewhile
from typing import Any

from saltglaze.model.finding import KINDS, Feature, Grade, Turn
from saltglaze.narration.amounts import Amount
from saltglaze.narration.ground import OPENINGS, THROUGH, ground_at
from saltglaze.narration.nearness import nearest
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import BLOCKING, WET, estimate
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import UNGRADED, Thing

_STRUCTURAL = frozenset({Feature.START, Feature.END, Feature.COULD_NOT_PASS, Feature.LENS_FOULED})


def give_qualities(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    """Give each word of kind, grade or state to its thing, else keep it loose."""
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


def give_ground(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
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


# ------------------------------------------------------------------ which way a crack runs
def give_courses(reading: Reading, things: Sequence[Thing], loose: dict[str, Any]) -> None:
    """Tell a crack that runs along the pipe from one that goes round it, by its verb."""
    kind = _course(reading)
    if kind is None:
        return
    cracks = [thing for thing in things if thing.feature.value in _SPLITS]
    if cracks and kind == "circumferential" and cracks[-1].fields.get("kind") == "longitudinal":
        cracks[-1].fields["kind"] = kind  # "it goes up and over"
    elif cracks:
        cracks[-1].fields.setdefault("kind", kind)
    elif not things:
        loose.setdefault("kinds", []).append({"kind": kind, "of": _SPLITS})


def _course(reading: Reading) -> str | None:
    words = reading.words
    for at, word in enumerate(words):
        if word not in _RUNS:
            continue
        path = [*takewhile(lambda w: w[0].isalnum(), words[at + 1 : at + 1 + _PATH_WORDS])]
        if _ROUND & set(path) or ("up", "over") in pairwise(w for w in path if w != "and"):
            return "circumferential"
        if _LENGTHWAYS & set(path) or ("way", "we're") in pairwise(path):
            return "longitudinal"
    return None


_SPLITS = ("crack", "fracture")
_PATH_WORDS = 8
_RUNS = word_set("qualities", "runs")
_LENGTHWAYS = word_set("qualities", "lengthways")
_ROUND = frozenset({"around", "round", "across", "circle", "over"})


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
        fill_share(thing.feature, thing.fields, entry["share"])
    if "turn" in entry:
        thing.fields.setdefault("turn", Turn(entry["turn"]))
    for name in ("at_joint", "active", "capped", "soil_visible", "void_visible"):
        if name in entry:
            thing.fields.setdefault(name, entry[name])


def _outranks(new: str, old: str | None) -> bool:
    """A second kind word wins over a vaguer first one ("hairline longitudinal crack")."""
    return old is None or (old in ("sweep", "sweating") and new != old)


def fill_share(feature: Feature, fields: dict[str, Any], share: float) -> None:
    """Fill the share of water or of lost section that words such as "halfway up" tell."""
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

"""The things a sentence names: told from echoes, places and "one"s that stand for them."""

from __future__ import annotations

from saltglaze.model.finding import Feature
from saltglaze.narration.claims import deny, only_talk, suppose
from saltglaze.narration.colours import distinct
from saltglaze.narration.hints import hinted
from saltglaze.narration.numbers import Measure
from saltglaze.narration.ones import with_next, with_ones
from saltglaze.narration.phrases import Hit
from saltglaze.narration.pointing import point, refer
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_OWN_FIELDS = (
    "kind",
    "capped",
    "active",
    "soil_visible",
    "void_visible",
    "at_joint",
    "screen",
    "grade_word",
)


def things_in(reading: Reading) -> list[Thing]:
    """Return the things named in a sentence, left to right, each with how it is said."""
    things = [_thing(hit) for hit in reading.features] or hinted(reading)
    for thing in things:
        point(thing, reading)
        thing.asked = reading.question and not _told_first(thing, reading)
    deny(things, reading)
    things = with_next(with_ones(_without_weak(things), reading), reading)
    things = _once(things, reading)
    things = [thing for thing in things if not _too_large(thing, reading)]
    things = distinct(things, reading)
    refer(things, reading)
    _stick_out(things, reading)
    deny(things, reading)
    suppose(things, reading)
    only_talk(things, reading)
    return things


def _told_first(thing: Thing, reading: Reading) -> bool:
    """Whether a question only asks to look at what was told: "that's a crack, see it up top?"."""
    words, low = reading.words, thing.low
    told = low > 1 and words[low - 2] in ("that's", "it's") and words[low - 1] in ("a", "an")
    asks = words[thing.high : thing.high + 2]
    return told and asks[:1] == (",",) and asks[1:] in (("see",), ("can",), ("you",))


def _once(things: list[Thing], reading: Reading) -> list[Thing]:
    """Take two names of one feature in one clause for one thing ("a wye comes in on the left")."""
    kept: list[Thing] = []
    for thing in things:
        last = kept[-1] if kept else None
        twice = (
            last is not None
            and last.feature is thing.feature
            and reading.boundaries[last.low] == reading.boundaries[thing.low]
            and thing.low - last.high <= 3
            and not {last.denied, last.reference} & {True}
            and "one" not in reading.words[last.high : thing.low + 1]
            and "another" not in reading.words[last.high : thing.low + 1]
        )
        between = reading.words[last.high : thing.low] if last else ()
        heads = last and reading.words[last.high - 1] == reading.words[thing.high - 1]
        if heads and last and last.feature is thing.feature and len(between) <= 3:
            twice = set(between) <= {"and", "more", ",", "some", "then"}
        if last is None or not twice:
            kept.append(thing)
            continue
        last.high, last.tokens = thing.high, (*last.tokens, *thing.tokens)
        for name, value in thing.fields.items():
            last.fields.setdefault(name, value)
    return kept


def _thing(hit: Hit) -> Thing:
    entry = hit.entry
    fields = {name: entry[name] for name in _OWN_FIELDS if name in entry}
    weak = bool(entry.get("weak"))
    return Thing(Feature(entry["feature"]), hit.start, hit.end, fields, hit.at, weak=weak)


_ROUGHLY = {
    Feature.OPEN_JOINT: frozenset(
        {
            Feature.CRACK,
            Feature.FRACTURE,
            Feature.OFFSET_JOINT,
            Feature.BREAK,
            Feature.HOLE,
            Feature.ANGLED_JOINT,
            Feature.TAP,
            Feature.CLEAN_OUT,
            Feature.END,
        }
    ),
    Feature.OBSTRUCTION: frozenset(
        {
            Feature.ROOTS,
            Feature.ATTACHED_DEPOSITS,
            Feature.SETTLED_DEPOSITS,
            Feature.COLLAPSE,
            Feature.TAP,
            Feature.CLEAN_OUT,
            Feature.INTRUDING_TAP,
            Feature.BREAK,
            Feature.OFFSET_JOINT,
            Feature.OPEN_JOINT,
            Feature.DEFORMATION,
        }
    ),
    Feature.INFILTRATION: frozenset({Feature.ATTACHED_DEPOSITS, Feature.ROOTS}),
    Feature.STANDING_WATER: frozenset(
        {Feature.SAG, Feature.CAMERA_UNDER_WATER, Feature.SETTLED_DEPOSITS, Feature.ROOTS}
    ),
    Feature.CAMERA_UNDER_WATER: frozenset(Feature),
    Feature.DEFORMATION: frozenset(
        {
            Feature.COLLAPSE,
            Feature.ROOTS,
            Feature.ATTACHED_DEPOSITS,
            Feature.SETTLED_DEPOSITS,
            Feature.OBSTRUCTION,
        }
    ),
    Feature.LENS_FOULED: frozenset({Feature.CAMERA_UNDER_WATER, Feature.STANDING_WATER}),
}


def echoes(thing: Thing, feature: Feature) -> bool:
    """Whether a vague word ("gap", "blocked") may only speak of a thing named before."""
    return thing.weak and (
        thing.feature is feature or feature in _ROUGHLY.get(thing.feature, frozenset())
    )


_SMALL = frozenset(
    {Feature.OFFSET_JOINT, Feature.OPEN_JOINT, Feature.INTRUDING_TAP, Feature.ANGLED_JOINT}
)
_LARGEST_STEP_M = 0.5


def _too_large(thing: Thing, reading: Reading) -> bool:
    """Whether a "step of <length>" is too long for a step: a distance was meant."""
    if thing.feature not in _SMALL:
        return False
    lengths = [reading.amounts[i] for i in thing.tokens if i in reading.amounts]
    return any(
        amount.measure is Measure.LENGTH and amount.value > _LARGEST_STEP_M for amount in lengths
    )


_SHOVED = frozenset({"stick", "sticks", "stuck", "pushed", "shoved", "rammed", "driven", "jammed"})
_BROKEN_OFF = frozenset({"piece", "pieces", "chunk", "shard", "flap"})
_ITSELF = frozenset({"it", "it's"})
_SEALS = frozenset({"ring", "seal", "gasket", "rubber", "oakum", "sealant", "mortar", "cement"})
_STICKING = word_set("things", "sticking")


def _stick_out(things: list[Thing], reading: Reading) -> None:
    """Take "lateral connection, protruding sixty millimetres" as an intruding tap."""
    for thing in things:
        lead = set(reading.words[: thing.low])
        own = {reading.words[i] for i in thing.tokens}
        if thing.feature is Feature.INTRUDING_TAP and own & _ITSELF and lead & _BROKEN_OFF:
            thing.feature = Feature.BREAK  # "a piece of the pipe, it's hanging down"
        if thing.feature is Feature.INTRUDING_TAP and own & _ITSELF and lead & _SEALS:
            thing.feature = Feature.INTRUDING_SEAL  # "the rubber ring, it's poking out"
    if not any(word in _STICKING | _SHOVED for word in reading.words):
        return
    for at, word in enumerate(reading.words):
        shoved = word in _SHOVED and reading.words[at + 1 : at + 2] in (
            ("in",),
            ("into",),
            ("inside",),
        )
        if not (word in _STICKING or shoved) or any(at in t.tokens for t in things):
            continue
        before = [t for t in things if t.high <= at]
        apart = before and {"there's", "with", "there"} & set(reading.words[before[-1].high : at])
        others = any(t.feature is not Feature.TAP for t in before)
        if before and before[-1].feature is Feature.TAP and not (apart or others):
            before[-1].feature = Feature.INTRUDING_TAP


def _without_weak(things: list[Thing]) -> list[Thing]:
    clear = [t.feature for t in things if not (t.weak or t.reference or t.denied)]
    return [thing for thing in things if not any(echoes(thing, f) for f in clear)]

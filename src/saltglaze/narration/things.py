"""The things a sentence names: told from echoes, places and "one"s that stand for them."""

from __future__ import annotations

from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.claims import deny, only_talk, suppose
from saltglaze.narration.colours import distinct
from saltglaze.narration.hints import hinted
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import table, word_set
from saltglaze.narration.thing import Thing

_PLACED_BY = word_set("things", "placed_by")
_POINTING = word_set("things", "pointing")
_FITTINGS = frozenset(
    {
        Feature.TAP,
        Feature.BEND,
        Feature.CLEAN_OUT,
        Feature.REPAIR,
        Feature.LINER,
        Feature.END,
        Feature.DIAMETER_CHANGE,
        Feature.MATERIAL_CHANGE,
        Feature.SAG,
        Feature.START,
        Feature.INTRUDING_SEAL,
    }
)
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
        _point(thing, reading)
        thing.asked = reading.question
    deny(things, reading)
    things = _with_ones(_without_weak(things), reading)
    things = _once(things, reading)
    things = [thing for thing in things if not _too_large(thing, reading)]
    things = distinct(things, reading)
    _refer(things, reading)
    _stick_out(things, reading)
    deny(things, reading)
    suppose(things, reading)
    only_talk(things, reading)
    return things


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


# ------------------------------------------------------------------ pointing
def _point(thing: Thing, reading: Reading) -> None:
    words = reading.words
    at = thing.low
    lead = words[max(0, at - 3) : at]
    thing.another = any(
        words[i] in _NEW and words[i - 1] not in ("no", "any", "not")
        for i in range(max(0, at - 4), at)
    ) or any(word in _AGAIN for word in words[thing.high : thing.high + 2])
    if thing.feature is Feature.TAP and words[at] in _JOINING:
        thing.another = False  # "the connection from the second floor, comes in on the right"
    thing.introduced = bool({"a", "an", "another", "one"} & set(words[max(0, at - 3) : at + 1]))
    if words[0] == "here's" and words[1:2] in (("a",), ("an",), ("one",)):
        thing.another = True
    thing.vague = bool(_SOMETHING & {words[i] for i in thing.tokens})
    thing.anaphoric = bool(lead) and lead[-1] in ("that", "this", "those", "these", "said", "same")
    if at and words[at - 1] == "the" and words[at] not in _PIPE_PARTS:
        thing.anaphoric = True  # "the connection appears to be abandoned"
    placed = bool(reading.sides or reading.amounts)
    if words[0] in ("that's", "those") and not placed:
        thing.anaphoric = True  # "that's roots, say roots"
    named = {("call", "that"), ("call", "it"), ("called", "that"), ("calling", "that")}
    if named & set(pairwise(words[:at])):
        thing.anaphoric = True  # "I'd call that a hole"
    lead = words[max(0, at - 2) : at]
    opened = all(word in _GRANTED or not word[0].isalnum() for word in words[: max(0, at - 2)])
    if lead in (("it's", "a"), ("it's", "an")) and opened:
        thing.anaphoric = True  # "yeah, it's a crack"
    if words[at] in ("this", "that", "these", "those") and at == 0:
        thing.anaphoric = True
    if words[0] == "which":
        thing.anaphoric = True
    if words[at] in ("it", "it's") or (at and words[at - 1] == "it's"):
        thing.anaphoric = True
    if 0 < at <= 3 and all(word in _GRANTED or word == "," for word in words[:at]):
        thing.anaphoric = True  # "okay, spalled": said again as agreed
    if at == 0 and thing.feature is Feature.BEND and words[at] in ("goes", "turns", "runs"):
        thing.anaphoric = True  # "goes right."
    if at == 0 and words[at] in _STICKING and thing.feature is Feature.INTRUDING_TAP:
        thing.anaphoric = True  # "protrudes fifty mil"
    said = words[at] in _SUBJECTS  # "past that she sags"
    if (
        not said
        and at > 1
        and words[at - 1] == "that"
        and words[at - 2] in ("at", "to", "from", "past")
    ):
        thing.reference = True
    beyond = at > 0 and words[at - 1] in ("after", "past", "before", "beyond")
    if beyond and thing.feature in _FITTINGS - {Feature.END}:
        thing.reference = True  # "after elbow, a broken bottle"
        return
    pointer = next((i for i in range(at, max(-1, at - 4), -1) if words[i] in _POINTING), None)
    if pointer is None or thing.feature not in _FITTINGS:
        return
    before = words[pointer - 1] if pointer else ""
    between = words[pointer + 1 : at]
    parted = _SUBJECTS | {"and", "but", "into", "then"}
    if any(word in parted or not word[0].isalnum() for word in between if word[0] != "<"):
        return  # "past that she sags", "bottom of the stack, long sweep"
    if before == "of" and words[max(0, pointer - 2)] in ("part", "end", "edge", "piece", "bit"):
        return  # "part of the gasket is showing"
    if before in _PLACED_BY and thing.feature is not Feature.END:
        thing.reference = True


_SUBJECTS = word_set("things", "subjects")
_SOMETHING = frozenset({"something", "thing", "object", "somethin", "anything"})
_SETS = table("features")["sets"]
_PIPE_PARTS = frozenset(
    (*_SETS["part"], *_SETS["pipe"], *_SETS["joint"], *_SETS["piece"])
) - frozenset(_SETS["tapword"])
"""Words for parts of the pipe: "the wall's buckled" points back to no wall."""

_JOINING = word_set("things", "joining")
_GRANTED = word_set("things", "granted")
_AGAIN = frozenset({"again", "too", "also"})
_NEW = word_set("things", "new")


def _refer(things: list[Thing], reading: Reading) -> None:
    """Mark things that only say where another comes from ("sand coming in from that hole")."""
    words = reading.words
    for thing in things:
        others = [t for t in things if t is not thing and not t.reference]
        if thing.low == 1 and others and words[0] == "in" and thing.feature in _FITTINGS:
            thing.reference = True  # "in connection is growing root"
        if not others or thing.low < 2 or thing.feature in (Feature.END, Feature.START):
            continue
        first = thing.low + (words[thing.low] in _POINTING)  # a phrase may hold its own "the"
        if first < 2:
            continue
        lead, before = words[first - 1], words[first - 2]
        if lead in _POINTING and before in ("behind", "past", "beyond", "before"):
            thing.reference = True  # "fat has gathered behind the step"
            continue
        fitting = thing.feature in _FITTINGS and lead in _POINTING
        bare = thing.feature in _FITTINGS and words[thing.low - 1] in ("in", "below", "behind")
        if bare or ((lead in ("that", "those") or fitting) and before in _OUT_OF):
            thing.reference = True
            if before not in ("around", "round", "at", "by", "on"):
                _flow_from(thing, others)


def _flow_from(thing: Thing, others: list[Thing]) -> None:
    """Water that comes out of a tap is the tap in use, not ground water."""
    if thing.feature not in (Feature.TAP, Feature.INTRUDING_TAP):
        return
    for other in others:
        if other.feature is Feature.INFILTRATION and other.low < thing.low:
            other.talked_of = True
            thing.reference = False
            thing.anaphoric = True
            thing.fields.setdefault("active", True)


_OUT_OF = word_set("things", "out_of")

# ------------------------------------------------------------------ "one" for a thing
_SIZED = word_set("things", "sized")
_ONE_LEADS = word_set("things", "one_leads")
_PLACES = word_set("things", "places")


def _with_ones(things: list[Thing], reading: Reading) -> list[Thing]:
    """Add the things that "one" stands for ("one at twelve and one at six", "a second one")."""
    words = reading.words
    ones = [i for i in range(len(words)) if _stands_for_thing(words, i)]
    ones = ones or _ordinals(things, words)
    if not ones:
        return things
    shattered = [t for t in things if t.feature in (Feature.CRACK, Feature.FRACTURE)]
    if len(ones) >= 3 and shattered:  # one at twelve, one at three, one at six: a multiple
        shattered[-1].fields["kind"] = "multiple"
        return things
    added: list[Thing] = []
    for number, at in enumerate(ones):
        named = [t for t in things if t.high <= at and not t.reference]
        plural = bool(named) and (words[at] == "first" or _several(named[-1], len(ones), reading))
        if number == 0 and plural and len(ones) > 1:
            named[-1].low, named[-1].high = at, at + 1  # "two cracks": the first of them
            named[-1].fields.pop("count", None)
            continue
        if any(abs(t.low - at) <= 2 and t.low > at for t in things):
            continue  # "another one, a crack": the name follows
        also = {"too", "also", "well"} & set(words[at : at + 7])
        if named and words[at - 1] in ("there's", "here's", "got", "see") and not also:
            continue  # "it's blistered, there's one on the right": the same
        feature = named[-1].feature if named else Feature.CRACK
        one = Thing(feature, at, at + 1, tokens=(at,), another=True, like_last=not named)
        one.asked = reading.question
        added.append(one)
    return sorted([*things, *added], key=lambda thing: thing.low)


def _ordinals(things: list[Thing], words: tuple[str, ...]) -> list[int]:
    """Find "a quarter on the first and a half on the second" behind two of a kind."""
    found = [
        i
        for i in range(2, len(words))
        if words[i] in ("first", "second", "other", "next")
        and words[i - 2 : i] == ("on", "the")
        and (i + 1 == len(words) or words[i + 1] in ("and", ",", ".", "one"))
    ]
    many = any(t.high <= i for t in things for i in found[:1])
    return found if many and len(found) == 2 else []


def _several(thing: Thing, count: int, reading: Reading) -> bool:
    """Whether a thing is named as many: "two cracks", "two crack"."""
    told = reading.amounts.get(thing.low - 1)
    counted = told is not None and told.measure is Measure.NUMBER and told.value == count
    return counted or reading.words[thing.high - 1].endswith("s")


_AFTER_ONE = word_set("things", "after_one")


def _stands_for_thing(words: tuple[str, ...], at: int) -> bool:
    if words[at] not in ("one", "another"):
        return False
    across = words[at - 1 : at] == (",",) and bool({"across", "opposite"} & set(words[:at]))
    if words[at] == "another" and across and words[at + 1 : at + 2] in ((), (".",), (",",)):
        return True
    if words[at] == "another" and at + 1 < len(words) and words[at + 1] not in _PLACES:
        return False
    before = words[at - 1] if at else ","
    if before in _SIZED:  # "two point four, that's a big one"
        return any(word in ("<length>", "<number>") for word in words[:2])
    if words[at] == "one" and words[at + 1 : at + 2] == (",",):
        return False
    if before not in _ONE_LEADS:
        return False
    after = words[at + 1 : at + 4]
    placed = any(word in _PLACES for word in after[:2])
    counted = before in ("another", "second", "third")
    return placed or (counted and (not after or after[0] in _AFTER_ONE))

"""The things a sentence names, and how each is said: plainly, with a hedge, denied."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set


@dataclass
class Thing:
    """One thing named in a sentence: tokens ``low`` .. ``high``, and what is said of it."""

    feature: Feature
    low: int
    high: int
    fields: dict[str, Any] = field(default_factory=dict)
    tokens: tuple[int, ...] = ()
    denied: bool = False
    supposed: bool = False
    sure: bool = False
    talked_of: bool = False
    """Spoken of but not claimed: advice, memory, a question of what might be."""
    reference: bool = False
    """Named only to say where something else is ("just past the wye")."""
    another: bool = False
    anaphoric: bool = False
    """Read "that crack", "these roots": something already spoken of."""
    asked: bool = False
    weak: bool = False
    """A word that names nothing of its own beside a clearer one ("gap", "blocked")."""
    like_last: bool = False
    """Such as "another one", "one opposite": of the kind spoken of before, in this talk."""


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
_BREAKS_DENIAL = word_set("things", "breaks_denial")
_NEW_CLAUSE = word_set("things", "new_clause")
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
    things = [_thing(hit) for hit in reading.features]
    for thing in things:
        _point(thing, reading)
        thing.asked = reading.question
    _deny(things, reading)
    things = _with_ones(_without_weak(things), reading)
    things = [thing for thing in things if not _too_large(thing, reading)]
    things = _one_of_two(things, reading)
    _refer(things, reading)
    _stick_out(things, reading)
    _deny(things, reading)
    _suppose(things, reading)
    _only_talk(things, reading)
    return things


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
            Feature.INTRUDING_SEAL,
            Feature.TAP,
            Feature.CLEAN_OUT,
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
        }
    ),
    Feature.STANDING_WATER: frozenset(
        {Feature.SAG, Feature.CAMERA_UNDER_WATER, Feature.SETTLED_DEPOSITS, Feature.ROOTS}
    ),
    Feature.CAMERA_UNDER_WATER: frozenset(Feature),
    Feature.LENS_FOULED: frozenset({Feature.CAMERA_UNDER_WATER, Feature.STANDING_WATER}),
}


def echoes(thing: Thing, feature: Feature) -> bool:
    """Whether a vague word ("gap", "blocked") may only speak of a thing named before."""
    return thing.weak and (
        thing.feature is feature or feature in _ROUGHLY.get(thing.feature, frozenset())
    )


def _one_of_two(things: list[Thing], reading: Reading) -> list[Thing]:
    """Drop what only colours another thing: grease on a lens, a dip that is a bend."""
    features = {thing.feature for thing in things}
    kept = []
    for thing in things:
        on_lens = Feature.LENS_FOULED in features and thing.feature in _SMEARS
        first = reading.words[thing.low]
        bends = (
            Feature.BEND in features and thing.feature is Feature.SAG and first.startswith("dip")
        )
        coupled = (
            Feature.MATERIAL_CHANGE in features
            and thing.feature is Feature.REPAIR
            and any("coupl" in reading.words[i] for i in thing.tokens)
        )
        if not (on_lens or bends or coupled):
            kept.append(thing)
    return kept


_SMEARS = frozenset(
    {
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.STANDING_WATER,
        Feature.ROOTS,
    }
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


_STICKING = word_set("things", "sticking")


def _stick_out(things: list[Thing], reading: Reading) -> None:
    """Take "lateral connection, protruding sixty millimetres" as an intruding tap."""
    if not any(word in _STICKING for word in reading.words):
        return
    for at, word in enumerate(reading.words):
        if word not in _STICKING or any(at in t.tokens for t in things):
            continue
        before = [t for t in things if t.high <= at]
        if before and before[-1].feature is Feature.TAP:
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
    thing.anaphoric = bool(lead) and lead[-1] in ("that", "this", "those", "these", "said", "same")
    if at and words[at - 1] == "the":
        thing.anaphoric = True  # "the connection appears to be abandoned"
    if words[at] in ("it", "it's"):
        thing.anaphoric = True
    pointer = next((i for i in range(at, max(-1, at - 4), -1) if words[i] in _POINTING), None)
    if pointer is None or thing.feature not in _FITTINGS:
        return
    before = words[pointer - 1] if pointer else ""
    if before in _PLACED_BY and thing.feature is not Feature.END:
        thing.reference = True


_AGAIN = frozenset({"again", "too", "also"})
_NEW = word_set("things", "new")


def _refer(things: list[Thing], reading: Reading) -> None:
    """Mark things that only say where another comes from ("sand coming in from that hole")."""
    words = reading.words
    for thing in things:
        others = [t for t in things if t is not thing and not t.reference]
        if not others or thing.low < 2 or thing.feature in (Feature.END, Feature.START):
            continue
        first = thing.low + (words[thing.low] in _POINTING)  # a phrase may hold its own "the"
        if first < 2:
            continue
        lead, before = words[first - 1], words[first - 2]
        fitting = thing.feature in _FITTINGS and lead in _POINTING
        if (lead in ("that", "those") or fitting) and before in _OUT_OF:
            thing.reference = True
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
_ONE_LEADS = word_set("things", "one_leads")
_PLACES = word_set("things", "places")


def _with_ones(things: list[Thing], reading: Reading) -> list[Thing]:
    """Add the things that "one" stands for ("one at twelve and one at six", "a second one")."""
    words = reading.words
    ones = [i for i, word in enumerate(words) if _stands_for_thing(words, i)]
    if not ones:
        return things
    added: list[Thing] = []
    for number, at in enumerate(ones):
        named = [t for t in things if t.high <= at and not t.reference]
        plural = bool(named) and words[named[-1].high - 1].endswith("s")
        if number == 0 and plural and len(ones) > 1:
            named[-1].low, named[-1].high = at, at + 1  # "two cracks": the first of them
            named[-1].fields.pop("count", None)
            continue
        if any(abs(t.low - at) <= 2 and t.low > at for t in things):
            continue  # "another one, a crack": the name follows
        if named and words[at - 1] in ("there's", "here's", "got", "see"):
            continue  # "it's blistered, there's one on the right": the same
        feature = named[-1].feature if named else Feature.CRACK
        one = Thing(feature, at, at + 1, tokens=(at,), another=True, like_last=not named)
        one.asked = reading.question
        added.append(one)
    return sorted([*things, *added], key=lambda thing: thing.low)


_AFTER_ONE = word_set("things", "after_one")


def _stands_for_thing(words: tuple[str, ...], at: int) -> bool:
    if words[at] not in ("one", "another"):
        return False
    if words[at] == "one" and words[at + 1 : at + 2] == (",",):
        return False
    if words[at] == "another" and at + 1 < len(words) and words[at + 1] not in _PLACES:
        return False
    before = words[at - 1] if at else ","
    if before not in _ONE_LEADS:
        return False
    after = words[at + 1 : at + 4]
    placed = any(word in _PLACES for word in after[:2])
    counted = before in ("another", "second", "third")
    return placed or (counted and (not after or after[0] in _AFTER_ONE))


# ------------------------------------------------------------------ denial
def _deny(things: list[Thing], reading: Reading) -> None:
    excused = {i for hit in reading.acts("not_denial") for i in hit.at} | set(reading.idioms)
    for hit in reading.acts("deny"):
        if not excused.isdisjoint(hit.at):
            continue
        end = _denial_end(things, reading, hit.end)
        for thing in things:
            if hit.end <= thing.low < end and not set(hit.at) & set(thing.tokens):
                thing.denied = True
    _deny_behind(things, reading, excused)


def _denial_end(things: list[Thing], reading: Reading, at: int) -> int:
    """How far a denial reaches: over lists, up to the next clause of its own."""
    words, starts = reading.words, {thing.low for thing in things}
    first = at
    while at < len(words):
        word = words[at]
        if word in _BREAKS_DENIAL:
            return at
        if at == first and word in (",", "—", "–", "--", "…"):
            return at  # "no, that's the other one": no denial of what follows
        if word in (",", ";", ":", "—", "–", "--") or word in ("and", "or", "nor"):
            ahead = words[at + 1 : at + 5]
            listed = any(at < start <= at + 4 for start in starts)
            if word not in ("or", "nor") and (not listed or any(w in _NEW_CLAUSE for w in ahead)):
                return at
        at += 1
    return at


def _deny_behind(things: list[Thing], reading: Reading, excused: set[int]) -> None:
    """Read "cracks, none", "roots: no"."""
    words = reading.words
    for thing in things:
        tail = [word for word in words[thing.high :] if word[0].isalnum()]
        if tail in (["none"], ["no"], ["negative"], ["nope"], ["none", "here"], ["nothing"]):
            thing.denied = True
        if tail[:1] == ["free"] or _unseen(tail):
            thing.denied = True


def _unseen(tail: list[str]) -> bool:
    """ "... further up, I can't see one"."""
    return any(
        tail[i] in ("can't", "don't", "didn't")
        and tail[i + 1 : i + 3] in (["see", "one"], ["see", "any"])
        for i in range(len(tail))
    )


# ------------------------------------------------------------------ hedges
def _suppose(things: list[Thing], reading: Reading) -> None:
    sure = reading.acts("sure")
    for hit in reading.acts("hedge"):
        target = _hedged(things, reading, hit)
        if target is not None:
            target.supposed = True
    for hit in sure:
        for thing in things:
            if reading.boundaries[hit.start] == reading.boundaries[thing.low]:
                thing.sure = True


def _hedged(things: list[Thing], reading: Reading, hit: Hit) -> Thing | None:
    """The thing a hedge is about; ``None`` where it is about a size, a cause or an owner."""
    words = reading.words
    following = words[hit.end : hit.end + 5]
    for offset, word in enumerate(following):
        if word.startswith("<"):
            if any(hit.end <= t.low < hit.end + offset for t in things):
                break
            if word != "<bend>":
                return None
        if word in _OF_CAUSE and not any(
            t.low <= hit.end + offset + 2 for t in things if t.low >= hit.end
        ):
            return None
        if word not in _BETWEEN_HEDGE_AND_SIZE:
            break
    ahead = [t for t in things if t.low >= hit.end]
    if ahead and any(t.feature is ahead[0].feature and t.high <= hit.start for t in things):
        return None
    behind = [t for t in things if t.high <= hit.start]
    inside = [t for t in things if t.low < hit.end and t.high > hit.start]
    if inside:
        return inside[0]
    crossed = reading.boundaries
    if ahead and crossed[ahead[0].low] - crossed[hit.end - 1] <= 1:
        return ahead[0]
    rest = [w for w in words[hit.end :] if w[0].isalnum() and w not in _EMPTY]
    amount_before = hit.start > 0 and any(
        w.startswith("<") for w in words[max(0, hit.start - 2) : hit.start]
    )
    if behind and not rest and not amount_before:
        return behind[-1]
    return None


_BETWEEN_HEDGE_AND_SIZE = word_set("things", "between_hedge_and_size")
_OF_CAUSE = word_set("things", "of_cause")
_EMPTY = word_set("things", "empty")


# ------------------------------------------------------------------ talk
def _only_talk(things: list[Thing], reading: Reading) -> None:
    """Mark what is spoken of but not claimed as seen here and now."""
    advice = reading.acts("advice")
    plain = {index for hit in reading.acts("plain_would") for index in hit.at}
    hypothetical = [
        hit
        for hit in reading.acts("hypothetical")
        if reading.idioms.isdisjoint(hit.at) and plain.isdisjoint(hit.at)
    ]
    strong = bool(reading.acts("cleaning")) and not any(w in _SHOWN for w in reading.words)
    later = reading.acts("cleaning") and any(w in _LATER for w in reading.words)
    for thing in things:
        if thing.feature in (Feature.END, Feature.COULD_NOT_PASS, Feature.START):
            thing.talked_of = _not_yet(thing, reading)
            continue
        if (
            any(_governs(hit, thing, reading, reach=2) for hit in hypothetical)
            or (
                advice
                and advice[0].start <= thing.high + 12
                and _governed_by_advice(advice, thing, reading)
            )
            or (strong and thing.feature in _CLEANABLE and not (later and _first(thing, reading)))
            or _generally(thing, reading)
            or _usually(thing, reading)
            or _spoken_of_before(thing, reading)
            or _only_just(thing, things, reading)
        ):
            thing.talked_of = True


def _not_yet(thing: Thing, reading: Reading) -> bool:
    """ "almost at the main", "should be close to the manhole": not there yet."""
    lead = reading.words[max(0, thing.low - 4) : thing.low + 1]
    return any(word in _NEARLY for word in lead)


_NEARLY = word_set("things", "nearly")


def _spoken_of_before(thing: Thing, reading: Reading) -> bool:
    """ "the crack we saw earlier", "same crack as before": no new sight of it."""
    after = reading.words[thing.high : thing.high + 5]
    pairs = set(pairwise(after))
    return bool(
        pairs
        & {
            ("we", "saw"),
            ("i", "saw"),
            ("as", "before"),
            ("from", "before"),
            ("behind", "us"),
            ("we", "already"),
            ("i", "already"),
        }
    ) or any(word == "earlier" for word in after)


def _only_just(thing: Thing, things: list[Thing], reading: Reading) -> bool:
    """ "that isn't a crack, that's just a stain": the second is no finding either."""
    lead = reading.words[max(0, thing.low - 3) : thing.low]
    return any(word in ("just", "only") for word in lead) and any(
        other.denied and other.high <= thing.low for other in things
    )


def _first(thing: Thing, reading: Reading) -> bool:
    """Whether the thing is named before the cleaning still to come is spoken of."""
    return thing.high <= reading.acts("cleaning")[0].start


def _generally(thing: Thing, reading: Reading) -> bool:
    """ "roots don't read property lines", "roots love clay": said of the kind, not the place."""
    after = reading.words[thing.high : thing.high + 2]
    if not after or after[0] not in _GENERAL:
        return False
    return reading.words[thing.high - 1].endswith("s") or after[0] in ("always", "usually", "tends")


def _usually(thing: Thing, reading: Reading) -> bool:
    return any(word in _HABIT for word in reading.words[thing.high : thing.high + 3])


_HABIT = word_set("things", "habit")


_GENERAL = word_set("things", "general")
_LATER = word_set("things", "later")
_SHOWN = word_set("things", "shown")
_CLEANABLE = frozenset(
    {
        Feature.ROOTS,
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.SURFACE_DAMAGE,
        Feature.TAP,
        Feature.BREAK,
        Feature.MATERIAL_CHANGE,
    }
)


def _governs(hit: Hit, thing: Thing, reading: Reading, reach: int) -> bool:
    """Whether a phrase stands before the thing within so few clause boundaries."""
    if hit.start > thing.low or hit.end > thing.high:
        return False
    crossed = reading.boundaries[thing.low] - reading.boundaries[hit.end - 1]
    return crossed < reach


def _governed_by_advice(advice: tuple[Hit, ...], thing: Thing, reading: Reading) -> bool:
    boundaries = reading.boundaries
    return any(
        (hit.start <= thing.low and boundaries[thing.low] - boundaries[hit.start] <= 1)
        or (hit.start > thing.low and boundaries[hit.start] == boundaries[thing.low])
        for hit in advice
    )

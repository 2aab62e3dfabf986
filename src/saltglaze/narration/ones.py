"""The things that "one" stands for: "one at twelve and one at six", "a second one"."""

from __future__ import annotations

from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_SIZED = word_set("things", "sized")
_ONE_LEADS = word_set("things", "one_leads")
_PLACES = word_set("things", "places")


def with_ones(things: list[Thing], reading: Reading) -> list[Thing]:
    """Add the things that "one" stands for ("one at twelve and one at six", "a second one")."""
    words = reading.words
    own = {i for thing in things for i in range(thing.low, thing.high)}
    ones = [i for i in range(len(words)) if i not in own and _stands_for_thing(words, i)]
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
        graded = named and words[at - 1] in _SIZED and set(words[named[-1].high : at - 1]) <= _AND_A
        if graded:
            continue  # "root ball, big one"
        if number == 0 and plural and len(ones) > 1:
            named[-1].low, named[-1].high = at, at + 1  # "two cracks": the first of them
            named[-1].fields.pop("count", None)
            continue
        if any(abs(t.low - at) <= 2 and t.low > at for t in things):
            continue  # "another one, a crack": the name follows
        also = {"too", "also", "well"} & set(words[at : at + 7])
        again = also or words[at] == "another"
        if named and words[at - 1] in ("there's", "here's", "got", "see") and not again:
            continue  # "it's blistered, there's one on the right": the same
        feature = named[-1].feature if named else Feature.CRACK
        one = Thing(feature, at, at + 1, tokens=(at,), another=True, like_last=not named)
        one.asked = reading.question
        added.append(one)
    return sorted([*things, *added], key=lambda thing: thing.low)


_AND_A = frozenset({",", "a", "and", "pretty", "real", "very"})


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


def with_next(things: list[Thing], reading: Reading) -> list[Thing]:
    """Add what the next joint is said to have as well, in the same breath.

    "Roots at this joint and then the next joint has a bunch more."
    """
    words = reading.words
    for at in range(1, len(words) - 1):
        behind = [t for t in things if t.low >= at]
        before = [t for t in things if t.high <= at and not (t.denied or t.reference)]
        steps_on = words[at] == "next" and words[at + 1] in _STEPS and words[at - 1] not in _AT
        if steps_on and before and not behind and _LIKEWISE & set(words[at + 2 :]):
            last = before[-1]
            things = [*things, Thing(last.feature, at, at + 1, tokens=(at,), another=True)]
    return things


_STEPS = frozenset({"joint", "one", "section", "length", "piece", "pipe"})
_AT = frozenset({"into", "to", "at"})
_LIKEWISE = frozenset({"same", "too", "also", "more", "again", "ditto", "likewise"})


def _several(thing: Thing, count: int, reading: Reading) -> bool:
    """Whether a thing is named as many: "two cracks", "two crack"."""
    told = reading.amounts.get(thing.low - 1)
    counted = told is not None and told.measure is Measure.NUMBER and told.value == count
    shared = {"each", "either", "both"} & set(reading.words[thing.high : thing.high + 3])
    return counted or bool(shared and count == 2) or reading.words[thing.high - 1].endswith("s")


_AFTER_ONE = word_set("things", "after_one")


_FEW_BEFORE = 3
_THE_SECOND = frozenset((it, "the") for it in ("that's", "it's", "is", "makes"))


def _stands_for_thing(words: tuple[str, ...], at: int) -> bool:  # noqa: PLR0911 - one guard a rule
    counted_one = words[at] == "one's" and words[at - 1] in ("second", "third", "other", "next")
    if words[at] == "same" and words[at - 1] == "the" and at > _FEW_BEFORE:
        return words[at + 1 : at + 2] in (("at",), ("on",), ("over",), ("opposite",))
    if words[at] not in ("one", "another") and not counted_one:
        return False
    if at == 0 and words[1:2] == ("<number>",):
        return False  # "one two, a few roots": 1.2 metres
    if _THE_SECOND & set(pairwise(words[max(0, at - 3) : at])):
        return False  # "that's the second one": the one before
    across = words[at - 1 : at] == (",",) and bool({"across", "opposite"} & set(words[:at]))
    if words[at] == "another" and across and words[at + 1 : at + 2] in ((), (".",), (",",)):
        return True
    if words[at] == "another" and at + 1 < len(words) and words[at + 1] not in _PLACES:
        return False
    before = words[at - 1] if at else ","
    if before in _SIZED:  # "two point four, that's a big one"
        return any(word in ("<length>", "<number>") for word in words[:2])
    told = before in ("another", "second", "third")
    if words[at] == "one" and words[at + 1 : at + 2] == (",",) and not told:
        return False
    if before not in _ONE_LEADS:
        return False
    after = words[at + 1 : at + 4]
    placed = any(word in _PLACES for word in after[:2])
    counted = before in ("another", "second", "third")
    if counted_one:
        return placed
    return placed or (counted and (not after or after[0] in _AFTER_ONE))

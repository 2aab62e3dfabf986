"""What the pipe is made of, as the talk goes along, and where that changes."""

from __future__ import annotations

from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.narration.bores import Bore
from saltglaze.narration.ground import ground_at
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import table, word_set
from saltglaze.narration.thing import Thing

_TURNS_INTO = word_set("changes", "turns_into")
_STATES = word_set("changes", "states")
_NOT_PIPE = word_set("changes", "not_pipe")
_PIECES = frozenset(table("features")["sets"]["piece"])
_FALLS_IN = word_set("things", "coming")
_GREETING_S = 10.0


def material_said(reading: Reading, things: list[Thing]) -> list[tuple[Hit, Material]]:
    """Return the materials that are said of the pipe itself, not of dirt or a patch."""
    covered = {
        index
        for thing in things
        for index in thing.tokens
        if thing.feature is not Feature.MATERIAL_CHANGE
    }
    said: list[tuple[Hit, Material]] = []
    for hit in reading.materials:
        lead = reading.words[max(0, hit.start - 2) : hit.start]
        if set(hit.at) <= covered or reading.idioms & set(hit.at):
            continue
        if any(word in _NOT_PIPE for word in lead[-1:]) and len(hit.at) == 1:
            short = lead[-1]
            if short not in ("in", "of"):
                continue
        if any(word in ("see", "behind") for word in lead) or ground_at(reading) == hit.start:
            continue
        if lead[-1:] == ("of",) and lead[0] in _PIECES:
            continue  # "a fragment of concrete"
        if set(lead) & _FIGURED and len(reading.materials) > 1:
            continue  # "I figured plastic and it's old terracotta"
        after = reading.words[hit.end : hit.end + 2]
        if after[:1] in (("out",), ("outside",), ("behind",)) and after != ("out", "of"):
            continue
        if after[:1] and after[0] in _FALLS_IN and after[1:] in (("in",), ("through",), ("out",)):
            continue  # "there's clay coming in"
        if lead == ("in", "the") and "back" not in reading.words and any(_live(t) for t in things):
            continue  # "standing water in the plastic"
        if lead[-1:] in _OF_IT and not _turning(reading, hit) and any(_live(t) for t in things):
            continue  # "a split down the side of the plastic", "this iron's cracked"
        begun = reading.start_s > _GREETING_S  # "the run from the bungalow, four inch clay"
        taps = [t for t in things if _live(t) and t.feature is Feature.TAP]
        if begun and any(t.high <= hit.start for t in taps):
            continue  # "connection on the right, plastic"
        said.append((hit, Material(hit.entry["material"])))
    return said


_FIGURED = frozenset({"figured", "thought", "expected", "expecting", "guessed", "told"})
_OF_IT = (("the",), ("this",), ("of",), ("that",))


def _turning(reading: Reading, hit: Hit) -> bool:
    """Whether words of turning into or of beginning stand beside a material."""
    return _turns_into(reading, hit) or _changes(reading) or "where" in reading.words


def _live(thing: Thing) -> bool:
    return not (thing.denied or thing.talked_of or thing.reference) and (
        thing.feature not in (Feature.MATERIAL_CHANGE, Feature.DIAMETER_CHANGE)
    )


def material_change(reading: Reading, things: list[Thing], bore: Bore) -> Thing | None:  # noqa: PLR0911 - one guard a rule
    """Return the change of material that a sentence tells of, and keep track of the bore."""
    distinct = _one_after_another(material_said(reading, things))
    named = next((t for t in things if t.feature is Feature.MATERIAL_CHANGE), None)
    if not distinct:
        return named
    if any(thing.denied for thing in things if thing.feature is Feature.MATERIAL_CHANGE):
        return named
    if len(distinct) >= 2 and _to_come(reading, distinct[0][0], distinct[1][0]):
        distinct = distinct[:1]  # "clay for a ways and then she'll go to iron"
        if named is not None:
            named.talked_of = True
            return None
    linked = len(distinct) >= 2 and (
        named is not None or _links(reading, distinct[0][0], distinct[1][0])
    )
    if linked:
        before, after = distinct[0][1], distinct[1][1]
        ends = reading.words[distinct[1][0].end : distinct[1][0].end + 1]
        if _reversed(reading, distinct[0][0]) or (ends and ends[0] in _ENDS):
            before, after = after, before
        return _changed(reading, named, distinct[1][0], before, after, bore)
    other = [pair for pair in distinct if pair[1] is not bore.material]
    hit, material = (other or distinct)[-1]
    turns = named is not None or _turns_into(reading, hit) or _alone(reading, hit)
    if bore.material is None and (not turns or not _changes(reading)):
        return named
    unclaimed = any(act.start < hit.start for act in reading.acts("hypothetical")) or any(
        thing.denied and thing.high <= hit.start for thing in things
    )
    if unclaimed and named is None:
        return None
    returns = "back" in reading.words[max(0, hit.start - 4) : hit.start] or (
        reading.words[hit.end : hit.end + 1] == ("again",)
    )
    if material is bore.material and not returns:
        return named
    if not (turns or _states(reading, hit, things)):
        return named
    if (
        named is None
        and reading.acts("sound")
        and not _changes(reading)
        and not _tells_where(reading)
    ):
        return None  # "for me the plastic is good"
    return _changed(reading, named, hit, bore.material, material, bore)


def _tells_where(reading: Reading) -> bool:
    """Whether a distance, "now", "here" or "from" ties what is said to this place."""
    placed = any(a.measure in (Measure.LENGTH, Measure.NUMBER) for a in reading.amounts.values())
    return placed or bool({"now", "here", "here's", "from", "back"} & set(reading.words))


def _changes(reading: Reading) -> bool:
    """Whether the words tell of a change even where it is not known from what."""
    return any(
        word in _CHANGING and (word != "back" or following in ("to", "in", "into", "on", "onto"))
        for word, following in pairwise((*reading.words, "."))
    )


_CHANGING = word_set("changes", "changing")


def _alone(reading: Reading, hit: Hit) -> bool:
    """Whether a sentence says nothing but the material: "And cast."."""
    rest = [w for i, w in enumerate(reading.words) if i not in hit.at and w[0].isalnum()]
    if len(rest) == len(reading.words) or (
        not rest and hit.entry["material"] in ("concrete", "brick")
    ):
        return False
    return len(rest) <= 3 and all(word in _FILLS for word in rest)


_ENDS = ("ends", "stops", "quits", "finishes", "finish", "terminates")
_FILLS = frozenset({"and", "now", "then", "okay", "so", "to", "boom", "bang", "oh", "yep", "into"})


def _links(reading: Reading, first: Hit, second: Hit) -> bool:
    between = reading.words[first.end : second.start]
    if {"compared", "than", "relative", "against"} & set(between):
        return False
    if "from" in reading.words[max(0, first.start - 3) : first.start] and "to" in between:
        return True
    ended = bool(between[:1]) and between[0] in _ENDS
    return len(between) <= 9 and (ended or any(word in _TURNS_INTO for word in between))


def _one_after_another(said: list[tuple[Hit, Material]]) -> list[tuple[Hit, Material]]:
    """Return the materials in the order told, each named again only behind another."""
    return [pair for at, pair in enumerate(said) if not at or pair[1] is not said[at - 1][1]]


def _to_come(reading: Reading, first: Hit, second: Hit) -> bool:
    """Whether a second material is only foretold."""
    return bool(_WILL & set(reading.words[first.end : second.start]))


_WILL = frozenset({"she'll", "it'll", "he'll", "we'll", "will", "they'll"})


def _reversed(reading: Reading, first: Hit) -> bool:
    """Read "into clay from the cast iron": what is left is named second."""
    return reading.words[first.end : first.end + 1] == ("from",)


def _turns_into(reading: Reading, hit: Hit) -> bool:
    lead = reading.words[max(0, hit.start - 4) : hit.start]
    if "going" in lead and "be" in lead:
        return False
    skip = reading.words[hit.end : hit.end + 1] in (("pipe",), ("line",), ("tile",))
    after = reading.words[hit.end + skip : hit.end + skip + 1]
    return any(word in _TURNS_INTO for word in lead) or after in (
        ("begins",),
        ("starts",),
        ("begin",),
        ("start",),
    )


def _states(reading: Reading, hit: Hit, things: list[Thing]) -> bool:
    """Whether the sentence plainly says that the pipe here is of this material."""
    if any(t.feature in (Feature.REPAIR, Feature.LINER) and not t.talked_of for t in things):
        return False
    words = reading.words
    lead = words[max(0, hit.start - 4) : hit.start]
    after = words[hit.end : hit.end + 2]
    if after[:1] in (("tap",), ("wye",), ("connection",), ("lateral",), ("tee",), ("cleanout",)):
        return False
    return (
        any(word in _STATES for word in lead)
        or after[:1] in (("now",), ("here",), ("again",), ("from",), ("begins",), ("starts",))
        or (hit.start == 0 and bool(after) and not after[0][0].isalnum() and after[0] != "'s")
    )


def _changed(
    reading: Reading,
    named: Thing | None,
    hit: Hit,
    before: Material | None,
    after: Material,
    bore: Bore,
) -> Thing:
    thing = named or Thing(Feature.MATERIAL_CHANGE, hit.start, hit.end, tokens=hit.at)
    thing.fields["material_after"] = after
    if before is not None and before is not after:
        thing.fields["material"] = before
    bore.material = after
    return thing

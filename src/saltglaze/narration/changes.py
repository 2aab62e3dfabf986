"""What the pipe is made of and how wide, as the talk goes along, and where that changes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.narration.amounts import Amount
from saltglaze.narration.ground import ground_at
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import BLOCKING, estimate
from saltglaze.narration.tables import table, word_set
from saltglaze.narration.thing import Thing

_TURNS_INTO = word_set("changes", "turns_into")
_STATES = word_set("changes", "states")
_NOT_PIPE = word_set("changes", "not_pipe")
_PIECES = frozenset(table("features")["sets"]["piece"])
_FALLS_IN = word_set("things", "coming")
_GREETING_S = 10.0
_BORES_M = (0.03, 1.6)


@dataclass
class Bore:
    """What the line is known to be made of and how wide, where the talk has got to."""

    material: Material | None = None
    diameter_m: float | None = None


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
    said = material_said(reading, things)
    distinct: list[tuple[Hit, Material]] = []
    for hit, material in said:
        if not distinct or distinct[-1][1] is not material:
            distinct.append((hit, material))
    named = next((t for t in things if t.feature is Feature.MATERIAL_CHANGE), None)
    if not distinct:
        return named
    if any(thing.denied for thing in things if thing.feature is Feature.MATERIAL_CHANGE):
        return named
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


# ------------------------------------------------------------------ bore
def bore_amounts(reading: Reading) -> list[tuple[int, Amount]]:
    """Return the lengths that are pipe diameters ("four inch clay", "hundred mil pipe")."""
    found: list[tuple[int, Amount]] = []
    for index, amount in reading.amounts.items():
        if amount.to is not None or amount.rough:
            continue
        after = reading.words[index + 1 : index + 4]
        if amount.measure is Measure.NUMBER:
            value = _nominal_mm(amount, after, beside=reading.metric and bool(reading.materials))
            if value is not None:
                found.append((index, Amount(Measure.LENGTH, value, unit="mm")))
            continue
        small = amount.measure is Measure.LENGTH and amount.unit in ("in", "mm", "cm")
        if not small or not _BORES_M[0] <= amount.value <= _BORES_M[1]:
            continue
        found.append((index, amount))
    return found


def _nominal_mm(amount: Amount, after: tuple[str, ...], *, beside: bool) -> float | None:
    metric = (75, 100, 110, 125, 150, 160, 200, 225, 250, 300, 375, 400, 450, 525, 600, 750, 900)
    if amount.value not in metric or amount.fraction:
        return None
    named = any(
        word in ("diameter", "pipe", "clay", "concrete", "pvc", "plastic", "clayware", "dia")
        for word in after[:2]
    )
    named = named or (beside and amount.value >= 100)
    return amount.value / 1000.0 if named else None


def is_bore(reading: Reading, index: int) -> bool:
    """Whether words beside a small length say that it is a pipe's diameter."""
    after = reading.words[index + 1 : index + 4]
    before = reading.words[max(0, index - 3) : index]
    if before[-1:] in (("in",), ("by",), ("out",)):
        return False  # "it's pushed in five centimetres"
    if any(word in _BORE_WORDS for word in after[:2]):
        return True
    return any(word in ("diameter", "pipe", "bore", "it's", "its", "size") for word in before) and (
        not after or not after[0][0].isalnum()
    )


_BORE_WORDS = word_set("changes", "bore_words")


def diameter_change(reading: Reading, things: list[Thing], bore: Bore) -> Thing | None:
    """Return the change of diameter that a sentence tells of, and keep track of the bore."""
    named = next((t for t in things if t.feature is Feature.DIAMETER_CHANGE), None)
    shares = any(a.measure is Measure.SHARE for a in reading.amounts.values())
    if named is not None and shares and any(t.feature in BLOCKING for t in things):
        named.talked_of = True  # "tuberculation reduces the bore by a third"
    if named is not None and _of_a_gap(reading):
        named.talked_of = True  # "it opens to an eighth of an inch"
    if named is not None and (named.denied or named.talked_of):
        return None
    pair = _pair(reading, named, things)
    if pair is not None:
        return _resized(named, pair[0], pair[1], bore, pair[2])
    index, value = _new_size(reading, named, things, bore)
    if value is None:
        return named
    known = bore.diameter_m
    differs = known is not None and abs(known - value) >= _SAME_BORE_M
    if named is not None:
        return _resized(named, known if differs else None, value, bore, index)
    return _resized(None, known, value, bore, index) if differs else None


def _of_a_gap(reading: Reading) -> bool:
    """Whether the only length told is far too small for a pipe."""
    lengths = [a.middle for a in reading.amounts.values() if a.measure is Measure.LENGTH]
    return bool(lengths) and max(lengths) < _BORES_M[0]


_SAME_BORE_M = 0.008
_GOES_TO = word_set("changes", "goes_to")


def _new_size(
    reading: Reading, named: Thing | None, things: list[Thing], bore: Bore
) -> tuple[int, float | None]:
    """The one size that a sentence says the pipe has from here on, and its token."""
    found = [(i, a.value) for i, a in bore_amounts(reading)]
    changes = any(t.feature is Feature.MATERIAL_CHANGE and not t.talked_of for t in things)
    if named is not None or (changes and bore.diameter_m is not None):
        found += [
            (i, nominal)
            for i, nominal in _bare_sizes(reading, named is not None)
            if i not in dict(found)
        ]
    if len(found) != 1:
        return -1, None
    index, value = found[0]
    if named is not None:
        return index, value
    goes = _goes_to_size(reading, index)
    others = [t for t in things if not _passive(t)]
    narrowed = any(t.feature in BLOCKING or t.feature is Feature.DEFORMATION for t in others)
    if others and (narrowed or not goes):
        return -1, None
    now = _is_now(reading, index)
    told = goes or now or is_bore(reading, index) or _into(reading, index)
    if changes and not others:
        told = told or _ends_clause(reading, index) or _before_material(reading, index)
    entered = _into(reading, index) and _before_material(reading, index)
    return (index, value) if told and (goes or now or changes or entered) else (-1, None)


def _is_now(reading: Reading, index: int) -> bool:
    """Whether a size is said to hold from here on: "four inch now", "now it's six inch"."""
    words = reading.words
    return words[index + 1 : index + 2] == ("now",) or "now" in words[max(0, index - 3) : index]


def _goes_to_size(reading: Reading, index: int) -> bool:
    """Whether the words before a size say that the pipe goes over to it ("bumps up to four")."""
    lead = reading.words[max(0, index - 4) : index]
    return any(word in _GOES_TO for word in lead) and any(w in ("to", "into") for w in lead)


def _ends_clause(reading: Reading, index: int) -> bool:
    after = reading.words[index + 1 : index + 2]
    before = reading.words[index - 1 : index]
    return (not after or not after[0][0].isalnum()) and before in ((",",), ("and",))


def _before_material(reading: Reading, index: int) -> bool:
    return any(
        hit.start - 2 <= index < hit.start
        or (hit.end < index <= hit.end + 2 and reading.words[index - 1] == "is")
        for hit in reading.materials
    )


def _bare_sizes(reading: Reading, sure: bool) -> list[tuple[int, float]]:
    """Sizes said without a unit: "a hundred and fifty", and "four" where a change is named."""
    return [
        (i, _nominal(a.value))
        for i, a in reading.amounts.items()
        if a.measure is Measure.NUMBER
        and a.to is None
        and not a.fraction
        and a.value in _NOMINAL
        and (
            a.value > 48
            or _bigger(reading, i)
            or reading.words[max(0, i - 2) : i] in (("down", "to"), ("up", "to"))
            or (sure and reading.words[i - 1 : i] in (("to",), ("into",), ("a",)))
        )
    ]


def _bigger(reading: Reading, index: int) -> bool:
    """Read "and it's bigger, twelve"."""
    lead = reading.words[max(0, index - 2) : index]
    if lead == ("now", "it's"):
        return True
    return lead[-1:] == (",",) and lead[0] in ("bigger", "smaller", "wider", "narrower", "larger")


def _passive(thing: Thing) -> bool:
    return (
        thing.reference
        or thing.denied
        or thing.talked_of
        or thing.feature in (Feature.MATERIAL_CHANGE, Feature.START, Feature.REPAIR)
    )


def _into(reading: Reading, index: int) -> bool:
    lead = reading.words[max(0, index - 4) : index]
    return any(word in _TURNS_INTO for word in lead)


def _pair(  # noqa: PLR0911 - one guard a rule
    reading: Reading, named: Thing | None, things: list[Thing]
) -> tuple[float, float, int] | None:
    """Return two bores told as one going over into the other: before, after, where."""
    live = [t for t in things if not _passive(t) and t is not named]
    for index, amount in reading.amounts.items():
        if amount.to is None:
            continue
        if amount.measure is Measure.LENGTH and amount.unit in ("in", "mm"):
            alone = named is not None or reading.words[index + 1 : index + 2] in ((), (".",))
            if alone and not live and _BORES_M[0] <= amount.value <= _BORES_M[1]:
                return amount.value, amount.to, index
        if named is not None and amount.measure is Measure.NUMBER:
            return _nominal(amount.value), _nominal(amount.to), index
    shrunk = _from_to(reading)
    if shrunk is not None and not live:
        return shrunk
    told = [(i, a.value) for i, a in bore_amounts(reading)]
    if named is not None and len(told) < 2:
        told += [
            (i, _nominal(a.value))
            for i, a in reading.amounts.items()
            if a.measure is Measure.NUMBER and a.value in _NOMINAL and i not in dict(told)
        ]
        told.sort()
    if len(told) < 2:
        return None
    between = reading.words[told[0][0] + 1 : told[1][0]]
    if named is None and not any(word in _TURNS_INTO for word in between):
        return None
    if abs(told[0][1] - told[1][1]) < _SAME_BORE_M:
        return None
    return told[0][1], told[1][1], told[1][0]


def _from_to(reading: Reading) -> tuple[float, float, int] | None:
    """Read "from four to three inch", "three inch to four", "six to four": sizes pipes come in."""
    for index, first in reading.amounts.items():
        other = index + 2 + (reading.words[index + 2 : index + 3] == ("a",))
        second = reading.amounts.get(other)
        if second is None or reading.words[index + 1] not in ("to", "into"):
            continue
        if first.to is not None or second.to is not None:
            continue
        units = {a.unit for a in (first, second) if a.measure is Measure.LENGTH}
        numbers = {a.measure for a in (first, second)} <= {Measure.LENGTH, Measure.NUMBER}
        if not numbers or len(units) != 1 or not units <= {"in", "mm"}:
            continue
        factor = 0.0254 if units == {"in"} else 0.001
        sizes = [
            a.value if a.measure is Measure.LENGTH else a.value * factor for a in (first, second)
        ]
        if all(round(size / factor) in _NOMINAL for size in sizes) and sizes[0] != sizes[1]:
            return sizes[0], sizes[1], other
    return None


_NOMINAL = (
    2,
    3,
    4,
    5,
    6,
    8,
    10,
    12,
    15,
    18,
    21,
    24,
    30,
    36,
    50,
    75,
    100,
    110,
    150,
    160,
    200,
    225,
    250,
    300,
    375,
    450,
    600,
)


def _nominal(value: float) -> float:
    """A bare bore: small numbers are inches, large ones millimetres."""
    return value * 0.0254 if value <= 48 else value / 1000.0


def _resized(
    named: Thing | None, before: float | None, after: float, bore: Bore, index: int
) -> Thing:
    thing = named or Thing(Feature.DIAMETER_CHANGE, index, index + 1, tokens=(index,))
    if before is not None:
        known = Amount(Measure.LENGTH, before, unit="m")
        thing.fields["diameter_m"] = estimate("diameter_m", known)
    thing.fields["diameter_after_m"] = estimate(
        "diameter_after_m", Amount(Measure.LENGTH, after, unit="m")
    )
    bore.diameter_m = after
    return thing

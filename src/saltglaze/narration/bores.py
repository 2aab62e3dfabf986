"""How wide the pipe is, as the talk goes along, and where that changes."""

from __future__ import annotations

from dataclasses import dataclass

from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.narration.amounts import Amount
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import BLOCKING, estimate
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_TURNS_INTO = word_set("changes", "turns_into")
_BORES_M = (0.03, 1.6)


@dataclass
class Bore:
    """What the line is known to be made of and how wide, where the talk has got to."""

    material: Material | None = None
    diameter_m: float | None = None


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
    bare = _bare_sizes(reading, named is not None) if bore.diameter_m is not None or named else []
    found += [
        (i, nominal)
        for i, nominal in bare
        if i not in dict(found) and (named or changes or (not things and _now_bare(reading, i)))
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
    now = _is_now(reading, index) or _now_bare(reading, index)
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


def _now_bare(reading: Reading, index: int) -> bool:
    """Read "and smaller, two fifty", "and it's a hundred and ten now"."""
    lead, after = reading.words[:index], reading.words[index + 1 : index + 2]
    smaller = len(lead) >= 2 and lead[-2] in _SIZED and lead[-1] == ","
    return smaller or (after == ("now",) and lead[-1:] in (("it's",), ("its",), ("we're",)))


_SIZED = frozenset({"bigger", "smaller", "wider", "narrower", "larger"})


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

"""What the talk says about the line as a whole, each with the words it came from."""

from __future__ import annotations

from collections.abc import Iterator

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.line import Service
from saltglaze.model.run import Direction
from saltglaze.model.talk import LineFact, LineFactKind
from saltglaze.narration.bores import Bore, bore_amounts, is_bore
from saltglaze.narration.changes import material_said
from saltglaze.narration.journey import enters, heading
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit, PhraseBook
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import estimate
from saltglaze.narration.tables import table, word_set
from saltglaze.narration.thing import Thing


def _book(name: str) -> PhraseBook:
    raw = table("facts")
    return PhraseBook(raw[name], raw.get("sets", {}))


_BOOKS: dict[str, PhraseBook] = {}


def _beside_material(reading: Reading, things: list[Thing]) -> bool:
    """Whether a size stands in a sentence that names the pipe and no finding."""
    plain = all(t.reference or t.denied or t.talked_of for t in things)
    return plain and bool(reading.materials)


def _only_size(reading: Reading) -> bool:
    """Whether an early remark says nothing but a size: "three inch"."""
    words = [word for word in reading.words if word[0].isalnum()]
    return reading.start_s < _ACCESS_WITHIN_S and len(words) <= 1


def _hits(name: str, reading: Reading) -> tuple[Hit, ...]:
    if name not in _BOOKS:
        _BOOKS[name] = _book(name)
    return tuple(_BOOKS[name].find(reading.words))


def _find(name: str, reading: Reading) -> tuple[str, ...]:
    return tuple(str(hit.entry.get("value", "")) for hit in _hits(name, reading))


_ENDS_OF_LINE = (
    ("manhole",),
    ("chamber",),
    ("end",),
    ("access",),
    ("pit",),
    ("node",),
    ("joint",),
    ("side",),
    ("cleanout",),
)
"""Words that make "the downstream ..." a place and no way to go."""


def line_facts(reading: Reading, things: list[Thing], bore: Bore) -> Iterator[LineFact]:
    """Yield the facts of one sentence about the line, each with the sentence as its source."""
    supposed = bool(reading.acts("hedge"))
    for kind, value, number in _told(reading, things, bore):
        yield LineFact(
            kind=kind,
            time_s=round(reading.start_s, 2),
            value=value,
            number=number,
            supposed=supposed,
            text=reading.text,
        )


_Told = tuple[LineFactKind, str | None, Estimate | None]


def _told(reading: Reading, things: list[Thing], bore: Bore) -> Iterator[_Told]:
    yield from _pipe(reading, things, bore)
    yield from _run(reading)
    for number in _section_lengths(reading):
        yield LineFactKind.SECTION_LENGTH, None, number
    for number in _depths(reading):
        yield LineFactKind.DEPTH, None, number
    for number in _years(reading):
        yield LineFactKind.YEAR, None, number
    if _find("house_connection", reading) or _serves(reading, things):
        yield LineFactKind.HOUSE_CONNECTION, None, None
    for kind, act in _BY_ACT:
        if reading.acts(act):
            yield kind, None, None


_ROOMS = word_set("facts", "rooms")
_SHORT = 8
_THATS = frozenset({"that's", "that'd", "that'll", "thats", "that"})
_TAPS = frozenset({Feature.TAP, Feature.INTRUDING_TAP})


def _serves(reading: Reading, things: list[Thing]) -> bool:
    """Whether a tap is told by what it drains: "wye on the left, that's the tub"."""
    words = [word for word in reading.words if word[0].isalnum()]
    if not _ROOMS & set(words) or reading.question:
        return False
    if any(t.feature in _TAPS and not (t.denied or t.reference) for t in things):
        return True
    return not things and words[0] in _THATS and len(words) <= _SHORT


_BY_ACT = (
    (LineFactKind.CLEANING, "cleaning"),
    (LineFactKind.OWNERSHIP, "ownership"),
    (LineFactKind.RECORD, "records"),
)


def _pipe(reading: Reading, things: list[Thing], bore: Bore) -> Iterator[_Told]:
    """Material and diameter, as first told of the line."""
    if bore.material is None:
        for _, material in material_said(reading, things)[:1]:
            bore.material = material
            yield LineFactKind.MATERIAL, material.value, None
    if bore.diameter_m is None:
        for index, amount in bore_amounts(reading):
            if is_bore(reading, index) or _beside_material(reading, things) or _only_size(reading):
                bore.diameter_m = amount.value
                yield LineFactKind.DIAMETER, None, estimate("diameter_m", amount)
                break


def _run(reading: Reading) -> Iterator[_Told]:
    """Which way the camera goes, what the line carries, where it was entered."""
    directions = tuple(
        str(hit.entry["value"])
        for hit in _hits("direction", reading)
        if reading.words[hit.end : hit.end + 1] not in _ENDS_OF_LINE
    )
    if reading.acts("replace"):
        directions = directions[-1:]  # "upstream, no, sorry, downstream"
    way = Direction(directions[0]) if directions else heading(reading)
    if way is not None:
        yield LineFactKind.DIRECTION, way.value, None
    for value in _find("service", reading)[:1]:
        yield LineFactKind.SERVICE, Service(value).value, None
    if _start_access(reading):
        yield LineFactKind.START_ACCESS, None, None


_ACCESS_WITHIN_S = 45.0
_ACCESSES = word_set("facts", "accesses")
_ENTERING = word_set("facts", "entering")


def _start_access(reading: Reading) -> bool:
    """Whether a sentence early in the talk says where the camera goes in."""
    if reading.start_s > _ACCESS_WITHIN_S:
        return False
    if enters(reading):
        return True
    words = set(reading.words)
    named = bool(words & _ACCESSES) or {"clean", "out"} <= words
    return named and bool(words & _ENTERING)


_SECTIONS = ("sections", "lengths", "joints", "sticks", "pieces", "bells")


def _section_lengths(reading: Reading) -> Iterator[Estimate]:
    words = reading.words
    for index, amount in reading.amounts.items():
        after = words[index + 1 : index + 4]
        before = words[max(0, index - 4) : index]
        if amount.measure is not Measure.LENGTH or not 0.4 <= amount.value <= 7.0:
            continue
        plural = any(w in _SECTIONS for w in after[:2])
        every = "every" in before and bool({"joint", "section", "ring"} & set(words))
        told = before[-2:] in (("length", "is"), ("lengths", "of")) or before[-1:] == ("length",)
        joints_at = "joints" in before and before[-1:] in (("at",), ("every",), ("are",))
        if (plural and amount.to is None) or every or joints_at or told:
            yield estimate("other", amount)


def _depths(reading: Reading) -> Iterator[Estimate]:
    words = reading.words
    for index, amount in reading.amounts.items():
        after = words[index + 1 : index + 3]
        if amount.measure is not Measure.LENGTH or not 0.3 <= amount.value <= 12.0:
            continue
        water = "water" in words
        before = words[max(0, index - 6) : index]
        deep = (
            after[:1] == ("deep",)
            or before[:1] == ("depth",)
            or after[:2] in (("of", "cover"), ("below", "grade"))
        )
        if deep and not water:
            yield estimate("depth", amount)


_LAID = frozenset({"built", "laid", "installed", "done", "replaced", "went", "put", "been"})


def _years(reading: Reading) -> Iterator[Estimate]:
    words = reading.words
    for index, amount in reading.amounts.items():
        if amount.measure is not Measure.NUMBER or amount.value != int(amount.value):
            continue
        near = set(words[max(0, index - 7) : index + 3])
        spoken_of = near & {
            "built",
            "laid",
            "installed",
            "build",
            "from",
            "house",
            "dated",
            "put",
            "since",
            "construction",
            "building",
        }
        if 1850 <= amount.value <= 2100 and spoken_of:
            yield Estimate.of(amount.value, 1.0)
        elif 20 <= amount.value <= 99 and near & _LAID and words[index - 1] in ("in", "since"):
            yield Estimate.of(1900.0 + amount.value, 1.0)

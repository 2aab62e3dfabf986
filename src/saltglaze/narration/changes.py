"""What the pipe is made of and how wide, as the talk goes along, and where that changes."""

from __future__ import annotations

from dataclasses import dataclass

from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.narration.amounts import Amount
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import estimate
from saltglaze.narration.things import Thing

_TURNS_INTO = frozenset(
    [
        "to",
        "into",
        "becomes",
        "turns",
        "changes",
        "changed",
        "changing",
        "transitions",
        "transition",
        "switches",
        "back",
        "goes",
        "going",
        "went",
        "onto",
        "becoming",
    ]
)
_STATES = frozenset(
    [
        "it's",
        "its",
        "this",
        "that's",
        "is",
        "pipe",
        "line",
        "we're",
        "in",
        "here",
        "all",
        "now",
        "got",
        "four",
        "six",
        "with",
        "from",
        "start",
        "starting",
        "have",
        "of",
        "through",
    ]
)
_NOT_PIPE = frozenset(
    [
        "behind",
        "see",
        "lump",
        "bit",
        "bits",
        "piece",
        "pieces",
        "patch",
        "slurry",
        "in",
        "some",
        "of",
        "washout",
        "lying",
        "dropped",
        "wet",
        "soil",
        "outside",
        "fresh",
    ]
)
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
        if any(word in ("see", "behind") for word in lead):
            continue
        said.append((hit, Material(hit.entry["material"])))
    return said


def material_change(reading: Reading, things: list[Thing], bore: Bore) -> Thing | None:
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
    if len(distinct) >= 2 and _links(reading, distinct[0][0], distinct[1][0]):
        before, after = distinct[0][1], distinct[1][1]
        if _reversed(reading, distinct[0][0]):
            before, after = after, before
        return _changed(reading, named, distinct[1][0], before, after, bore)
    hit, material = distinct[-1] if len(distinct) > 1 and named else distinct[0]
    turns = named is not None or _turns_into(reading, hit)
    if bore.material is None and not turns:
        return named
    if material is bore.material or not (turns or _states(reading, hit, things)):
        return named
    return _changed(reading, named, hit, bore.material, material, bore)


def _links(reading: Reading, first: Hit, second: Hit) -> bool:
    between = reading.words[first.end : second.start]
    if "from" in reading.words[max(0, first.start - 3) : first.start] and "to" in between:
        return True
    return len(between) <= 9 and any(word in _TURNS_INTO for word in between)


def _reversed(reading: Reading, first: Hit) -> bool:
    """Read "into clay from the cast iron": what is left is named second."""
    return reading.words[first.end : first.end + 1] == ("from",)


def _turns_into(reading: Reading, hit: Hit) -> bool:
    lead = reading.words[max(0, hit.start - 4) : hit.start]
    return any(word in _TURNS_INTO for word in lead)


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
        or after[:1] in (("now",), ("here",), ("again",), ("from",))
        or hit.start == 0
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
            value = _nominal_mm(amount, after)
            if value is not None:
                found.append((index, Amount(Measure.LENGTH, value, unit="mm")))
            continue
        small = amount.measure is Measure.LENGTH and amount.unit in ("in", "mm", "cm")
        if not small or not _BORES_M[0] <= amount.value <= _BORES_M[1]:
            continue
        found.append((index, amount))
    return found


def _nominal_mm(amount: Amount, after: tuple[str, ...]) -> float | None:
    metric = (75, 100, 110, 125, 150, 160, 200, 225, 250, 300, 375, 400, 450, 525, 600, 750, 900)
    if amount.value not in metric or amount.fraction:
        return None
    named = any(
        word in ("diameter", "pipe", "clay", "concrete", "pvc", "plastic", "clayware", "dia")
        for word in after[:2]
    )
    return amount.value / 1000.0 if named else None


def is_bore(reading: Reading, index: int) -> bool:
    """Whether words beside a small length say that it is a pipe's diameter."""
    after = reading.words[index + 1 : index + 4]
    before = reading.words[max(0, index - 3) : index]
    if any(word in _BORE_WORDS for word in after[:2]):
        return True
    return any(word in ("diameter", "pipe", "bore", "it's", "its", "size") for word in before) and (
        not after or not after[0][0].isalnum()
    )


_BORE_WORDS = frozenset(
    [
        "clay",
        "cast",
        "iron",
        "pvc",
        "plastic",
        "concrete",
        "pipe",
        "line",
        "abs",
        "orangeburg",
        "diameter",
        "tile",
        "terracotta",
        "vitrified",
        "reinforced",
        "pitch",
        "transite",
        "lateral",
        "sewer",
        "drain",
        "bore",
        "poly",
        "hdpe",
        "sdr",
        "schedule",
        "ductile",
        "storm",
        "stormwater",
        "dia",
        "vcp",
        "brick",
        "clayware",
        "asbestos",
        "bituminised",
        "salt",
        "upvc",
        "main",
    ]
)


def diameter_change(reading: Reading, things: list[Thing], bore: Bore) -> Thing | None:
    """Fill in the diameters of a change of size that a sentence names."""
    named = next((t for t in things if t.feature is Feature.DIAMETER_CHANGE), None)
    amounts = bore_amounts(reading)
    if named is None or named.denied or named.talked_of:
        return named
    if len(amounts) >= 2:
        before, after = amounts[0][1], amounts[1][1]
        named.fields["diameter_m"] = estimate("diameter_m", before)
        named.fields["diameter_after_m"] = estimate("diameter_after_m", after)
        bore.diameter_m = after.value
    elif amounts:
        lead = reading.words[max(0, amounts[0][0] - 3) : amounts[0][0]]
        if any(word in ("to", "into", "now", "becomes") for word in lead) or bore.diameter_m:
            named.fields["diameter_after_m"] = estimate("diameter_after_m", amounts[0][1])
            if bore.diameter_m is not None and abs(bore.diameter_m - amounts[0][1].value) > 0.005:
                known = Amount(Measure.LENGTH, bore.diameter_m, unit="m")
                named.fields["diameter_m"] = estimate("diameter_m", known)
            bore.diameter_m = amounts[0][1].value
    return named

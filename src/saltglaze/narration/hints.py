"""What a sentence hints at that shows something and names nothing outright."""

from __future__ import annotations

from saltglaze.model.finding import Feature
from saltglaze.narration.lexicon import lexicon
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_SHOWING = word_set("hints", "showing")
_SILENT_ACTS = (
    "advice",
    "cleaning",
    "records",
    "withdraw",
    "finish",
    "carry_on",
    "sound",
    "deny",
)
_POINTERS = word_set("hints", "pointers")
_DOERS = word_set("hints", "doers")
_SIDES = frozenset({"left", "right", "top", "bottom"})
_SHORT = 4
"""Sentences of so few words are call-outs."""


def hinted(reading: Reading) -> list[Thing]:
    """Return the one thing that a sentence hints at, where it claims to show something."""
    if not _shows(reading):
        return []
    words = reading.words
    measured = reading.acts("measure")
    if measured and any(word in words for word in ("joint", "joints", "collar", "hub")):
        at = measured[0]  # "look at that joint, you could put your boot in it"
        return [Thing(Feature.OPEN_JOINT, at.start, at.end, {}, at.at, weak=True, hinted=True)]
    for hit in lexicon().hints.find(reading.words):
        apart = reading.struck.isdisjoint(hit.at) and reading.idioms.isdisjoint(hit.at)
        if any(act.start <= hit.start for act in reading.acts("hypothetical")):
            return []
        if words[hit.start - 1 : hit.start] and words[hit.start - 1] in _DOERS:
            continue  # "I've eaten worse"
        if apart and not reading.simile(hit.start) and hit.start not in reading.names:
            feature = Feature(hit.entry["feature"])
            fields = {name: hit.entry[name] for name in ("kind",) if name in hit.entry}
            told = reading.words[0] in _POINTERS  # "it's half plugged with crud"
            return [
                Thing(
                    feature,
                    hit.start,
                    hit.end,
                    fields,
                    hit.at,
                    weak=True,
                    hinted=True,
                    anaphoric=told,
                )
            ]
    return []


def _shows(reading: Reading) -> bool:
    if reading.question or any(reading.acts(act) for act in _SILENT_ACTS):
        return False
    if "gone" in reading.words:
        return False
    if any("soil_visible" in hit.entry for hit in reading.qualities):
        return False
    if reading.materials and any(a.measure is Measure.LENGTH for a in reading.amounts.values()):
        return False  # "four inch white PVC, thin wall"
    words = [word for word in reading.words if word[0].isalnum()]
    placed = bool(reading.sides) or any(
        amount.measure in (Measure.CLOCK, Measure.SHARE) for amount in reading.amounts.values()
    )
    placed = placed or bool(_SIDES & set(words)) or reading.words[1:2] == (",",)
    joint = any("at_joint" in hit.entry for hit in reading.qualities)
    return placed or joint or len(words) <= _SHORT or any(word in _SHOWING for word in words)

"""A thing as one sentence names it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from saltglaze.model.finding import Feature


@dataclass(eq=False)
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
    """Something already spoken of: "that crack", "these roots"."""
    asked: bool = False
    weak: bool = False
    """A word that names nothing of its own beside a clearer one ("gap", "blocked")."""
    introduced: bool = False
    """Named with "a", "another", "one": as something new."""
    vague: bool = False
    """Named only as something: what it is may be told later."""
    hinted: bool = False
    """Only hinted at: another finding close before is meant as well."""
    like_last: bool = False
    """Of the kind spoken of before in this talk: "another one", "one opposite"."""


SIDELESS = frozenset(
    {
        Feature.START,
        Feature.END,
        Feature.COULD_NOT_PASS,
        Feature.LENS_FOULED,
        Feature.CAMERA_UNDER_WATER,
        Feature.MATERIAL_CHANGE,
        Feature.DIAMETER_CHANGE,
        Feature.BEND,
        Feature.SAG,
        Feature.STANDING_WATER,
    }
)
UNGRADED = (SIDELESS - {Feature.SAG}) | {
    Feature.TAP,
    Feature.INTRUDING_TAP,
    Feature.CLEAN_OUT,
    Feature.VERMIN,
    Feature.REPAIR,
}
"""Things that are no better or worse: "a small pipe comes in" tells its size."""

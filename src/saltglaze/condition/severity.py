"""Which of two sightings of one fault is the worse."""

from __future__ import annotations

import math

from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Facts, Feature, Grade

FAMILIES: dict[str, tuple[Feature, ...]] = {
    "wall": (Feature.CRACK, Feature.FRACTURE, Feature.BREAK, Feature.HOLE, Feature.COLLAPSE),
    "joint": (Feature.OFFSET_JOINT, Feature.OPEN_JOINT, Feature.ANGLED_JOINT),
    "water": (Feature.STANDING_WATER, Feature.SAG, Feature.CAMERA_UNDER_WATER),
    "in the way": (Feature.OBSTRUCTION, Feature.COULD_NOT_PASS),
    "tap": (Feature.TAP, Feature.INTRUDING_TAP),
    "lining": (Feature.REPAIR, Feature.LINER),
}
"""Features that two visits may call by different names; others stand alone."""

_KIND_ORDER: dict[Feature, tuple[str, ...]] = {
    Feature.CRACK: ("hairline", "circumferential", "multiple"),
    Feature.FRACTURE: ("circumferential", "multiple"),
    Feature.ROOTS: ("fine", "mass"),
    Feature.INFILTRATION: ("stain", "sweating", "dripping", "flowing", "gushing"),
    Feature.SURFACE_DAMAGE: ("worn", "chipped", "spalled"),
}
_WORD_ORDER = (Grade.SLIGHT, Grade.MODERATE, Grade.HEAVY)
_MEASURES: tuple[tuple[str, float], ...] = (
    ("section_share", 0.05),
    ("water_share", 0.05),
    ("deformation_share", 0.02),
    ("width_m", 0.003),
    ("round_share", 0.08),
    ("angle_deg", 2.0),
)
"""Sizes to compare, with the least difference worth a word."""

_SURE = 1.645
"""Margins apart from which a difference counts (95 % one-sided, normal)."""


class Comparison(Record):
    """Worse (+1), same (0), better (-1), or ``None`` where it cannot be told; and why."""

    sign: int | None
    because: str


def family(feature: Feature) -> str:
    """Return the family of a feature."""
    for name, members in FAMILIES.items():
        if feature in members:
            return name
    return feature.value


def compare_facts(prior: Facts, now: Facts) -> Comparison:
    """Compare two sightings: by feature, then size, then kind, then the grade word."""
    by_feature = _by_feature(prior.feature, now.feature)
    if by_feature is not None:
        return by_feature
    for name, least in _MEASURES:
        was, is_now = getattr(prior, name), getattr(now, name)
        if _known(was) and _known(is_now):
            return _by_size(name, was, is_now, least)
    return _by_rank(prior, now) or Comparison(
        sign=None, because="its size was not stated on both visits"
    )


def _by_feature(prior: Feature, now: Feature) -> Comparison | None:
    order = FAMILIES["wall"]
    if prior == now or prior not in order or now not in order:
        return None
    sign = 1 if order.index(now) > order.index(prior) else -1
    return Comparison(sign=sign, because=f"it was a {prior.value} and is now a {now.value}")


def _by_size(name: str, was: Estimate, is_now: Estimate, least: float) -> Comparison:
    change = (is_now.value or 0.0) - (was.value or 0.0)
    margin = _SURE * math.hypot(was.spread, is_now.spread)
    what = name.removesuffix("_m").removesuffix("_deg").replace("_", " ")
    if abs(change) < max(least, margin):
        return Comparison(sign=0, because=f"its {what} has not changed beyond the margins")
    grew = "grown" if change > 0 else "shrunk"
    return Comparison(sign=1 if change > 0 else -1, because=f"its {what} has {grew}")


def _by_rank(prior: Facts, now: Facts) -> Comparison | None:
    kinds = _KIND_ORDER.get(now.feature, ())
    if prior.kind in kinds and now.kind in kinds:
        change = kinds.index(now.kind) - kinds.index(prior.kind)
        return _ranked(change, f"{prior.kind} then, {now.kind} now")
    if prior.grade_word is not None and now.grade_word is not None:
        change = _WORD_ORDER.index(now.grade_word) - _WORD_ORDER.index(prior.grade_word)
        return _ranked(change, f"called {prior.grade_word.value} then, {now.grade_word.value} now")
    return None


def _ranked(change: int, because: str) -> Comparison:
    return Comparison(sign=(change > 0) - (change < 0), because=because)


def _known(estimate: Estimate | None) -> bool:
    return estimate is not None and estimate.known

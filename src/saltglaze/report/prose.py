"""Tells the lengths in the record's own sentences in the reader's units.

The record's sentences are written once, in English, some with both units ("0.8 m (2.6 ft)"),
some with one. A paper shows one system: of a pair the reader's own half stays, a length
given in the other system only is converted, with as many figures as it had.
"""

from __future__ import annotations

import math
import re
from typing import Any, Final

from saltglaze import units
from saltglaze.model.appraisal import Appraisal
from saltglaze.model.base import Record
from saltglaze.report.measures import UnitSystem

SENTENCES: Final = frozenset(
    {
        *(
            "action",
            "assumptions",
            "because",
            "cautions",
            "mend",
            "misfit",
            "obstacles",
            "peak_load",
        ),
        *("reason", "rule", "size_note", "source", "title", "urgency", "why", "with_it"),
        *("without_it", "would_change_it"),
    }
)
"""Fields of the record that hold sentences made by the appraisal. Its plain summaries are not
among them: for those the papers have sentences of their own."""
KEPT: Final = frozenset({"finding", "job", "stills"})
"""What the technician and the film gave is shown as given."""

_NUMBER = r"\d(?:[\d,]*\d)?(?:\.\d+)?"
_SPAN = rf"(?:{_NUMBER}(?: to | by |–|-))?{_NUMBER}"
_PAIR = re.compile(
    rf"(?P<one>{_SPAN} (?P<unit>m|cm|mm|ft|in)) "
    rf"\((?P<other>{_SPAN} (?P<other_unit>m|cm|mm|ft|in))\)"
)
_MARGIN = re.compile(
    rf"(?P<value>{_NUMBER}) (?P<unit>m|ft) \(give or take (?P<margin>{_NUMBER}) (?P=unit)\)"
)
_METRIC = re.compile(rf"(?<![\w.,])(?P<span>{_SPAN}) (?P<unit>m|cm|mm)\b(?!\^|²|³)")
_US = re.compile(
    rf"(?<![\w.,])(?P<span>{_SPAN}) (?:(?P<unit>ft)|(?P<inches>in)"
    r"(?= (?:bore|pipe|liner|wide|deep|thick|high|long|of the)\b|[.,;:)]|$))\b"
)
_PLACE = (
    rf"(?:{_NUMBER} (?:ft|m)(?: \(give or take {_NUMBER} (?:ft|m)\))? from the start"
    r"|at a place not fixed along the line)"
)
_OPENING_PLACE = re.compile(rf"^{_PLACE}: ", re.IGNORECASE)
_NAME_AND_PLACE = re.compile(rf"^[^:]*?, {_PLACE}: ", re.IGNORECASE)
_MONTHS = "January|February|March|April|May|June|July|August|September|October|November|December"
_DATE = re.compile(rf"\b({_MONTHS}) (\d{{1,2}}), (\d{{4}})\b")
_GPM = re.compile(rf"({_NUMBER}) gpm\b")
_TO_US: Final = {"m": (1 / units.M_PER_FT, "ft"), "cm": (0.01 / units.M_PER_IN, "in")}
_TO_US["mm"] = (0.001 / units.M_PER_IN, "in")
_TO_METRIC: Final = {"ft": (units.M_PER_FT, "m"), "in": (1000.0 * units.M_PER_IN, "mm")}


def in_reader_units(appraisal: Appraisal, system: UnitSystem) -> Appraisal:
    """Return the appraisal with the lengths in its sentences in one system of units."""
    told: Appraisal = _told(appraisal, system)
    return told


def lengths_told(text: str, system: UnitSystem) -> str:
    """Return one sentence with its lengths in one system of units.

    >>> lengths_told("0.8 m (2.6 ft) off the line", "us")
    '2.6 ft off the line'
    >>> lengths_told("may be 1.7 m deep", "us")
    'may be 5.6 ft deep'
    """
    us = system == "us"

    def of_margin(found: re.Match[str]) -> str:
        return _with_margin(found) if (found["unit"] in _TO_METRIC) != us else found[0]

    def of_pair(found: re.Match[str]) -> str:
        first_is_us = found["unit"] in _TO_METRIC
        if first_is_us == (found["other_unit"] in _TO_METRIC):
            return found[0]
        return found["one"] if first_is_us == us else found["other"]

    def turned(found: re.Match[str]) -> str:
        unit = found["unit"] or found["inches"]
        factor, name = (_TO_US if us else _TO_METRIC)[unit]
        span = re.sub(_NUMBER, lambda number: _scaled(number[0], factor), found["span"])
        return f"{span} {name}"

    text = (_METRIC if us else _US).sub(turned, _MARGIN.sub(of_margin, _PAIR.sub(of_pair, text)))
    if us:
        return text
    return _DATE.sub(r"\2 \1 \3", _GPM.sub(lambda found: _litres(found[1]), text))


def _litres(gpm: str) -> str:
    per_s = float(gpm.replace(",", "")) * units.M3_S_PER_GPM * 1000.0
    return f"{per_s:.{0 if per_s >= 10 else 1}f} L/s"


def _with_margin(found: re.Match[str]) -> str:
    """Return "10.4 m (give or take 0.3 m)" for "34 ft (give or take 1 ft)": one last place."""
    factor, unit = (_TO_METRIC if found["unit"] in _TO_METRIC else _TO_US)[found["unit"]]
    value, margin = (float(found[k].replace(",", "")) * factor for k in ("value", "margin"))
    decimals = max(0, -math.floor(math.log10(margin))) if margin > 0.0 else 1
    return f"{value:,.{decimals}f} {unit} (give or take {margin:.{decimals}f} {unit})"


def without_place(text: str) -> str:
    """Return a finding's sentence without the place it opens with, for where that is told.

    >>> without_place("34 ft (give or take 1 ft) from the start: fine roots. They hang in.")
    'Fine roots. They hang in.'
    """
    return _opened(_OPENING_PLACE.sub("", text))


def without_name(text: str) -> str:
    """Return a sentence without the name and place of the finding that it opens with.

    >>> without_name("Fine roots, 34 ft from the start: worse since April 2025.")
    'Worse since April 2025.'
    """
    return _opened(_NAME_AND_PLACE.sub("", text))


def _opened(text: str) -> str:
    return text[:1].upper() + text[1:]


def _scaled(number: str, factor: float) -> str:
    """Return a number times a factor with about as many figures as it came with."""
    value = float(number.replace(",", ""))
    if value == 0.0:
        return "0"
    figures = max(len(number.replace(",", "").replace(".", "").lstrip("0")), 2)
    turned = value * factor
    whole = len(str(int(abs(turned)))) if abs(turned) >= 1.0 else 0
    return f"{turned:,.{min(max(figures - whole, 0), 2)}f}"


def _told(node: Any, system: UnitSystem) -> Any:  # noqa: ANN401  (any part of a record)
    if isinstance(node, tuple):
        parts = tuple(_told(part, system) for part in node)
        return node if all(a is b for a, b in zip(parts, node, strict=True)) else parts
    if not isinstance(node, Record):
        return node
    changed = {}
    for name, value in node:
        if name in KEPT:
            continue
        new = _sentence(value, system) if name in SENTENCES else _told(value, system)
        if new is not value and new != value:
            changed[name] = new
    return node.model_copy(update=changed) if changed else node


def _sentence(value: Any, system: UnitSystem) -> Any:  # noqa: ANN401
    if isinstance(value, str):
        return lengths_told(value, system)
    if isinstance(value, tuple) and all(isinstance(part, str) for part in value):
        return tuple(lengths_told(part, system) for part in value)
    return _told(value, system)

"""Clock stamps of caption files, in seconds."""

from __future__ import annotations

import re

STAMP = r"(?:(\d{1,3}):)?(\d{1,3}):(\d{1,2})(?:[.,](\d{1,6}))?"
"""[h:]m:ss[.fff]; four groups."""

_STAMP = re.compile(STAMP)

LONGEST_S = 48 * 3600.0
"""Stamps beyond two days are typing slips."""


def seconds(stamp: str) -> float | None:
    """Return a stamp ``[h:]mm:ss[.fff]`` in seconds, or ``None`` if it is none."""
    match = _STAMP.fullmatch(stamp.strip())
    return _total(match.groups()) if match else None


def _total(groups: tuple[str | None, ...]) -> float | None:
    hours, minutes, secs, fraction = groups[:4]
    total = int(hours or 0) * 3600.0 + int(minutes or 0) * 60.0 + int(secs or 0)
    if fraction:
        total += int(fraction) / 10 ** len(fraction)
    return total if total <= LONGEST_S else None

"""Plain English words that are never taken for a mis-hearing by sound alone.

A list of common words, as any English word count gives it; a word that is missing here
is at worst offered as a correction, which is shown.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def ordinary_words() -> frozenset[str]:
    """Return the words of ordinary.txt (one a line)."""
    text = files("saltglaze.narration.tables").joinpath("ordinary.txt").read_text(encoding="utf-8")
    return frozenset(text.split())

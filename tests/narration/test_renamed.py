"""A name said again soon is the same thing; another place, distance or joint is the next."""

from __future__ import annotations

import pytest
from talk_kit import found

NAMES = (
    ("Roots here.", "Fine hairs."),
    ("It's leaking here.", "Steady drip."),
    ("Got some gravel here.", "Little pile of stones."),
    ("There's a repair here.", "Looks like they've put a clamp on it."),
    ("The pipe's rotted.", "Bottom's corroded."),
    ("It's squashed.", "Pipe's gone oval."),
    ("Is that a crack?", "Yeah, that's a crack."),
    ("Joint's open.", "There's a gap, half an inch."),
)


def count(*said: str, apart_s: float = 5.0) -> int:
    """How many findings remarks so far apart give."""
    return len(found(*said, apart_s=apart_s))


@pytest.mark.parametrize(("first", "second"), NAMES)
def test_a_name_said_again_soon_is_the_same_thing(first: str, second: str) -> None:
    assert count(first, second) == 1


@pytest.mark.parametrize(("first", "second"), NAMES[:3])
def test_a_distance_or_another_begins_the_next(first: str, second: str) -> None:
    assert count(first, f"Thirty feet, {second.lower()}") == 2
    assert count(first, f"Another {second.lower()}") == 2
    assert count(first, second, apart_s=25.0) == 2

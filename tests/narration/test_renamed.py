"""A name said again soon is the same thing; another place, distance or joint is the next."""

from __future__ import annotations

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.listen import listen

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


def found(*said: str, apart_s: float = 5.0) -> list[str]:
    """The features that remarks so far apart give."""
    cues, start_s = [Cue(start_s=0.0, end_s=4.0, text="In at the clean-out, clay.")], 60.0
    for text in said:
        end_s = start_s + 1.0 + len(text.split()) / 2.6
        cues.append(Cue(start_s=start_s, end_s=end_s, text=text))
        start_s = end_s + apart_s
    cues.append(Cue(start_s=start_s + 30.0, end_s=start_s + 33.0, text="Bright picture today."))
    heard = listen(Transcript(cues=tuple(cues), source="a test"))
    return [finding.draft.feature.value for finding in heard.findings]


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

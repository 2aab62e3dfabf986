"""One way of saying a thing after another: each is heard, and plain talk drafts nothing."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.listen import listen

SAYINGS = Path(__file__).with_name("sayings.txt")
BEFORE = (
    Cue(start_s=0.0, end_s=4.0, text="In through the front clean-out, heading downstream, clay."),
    Cue(start_s=20.0, end_s=23.0, text="First two joints are good."),
)
AFTER = ("Okay, moving along.", "The picture is nice and bright today.")


def sayings() -> dict[str, list[str]]:
    """The sayings by what they ought to draft."""
    found = defaultdict(list)
    for line in SAYINGS.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            wanted, _, said = line.partition(" | ")
            found[wanted].append(said)
    return found


def drafted(said: str) -> list[str]:
    """The features drafted for a saying in the middle of a talk."""
    cues, start_s = list(BEFORE), 60.0
    for remark in said.split(" / "):
        end_s = start_s + 1.0 + len(remark.split()) / 2.6
        cues.append(Cue(start_s=start_s, end_s=end_s, text=remark))
        start_s = end_s + 5.0
    for remark in AFTER:
        start_s += 25.0
        cues.append(Cue(start_s=start_s, end_s=start_s + 3.0, text=remark))
    heard = listen(Transcript(cues=tuple(cues), source="a saying"))
    return [finding.draft.feature.value for finding in heard.findings]


def is_heard(wanted: str, said: str) -> bool:
    """Whether the drafts of a saying are the ones wanted, and no more."""
    left = drafted(said)
    for names in wanted.split(" + ") if wanted != "-" else ():
        hit = next((feature for feature in left if feature in names.split(", ")), None)
        if hit is None:
            return False
        left.remove(hit)
    return not left


@pytest.mark.parametrize("wanted", sayings())
def test_each_way_of_saying_it_is_heard(wanted: str) -> None:
    assert [said for said in sayings()[wanted] if not is_heard(wanted, said)] == []


def test_every_way_is_written_once() -> None:
    said = [saying for many in sayings().values() for saying in many]
    assert len(said) == len(set(said)) > 900

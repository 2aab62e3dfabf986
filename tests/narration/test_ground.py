"""The ground seen through an opening, told from dirt in the pipe and from clay pipe."""

from __future__ import annotations

import pytest
from talk_kit import drafts

from saltglaze.model.finding import Feature


@pytest.mark.parametrize(
    "remarks",
    [
        ("Hole at four o'clock and it's all peat behind.",),
        ("The joint's open an inch, loam showing.",),
        ("Broken pipe on top, nothing but sand up there.",),
        ("Hole in the side. Marl.",),
        ("There's a hole at two o'clock.", "It's just shingle behind it."),
        ("The pipe's collapsed.", "I'm looking at yellow clay."),
        ("Joint open thirty mil, backfill can be seen.",),
    ],
)
def test_ground_behind_an_opening_is_no_finding_of_its_own(remarks):
    (draft,) = drafts(*remarks)
    assert draft.soil_visible


@pytest.mark.parametrize(
    "remark",
    [
        "Hole in the clay pipe at four o'clock.",
        "The joint's open, no sand behind it.",
        "Open joint, and there's gravel lying in the bottom.",
        "Crack at nine, then it's clay.",
    ],
)
def test_words_for_earth_that_are_no_ground(remark):
    assert not drafts(remark)[0].soil_visible


def test_dirt_in_the_pipe_stays_a_finding():
    found = drafts("Open joint, and there's gravel lying in the bottom.")
    assert [d.feature for d in found] == [Feature.OPEN_JOINT, Feature.SETTLED_DEPOSITS]

"""Frames of talk that claim nothing, each around many things; and frames that claim them all."""

from __future__ import annotations

from itertools import product

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen

THINGS = {
    "crack": ("a crack", "cracks"),
    "roots": ("a root", "roots"),
    "tap": ("a lateral", "laterals"),
    "offset_joint": ("an offset", "offsets"),
    "hole": ("a hole", "holes"),
    "attached_deposits": ("grease", "grease"),
    "settled_deposits": ("gravel", "gravel"),
    "infiltration": ("a leak", "leaks"),
    "obstruction": ("a rag", "rags"),
    "fracture": ("a fracture", "fractures"),
}
SILENT = (
    "No {many} here.",
    "I'd expect {many} in a line this age.",
    "They told me there was {one} somewhere.",
    "We're looking for {one}.",
    "I was hoping we wouldn't find {many}.",
    "My guess was {many}, but no.",
    "That's not {one}, it's a shadow.",
    "The neighbour had {one} and it cost him ten grand.",
    "You can rule out {many}.",
    "Usually it's {many} that does it.",
    "Don't confuse that with {one}.",
    "Something like {one} runs you five thousand.",
    "Last one I did had {many} end to end.",
    "You get {many} in all these old streets.",
    "None of these joints have {many}.",
    "Keep an eye out for {many}.",
    "He swears there's {one}.",
    "It looked like {one} but it's just the light.",
    "There was {one} here, it's gone now.",
    "Anything but {one}.",
    "It could be worse, it could be {one}.",
    "My money's on {one}.",
    "Everybody on this street has {many}.",
    "Best thing for {one} is to leave it.",
    "We'd sleeve {one}.",
    "So you're telling me it's {one}?",
    "Maybe there's {one} further on, we'll see.",
    "Smells like {one}.",
    "Most of the time it's {many}.",
    "It's not so much {one} as a stain.",
    "That's where {one} used to be.",
    "You can have {many} and never know.",
    "I could tell you stories about {many}.",
    "The other line had {many}, this one doesn't.",
    "I've got a guy who fixes {many}.",
    "Compared to {one} this is nothing.",
    "I'd rather have {one} than this.",
    "Still no {many}.",
    "Next thing you know it's {one}.",
)
CLAIMING = (
    "There's {one} at three o'clock.",
    "Twelve feet, {one}, at three o'clock.",
    "And then at three o'clock you get {one}.",
    "Now at three o'clock, see that, that's {one}.",
    "I see {one} at three o'clock.",
    "Found {one} at three o'clock.",
    "Yep, {one} at three o'clock, there it is.",
    "Told you, {one} at three.",
    "You won't like it, {one} at three.",
    "I've seen worse, but there's {one} at three.",
    "Clean as a whistle until you get to {one} at three.",
    "When the light hits it you can see {one} at three.",
    "I'd have to say that's {one} at three.",
    "There's {one} at three that nobody told me about.",
    "Mark that as {one} at three.",
    "There's {one} at three, we should fix that.",
    "If you look at three there's {one}.",
)


SUPPOSED = (
    "Might be {one} at nine, hard to tell.",
    "If I had to guess, {one}.",
    "Could well be {one} up top.",
    "Either a shadow or {one}.",
    "Don't hold me to it, but {one} at six.",
    "What looks like {one} at three o'clock.",
)
CERTAIN = (
    "Definitely {one} on the left.",
    "There's {one} on the right, could be better.",
    "I think we're at ten feet, and there's {one}.",
    "There's {one}, and I'm pretty sure of it.",
    "There's {one} here. Might be why it backs up.",
    "There's {one} at two o'clock, must be years old.",
)


def drafts(remark):
    """What a remark in the middle of a talk drafts."""
    cues = (
        Cue(start_s=0, end_s=4, text="In through the front clean-out, heading downstream, clay."),
        Cue(start_s=30, end_s=32, text="Nine feet, all good."),
        Cue(start_s=60, end_s=66, text=remark),
        Cue(start_s=90, end_s=93, text="Okay, moving along."),
    )
    return [f.draft for f in listen(Transcript(cues=cues)).findings]


@pytest.mark.parametrize("frame", SILENT)
def test_talk_of_a_thing_claims_none(frame):
    said = [frame.format(one=one, many=many) for one, many in THINGS.values()]
    assert [remark for remark in said if drafts(remark)] == []


@pytest.mark.parametrize("frame", CLAIMING)
def test_a_thing_seen_is_one_finding_with_its_place(frame):
    for feature, (one, _) in THINGS.items():
        (draft,) = drafts(frame.format(one=one))
        assert draft.feature.value == feature
        assert draft.clock is not None
        assert draft.clock.from_h == 3.0


@pytest.mark.parametrize(
    ("frame", "certainty"),
    [(frame, "supposed") for frame in SUPPOSED] + [(frame, "certain") for frame in CERTAIN],
)
def test_a_hedge_counts_for_the_thing_it_is_about(frame, certainty):
    for one, _ in THINGS.values():
        assert [draft.certainty.value for draft in drafts(frame.format(one=one))] == [certainty]


def test_two_things_of_one_breath_are_two():
    pairs = product(("a crack", "an offset", "a tap"), ("roots", "grease"))
    for first, second in pairs:
        assert len(drafts(f"There's {first} at nine and {second} at three o'clock.")) == 2

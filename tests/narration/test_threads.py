"""How many things a short talk tells, whatever the thing is."""

from __future__ import annotations

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
    "infiltration": ("a leak", "leaks"),
    "obstruction": ("a rag", "rags"),
    "fracture": ("a fracture", "fractures"),
}
TALKS = [
    (("Another one at three.",), 2),
    (("And one more a foot on.",), 2),
    (("Same again at the next joint.",), 2),
    (("Ditto, next joint.",), 2),
    (("Two more just like it.",), 3),
    (("It's a big one.",), 1),
    (("Take a look at that {name}.",), 1),
    (("So that {name} needs work.",), 1),
    (("Yeah, {one}.",), 1),
    (("Twenty feet, {one} at nine.",), 2),
    (("Wait, that's not {one}.",), 0),
    (("Scratch that.",), 0),
    (("No, sorry, at ten.",), 1),
    (("My mistake, it's at ten.",), 1),
    (("And across from it, another.",), 2),
    (("Still there at twenty feet.",), 1),
    (("The next joint's got one too.",), 2),
    (("And on the far side of the joint, more of the same.",), 2),
    (("You'll want that fixed.",), 1),
    (("Every joint so far has been like this.",), 1),
    (("No more {many} after that.",), 1),
    (("And here.", "And here."), 3),
    (("That's the second one.",), 1),
]


def features(*remarks):
    """What a talk drafts, its remarks eight seconds apart after a first look round."""
    cues = [Cue(start_s=0, end_s=4, text="In through the clean-out, heading downstream, clay.")]
    cues += [
        Cue(start_s=60.0 + 8.0 * i, end_s=64.0 + 8.0 * i, text=text)
        for i, text in enumerate(remarks)
    ]
    return [f.draft.feature.value for f in listen(Transcript(cues=tuple(cues))).findings]


@pytest.mark.parametrize(("remarks", "count"), TALKS)
def test_a_remark_adds_repeats_corrects_or_takes_back(remarks, count):
    for feature, (one, many) in THINGS.items():
        name = one.removeprefix("a ").removeprefix("an ")
        said = [remark.format(one=one, many=many, name=name) for remark in remarks]
        assert features(f"There's {one} at nine.", *said) == [feature] * count, feature


def test_the_same_in_one_breath():
    for feature, (one, _) in THINGS.items():
        assert features(f"There's {one} at nine and the same at three.") == [feature] * 2

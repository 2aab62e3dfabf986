"""What only tells more of a thing is no second thing; what is one more stays one."""

from __future__ import annotations

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen


def drafts(*remarks, every_s=8.0):
    """Listen to remarks, one cue each."""
    cues = tuple(
        Cue(start_s=100.0 + every_s * i, end_s=104.0 + every_s * i, text=text)
        for i, text in enumerate(remarks)
    )
    return [f.draft for f in listen(Transcript(cues=cues)).findings]


def features(*remarks):
    """Names of what was drafted."""
    return [draft.feature.value for draft in drafts(*remarks)]


@pytest.mark.parametrize(
    ("remarks", "wanted"),
    [
        (("Crack round the pipe at six.", "And that's opened up a fair bit."), ["fracture"]),
        (("Crack at three o'clock.", "It's tight, there's no gap."), ["crack"]),
        (("That's a fracture there, and it's opened two mil.",), ["fracture"]),
        (("One side's higher than the other, so that's an offset.",), ["offset_joint"]),
        (("The wall's all worn, you can see the stones.",), ["surface_damage"]),
        (("Coupling's not straight, there's a step of ten mil.",), ["offset_joint"]),
        (("Thick grease all round.", "It narrows down the pipe there."), ["attached_deposits"]),
        (("Roots here, and another root mass past it.",), ["roots", "roots"]),
        (("Joint's open an inch.", "Next joint's open as well."), ["open_joint", "open_joint"]),
    ],
)
def test_one_thing_or_two(remarks, wanted):
    assert features(*remarks) == wanted


@pytest.mark.parametrize(
    "remarks",
    [
        ("Wye on the left, water coming out of it.",),
        ("Tap on the right.", "There's water running from this one."),
        ("Tap on the right.", "Is it live?", "Yeah, there's a trickle."),
    ],
)
def test_water_out_of_a_tap_is_the_tap_in_use(remarks):
    (draft,) = drafts(*remarks)
    assert draft.feature.value == "tap"
    assert draft.active


def test_a_correction_gives_the_thing_before_its_size():
    (draft,) = drafts("Crack on top, three feet long.", "Correction, that's six feet of crack.")
    assert draft.length_m.value == pytest.approx(6 * 0.3048)


def test_whoever_did_it_tells_no_finding():
    assert features("That's whoever put the clean-out in.") == []


@pytest.mark.parametrize(
    ("remarks", "wanted"),
    [
        (("Crack on top.", "That's nothing you'd lose sleep over."), ["crack"]),
        (("Crack on top.", "That's nothing."), []),
        (("There's a crack there, it's not a crack, it's a stain.",), []),
        (("Pipe coming in on the left.", "They bashed that in, that's not a fitting."), ["tap"]),
        (("A spoon lodged at two o'clock.", "Another spoon."), ["obstruction"] * 2),
        (("Cracks here.", "Second one's at eight o'clock."), ["crack"] * 2),
        (("This joint, it's dropped a bit, five mil.",), ["offset_joint"]),
    ],
)
def test_what_takes_back_and_what_does_not(remarks, wanted):
    assert features(*remarks) == wanted


@pytest.mark.parametrize(
    ("remarks", "wanted"),
    [
        (("A brick lies in the pipe.", "That's not a crack, that's a cobweb."), ["obstruction"]),
        (("Tap on the left.", "It's weeping at the crown."), ["tap", "infiltration"]),
        (
            ("Hole at two o'clock.", "Loose stones, maybe five percent."),
            ["hole", "settled_deposits"],
        ),
        (
            ("Crack all the way round.", "It's wet here, about ten percent."),
            ["crack", "standing_water"],
        ),
    ],
)
def test_what_follows_is_of_itself(remarks, wanted):
    assert features(*remarks) == wanted

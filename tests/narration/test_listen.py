"""From talk to drafted findings: threads, denials, corrections, stretches, evidence.

All talk here is invented.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.appraisal import Verdict
from saltglaze.model.finding import KINDS, Certainty, Feature, Grade
from saltglaze.model.line import Material
from saltglaze.model.run import Direction, LengthUnit, Run
from saltglaze.model.talk import Cue, MentionKind, Transcript
from saltglaze.narration import listen, read_transcript
from saltglaze.narration.checks import LONGEST_CHARS
from saltglaze.units import M_PER_FT, M_PER_IN


def hear(*remarks, run=None, every_s=12.0, first_s=100.0):
    """Listen to remarks, one cue each, ``every_s`` apart."""
    cues = tuple(
        Cue(start_s=first_s + i * every_s, end_s=first_s + i * every_s + 4.0, text=text)
        for i, text in enumerate(remarks)
    )
    return listen(Transcript(cues=cues), run)


def features(heard):
    return [finding.draft.feature.value for finding in heard.findings]


def drafts(*remarks, **options):
    return [finding.draft for finding in hear(*remarks, **options).findings]


# ------------------------------------------------------------------ one thing or two
def test_several_sentences_on_one_thing_are_one_finding():
    heard = hear("Got some roots here. They're coming in from the top. Pretty heavy.")
    (finding,) = heard.findings
    assert finding.draft.feature is Feature.ROOTS
    assert finding.draft.screen == "top"
    assert finding.draft.grade_word == "heavy"
    assert len(finding.evidence.words) == 3


def test_one_sentence_on_two_things_is_two_findings():
    assert features(hear("Offset joint here with roots growing through it.")) == [
        "offset_joint",
        "roots",
    ]


def test_another_begins_a_new_one_and_that_goes_back():
    heard = hear(
        "Crack at two o'clock.", "Another crack at nine.", "That crack is about a foot long."
    )
    assert [f.draft.clock.from_h for f in heard.findings] == [2.0, 9.0]
    assert heard.findings[1].draft.length_m.value == pytest.approx(M_PER_FT)


def test_same_at_the_next_joint_repeats_the_feature():
    assert features(
        hear("Fine roots at this joint.", "Same at the next one.", "And again here, same.")
    ) == [
        "roots",
        "roots",
        "roots",
    ]


def test_one_stands_for_the_thing_named_before():
    heard = hear("Tap at three o'clock.", "And one opposite, at nine.")
    assert [(f.draft.feature.value, f.draft.clock.from_h) for f in heard.findings] == [
        ("tap", 3.0),
        ("tap", 9.0),
    ]


def test_two_hours_make_two_cracks():
    assert [d.clock.from_h for d in drafts("The pipe's cracked at three and nine.")] == [3.0, 9.0]


def test_a_distance_called_out_parts_one_thing_from_the_next():
    assert features(
        hear("Roots at the joint.", "Thirty feet. Roots at the joint.", every_s=5.0)
    ) == [
        "roots",
        "roots",
    ]


def test_a_thing_named_only_to_say_where_is_no_finding():
    assert features(hear("Roots at that tap, light.")) == ["roots"]
    assert features(hear("Just past the wye there's a crack.")) == ["crack"]


# ------------------------------------------------------------------ claims
@pytest.mark.parametrize(
    "talk",
    [
        "No cracks, roots or offsets in here.",
        "I don't see any roots.",
        "That isn't a crack, that's just a stain.",
        "Not the main yet.",
        "If you get roots in here it will back up.",
        "We cut a big root ball out of here yesterday.",
        "They said there was a collapse last year.",
        "I'd recommend a liner for the whole thing.",
        "Roots usually come in at the joints.",
        "Ran the root cutter through here, two passes at three thousand psi.",
        "Is that a crack?",
        "Let's take a break.",
        "Turn the camera left.",
        "Well that's a damn shame.",
    ],
)
def test_talk_that_claims_nothing_drafts_nothing(talk):
    assert features(hear(talk)) == []


@pytest.mark.parametrize(
    "talk",
    [
        "Maybe a crack at the top.",
        "I think that's a crack.",
        "There's a crack, possibly.",
        "Could be a crack, hard to tell.",
    ],
)
def test_a_hedge_on_the_thing_marks_it_supposed(talk):
    (draft,) = drafts(talk)
    assert draft.feature is Feature.CRACK
    assert draft.certainty is Certainty.SUPPOSED


def test_a_hedge_on_a_size_or_an_origin_leaves_the_thing_certain():
    for talk in ("Offset, maybe a quarter inch.", "Tap on the left, that's probably your kitchen."):
        (draft,) = drafts(talk)
        assert draft.certainty is Certainty.CERTAIN


def test_a_question_counts_once_it_is_answered():
    assert features(hear("Is that a crack?", "No, that's just a hair.", every_s=5.0)) == []
    (draft,) = drafts("Is that another tap on the right?", "Could be.", every_s=5.0)
    assert draft.certainty is Certainty.SUPPOSED


# ------------------------------------------------------------------ taking back
def test_a_value_taken_back_is_replaced():
    (draft,) = drafts("Crack at three, no sorry, four o'clock.")
    assert draft.clock.from_h == 4.0


def test_make_that_corrects_the_sentence_before():
    (draft,) = drafts("Crack at two o'clock. Make that three o'clock.")
    assert draft.clock.from_h == 3.0


def test_a_finding_taken_back_is_gone():
    assert (
        features(hear("There's a hole at the top.", "No, that's just a shadow.", every_s=6.0)) == []
    )


# ------------------------------------------------------------------ attributes
@pytest.mark.parametrize(
    ("talk", "field", "value"),
    [
        ("Longitudinal crack at the crown.", "kind", "longitudinal"),
        ("Fine roots at the joint.", "at_joint", True),
        ("Roots, about thirty percent.", "section_share", 0.3),
        ("Standing water, half full.", "water_share", 0.5),
        ("Pipe's egged about ten percent.", "deformation_share", 0.1),
        ("Offset joint, half an inch.", "width_m", 0.5 * M_PER_IN),
        ("Crack here, three feet long.", "length_m", 3 * M_PER_FT),
        ("Forty-five bend going right.", "kind", "1/8"),
        ("Forty-five bend going right.", "turn", "right"),
        ("Eighth bend here.", "angle_deg", 45.0),
        ("Tap on the left, capped.", "capped", True),
        ("Live tap on the left.", "active", True),
        ("Hole at the top, I can see dirt.", "soil_visible", True),
        ("Four inch tap at nine o'clock.", "diameter_m", 4 * M_PER_IN),
        ("Heavy grease in here.", "grade_word", "heavy"),
        ("Roots over the next three joints.", "joints", 3),
        ("Two taps here.", "count", 2),
    ],
)
def test_each_stated_attribute_reaches_its_field(talk, field, value):
    draft = drafts(talk)[0]
    got = getattr(draft, field)
    got = getattr(got, "value", got) if not isinstance(got, str) else got
    assert got == (pytest.approx(value) if isinstance(value, float) else value)


def test_pipe_words_give_a_clock_and_screen_words_a_screen_place():
    (crown,) = drafts("Crack at the crown.")
    (corner,) = drafts("Crack in the upper left corner of the picture.")
    assert (crown.clock.from_h, crown.screen) == (0.0, None)
    assert (corner.clock, corner.screen) == (None, "top_left")


def test_a_range_of_hours_runs_clockwise_and_keeps_the_view():
    run = Run(id="r1", direction=Direction.AGAINST_FLOW)
    (draft,) = drafts("Roots from ten to two o'clock.", run=run)
    assert (draft.clock.from_h, draft.clock.to_h) == (10.0, 2.0)
    assert draft.clock.view is Direction.AGAINST_FLOW


def test_what_was_not_said_stays_unknown():
    (draft,) = drafts("Crack here.")
    filled = {n for n in type(draft).model_fields if getattr(draft, n) not in (None, "")}
    assert filled == {"feature", "certainty"}


def test_spoken_sizes_carry_a_wide_margin():
    (draft,) = drafts("Roots, maybe thirty percent.")
    assert draft.section_share.sd >= 0.05


def test_each_place_goes_to_the_thing_beside_it():
    crack, roots = drafts("Crack at three o'clock, and roots at six o'clock.")
    assert (crack.clock.from_h, roots.clock.from_h) == (3.0, 6.0)


# ------------------------------------------------------------------ stretches and changes
def test_water_lasts_until_the_talk_says_that_it_is_over():
    heard = hear("Lens has gone under.", "Still under.", "Okay, out of the water.", every_s=10.0)
    (finding,) = heard.findings
    assert finding.draft.feature is Feature.CAMERA_UNDER_WATER
    assert finding.end_s == pytest.approx(120.0, abs=1.0)


def test_still_roots_is_the_same_stretch_of_roots():
    assert features(hear("Roots all through here.", "Still roots.")) == ["roots"]


def test_a_belly_with_water_is_one_sag_with_its_share():
    (draft,) = drafts("We got a belly here. It's holding water, about a third full.")
    assert draft.feature is Feature.SAG
    assert draft.water_share.value == pytest.approx(1 / 3)


def test_material_is_a_fact_first_and_then_a_change():
    heard = hear("It's four inch cast iron.", "Goes to clay here.")
    assert [(f.kind.value, f.value) for f in heard.facts if f.value] == [("material", "cast_iron")]
    (change,) = [f.draft for f in heard.findings]
    assert (change.material, change.material_after) == (Material.CAST_IRON, Material.CLAY)


def test_soil_seen_through_a_hole_is_no_change_of_material():
    assert features(hear("It's PVC.", "Joint's open, I can see the clay behind.")) == ["open_joint"]


def test_a_change_of_bore_keeps_both_diameters():
    (draft,) = drafts("Reducer here, six inch to four inch.")
    assert draft.diameter_m.value == pytest.approx(6 * M_PER_IN)
    assert draft.diameter_after_m.value == pytest.approx(4 * M_PER_IN)


# ------------------------------------------------------------------ mis-hearings
@pytest.mark.parametrize(
    ("talk", "feature", "heard_as"),
    [
        ("got routes at the joint", "roots", "routes"),
        ("sir conferential crack at the bell", "crack", "sir conferential"),
        ("off set joint about half an inch", "offset_joint", None),
        ("little billy here holding water", "sag", "billy"),
        ("tea on the left capped", "tap", None),
        ("in filtration at the joint dripping", "infiltration", "in filtration"),
    ],
)
def test_mis_heard_terms_are_understood_and_shown(talk, feature, heard_as):
    heard = hear(talk)
    assert features(heard) == [feature]
    if heard_as:
        corrections = [c for m in heard.mentions for c in m.corrections]
        assert heard_as in [c.heard for c in corrections]
        assert all(c.because for c in corrections)
        assert any(check.name == "mis-heard words" for check in heard.checks)


def test_plain_words_that_sound_like_trade_words_are_left_alone():
    heard = hear("I take two routes to work and they are upset about the valley.")
    assert heard.findings == ()
    assert all(not m.corrections for m in heard.mentions)


# ------------------------------------------------------------------ stations and facts
@pytest.mark.parametrize(
    ("talk", "metres"),
    [
        ("Forty two feet.", 42 * M_PER_FT),
        ("We're at twenty seven and a half feet.", 27.5 * M_PER_FT),
        ("Crack here, thirty one feet.", 31 * M_PER_FT),
        ("Twelve point three metres, joint's fine.", 12.3),
        ("One metre fifty.", 1.5),
        ("Counter says 18.4 feet.", 18.4 * M_PER_FT),
    ],
)
def test_distances_called_out(talk, metres):
    (station,) = hear(talk).stations
    assert station.distance_m.value == pytest.approx(metres)
    assert station.distance_m.sd > 0


def test_bare_numbers_are_distances_once_the_unit_is_known():
    heard = hear("Ten feet.", "Eighteen.", run=Run(id="r", counter_unit=LengthUnit.FEET))
    assert [s.distance_m.value for s in heard.stations] == [
        pytest.approx(10 * M_PER_FT),
        pytest.approx(18 * M_PER_FT),
    ]


@pytest.mark.parametrize(
    "talk",
    [
        "Roots for about six feet.",
        "It's five feet deep here.",
        "Crack three feet long.",
        "Two foot sections.",
    ],
)
def test_lengths_that_are_no_distances(talk):
    assert hear(talk).stations == ()


def test_facts_about_the_line_keep_their_words():
    heard = hear(
        "Going in the basement clean-out, heading downstream.",
        "It's six inch clay, two foot sections.",
        "House was built in nineteen fifty two.",
        "The permit says the tap's at sixty feet.",
        "Past the property line it's the city's responsibility.",
        first_s=2.0,
    )
    kinds = {fact.kind.value: fact for fact in heard.facts}
    assert kinds["direction"].value == "with_flow"
    assert kinds["material"].value == "clay"
    assert kinds["diameter"].number.value == pytest.approx(6 * M_PER_IN)
    assert kinds["section_length"].number.value == pytest.approx(2 * M_PER_FT)
    assert kinds["year"].number.value == 1952
    assert {"start_access", "record", "ownership"} <= kinds.keys()
    assert all(fact.text for fact in heard.facts)
    assert heard.findings == ()


# ------------------------------------------------------------------ mentions, ids, evidence
def test_every_sentence_is_a_mention_of_some_kind():
    heard = hear(
        "Roots here.", "No cracks.", "Thirty feet.", "Nice day out.", "You should line this."
    )
    assert [m.kind for m in heard.mentions] == [
        MentionKind.PIPE,
        MentionKind.DENIAL,
        MentionKind.STATION,
        MentionKind.TALK,
        MentionKind.ADVICE,
    ]


def test_ids_tell_run_time_and_feature_and_do_not_clash():
    cues = tuple(Cue(start_s=65.0, end_s=66.0, text="Crack at two and nine o'clock.") for _ in "a")
    heard = listen(Transcript(cues=cues), Run(id="front"))
    assert [f.id for f in heard.findings] == ["front-0105-crack", "front-0105-crackb"]
    assert len({f.id for f in heard.findings}) == len(heard.findings)


def test_evidence_names_mentions_that_exist_and_words_as_written():
    heard = hear("Big OFFSET here, Joe.")
    (finding,) = heard.findings
    assert finding.evidence.words == ("Big OFFSET here, Joe.",)
    assert set(finding.evidence.mention_ids) <= {m.id for m in heard.mentions}


# ------------------------------------------------------------------ hostile
def test_the_order_of_cues_does_not_matter():
    talk = [
        "It's clay.",
        "Roots at the joint.",
        "Forty feet.",
        "Crack at three.",
        "Same here.",
        "Belly.",
        "Out of the water.",
        "There's the main.",
    ]
    cues = [Cue(start_s=10.0 * i, end_s=10.0 * i + 3, text=t) for i, t in enumerate(talk)]
    straight = listen(Transcript(cues=tuple(cues)))
    random.Random(4).shuffle(cues)
    assert listen(Transcript(cues=tuple(cues))) == straight


WORDS = st.sampled_from(
    """crack roots at three o'clock no the joint and tap left not sorry same another one water
    belly half an inch feet forty two clay pvc goes to is it ? . , maybe hole out of""".split()  # noqa: SIM905 - a table reads better
)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 5e4), st.lists(WORDS, max_size=12)), max_size=8))
def test_any_jumble_of_trade_words_gives_consistent_findings(cues):
    heard = listen(
        Transcript(cues=tuple(Cue(start_s=s, text=" ".join(words)) for s, words in cues))
    )
    ids = [f.id for f in heard.findings]
    assert len(ids) == len(set(ids))
    for finding in heard.findings:
        assert finding.start_s <= finding.end_s
        assert finding.evidence.words
        assert finding.draft.kind is None or finding.draft.kind in KINDS[finding.draft.feature]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 5e4), st.text(max_size=80)), max_size=6))
def test_any_unicode_is_survived(cues):
    heard = listen(Transcript(cues=tuple(Cue(start_s=s, text=text) for s, text in cues)))
    assert heard.run_id == "run"


def test_an_empty_talk_says_so():
    heard = listen(Transcript())
    assert heard.findings == ()
    assert [(c.name, c.verdict) for c in heard.checks] == [("language", Verdict.DOUBT)]


def test_a_foreign_talk_says_so():
    german = (
        "Wir fahren jetzt in die Leitung hinein und sehen gleich am Anfang einen Riss oben, "
        "danach kommt ein Abzweig von links, das Rohr ist aus Steinzeug und an der dritten "
        "Muffe wachsen Wurzeln ein, ungefähr dreißig Prozent vom Querschnitt"
    )
    assert "language" in [c.name for c in hear(german).checks]
    assert "language" not in [
        c.name for c in hear(" ".join(["There's a crack at the top."] * 6)).checks
    ]


def test_a_talk_beyond_a_day_is_cut_and_says_so():
    text = "Roots at the joint. " * (LONGEST_CHARS // 40)
    cues = tuple(Cue(start_s=float(i), text=text) for i in range(4))
    assert sum(len(c.text) for c in cues) > LONGEST_CHARS
    from saltglaze.narration.checks import within_reach

    kept, check = within_reach(cues)
    assert sum(len(c.text) for c in kept) <= LONGEST_CHARS
    assert check is not None and check.verdict is Verdict.DOUBT


def test_problems_of_the_file_reach_the_checks():
    talk = read_transcript(b"[0:30] crack here\n[0:10] roots here\n", "t.txt")
    assert any("sorted" in check.reason for check in listen(talk).checks)


@pytest.mark.parametrize("words", ["nothing terrible", "nothing major", "not terrible"])
def test_what_is_not_bad_is_slight(words):
    (draft,) = drafts(f"Some scale on the wall here, {words}, it cleaned up pretty good.")
    assert draft.grade_word is Grade.SLIGHT


def test_the_end_of_a_belly_ends_the_belly_and_not_the_run():
    heard = hear("That's a belly.", "And that's the end of the belly, seventy nine feet.", "Okay.")
    (sag,) = heard.findings
    assert sag.draft.feature is Feature.SAG
    assert sag.end_s >= 112.0

"""The data files hold together, and the small pattern language does what it says."""

from __future__ import annotations

import pytest

from saltglaze.model.finding import KINDS, Facts, Feature, Grade, ScreenPlace, Turn
from saltglaze.model.line import Material
from saltglaze.narration.lexicon import lexicon
from saltglaze.narration.phrases import PhraseBook, compiled
from saltglaze.narration.sizes import spreads
from saltglaze.narration.tables import table

NO_FINDING_BY_ITSELF = set(
    """a an and are at be but by can do for from go goes going got has have he here i if in is it
    its joint joints left line me my no not of off on or out over pipe right section she so the
    then there this through to top up us was water way we with you""".split()  # noqa: SIM905 - a table reads better
)


def book(*said, sets=None, **entry):
    return PhraseBook([{"say": said, **entry}], sets or {})


def found(phrases, text):
    words = text.split()
    return [" ".join(words[i] for i in hit.at) for hit in phrases.find(words)]


# ------------------------------------------------------------------ the pattern language
@pytest.mark.parametrize(
    ("said", "text", "hit"),
    [
        ("root ball", "a root ball here", ["root ball"]),
        ("root|roots", "roots and a root", ["roots", "root"]),
        ("hairline (crack)", "a hairline crack", ["hairline crack"]),
        ("hairline (crack)", "a hairline at six", ["hairline"]),
        ("joint ... open", "joint is really wide open", ["joint open"]),
        ("joint ... open", "joint , then open", []),
        ("{wet} in", "water in", ["water in"]),
        ("joint's open", "the joint 's open", ["joint 's open"]),
        ("<length> of water", "<length> of water", ["<length> of water"]),
    ],
)
def test_each_mark_of_the_pattern_language(said, text, hit):
    assert found(book(said, sets={"wet": ["water", "damp"]}), text) == hit


def test_the_phrase_with_more_words_wins():
    phrases = PhraseBook([{"say": ["root"]}, {"say": ["root cutter"]}], {})
    assert found(phrases, "the root cutter and a root") == ["root cutter", "root"]


@pytest.mark.parametrize("said", ["... open", "joint ...", "(maybe)"])
def test_a_phrase_that_matches_nothing_is_refused(said):
    with pytest.raises(ValueError, match="nothing to match"):
        compiled(said, {}, {})


def test_a_named_set_may_stand_beside_other_words():
    phrases = PhraseBook([{"say": ["{joint}|pipe gone"]}], {"joint": ["hub", "bell"]})
    assert [bool(phrases.find((word, "gone"))) for word in ("hub", "pipe", "tap")] == [
        True,
        True,
        False,
    ]


def test_an_article_may_be_an_owners_word():
    phrases = PhraseBook([{"say": ["out into the ditch"]}], {})
    assert phrases.find(("out", "into", "your", "ditch"))
    assert not phrases.find(("out", "into", "a", "ditch"))


def test_an_unknown_word_set_is_refused():
    with pytest.raises(ValueError, match="no word set"):
        compiled("{nope}", {}, {})
    with pytest.raises(ValueError, match="word set"):
        compiled("pipe|{nope}", {}, {})


# ------------------------------------------------------------------ the tables
def test_every_feature_has_phrases_and_every_kind_is_known():
    entries = table("features")["phrase"]
    assert {entry["feature"] for entry in entries} == {feature.value for feature in Feature}
    for entry in entries:
        if "kind" in entry:
            assert entry["kind"] in KINDS[Feature(entry["feature"])]
        assert set(entry) <= {"say", "weak", "alone", "lift"} | set(Facts.model_fields)


def test_hints_name_features_and_no_common_word_is_one():
    for entry in table("hints")["hint"]:
        Feature(entry["feature"])
        assert set(entry) <= {"feature", "kind", "say"}
        assert not set(entry["say"]) & NO_FINDING_BY_ITSELF - {"water"}


def test_every_kind_can_be_said():
    said = {(e["feature"], e.get("kind")) for e in table("features")["phrase"]}
    for entry in table("qualities")["quality"]:
        for feature in entry.get("of", ()):
            said.add((feature, entry.get("kind")))
    angles = {("bend", kind) for kind in ("1/16", "1/8", "1/6", "1/4")}  # told by their angle
    missing = {(f.value, kind) for f, kinds in KINDS.items() for kind in kinds} - said - angles
    assert missing == set()


def test_no_common_word_alone_is_a_finding():
    first_words = {
        next(iter(phrase.elements[0] or ()))
        for phrases in lexicon().features._by_first.values()
        for phrase in phrases
        if len(phrase.elements) == 1 and not phrase.entry.get("alone")
    }
    assert first_words & NO_FINDING_BY_ITSELF == set()


def test_values_of_the_tables_are_values_of_the_records():
    for entry in table("qualities")["quality"]:
        if "grade" in entry:
            Grade(entry["grade"])
        if "turn" in entry:
            Turn(entry["turn"])
        for feature in entry.get("of", ()):
            Feature(feature)
    for entry in table("sides")["side"]:
        if "screen" in entry:
            ScreenPlace(entry["screen"])
        assert all(0.0 <= hour < 12.0 for hour in entry.get("clock", ()))
    assert {Material(e["material"]) for e in table("materials")["material"]} == set(Material)


def test_every_size_has_a_spread_and_the_file_says_where_it_comes_from():
    sizes = [n for n in Facts.model_fields if n.endswith(("_m", "_share", "_deg"))]
    assert set(sizes) <= set(spreads())
    assert all(spread.least > 0 and spread.of_value > 0 for spread in spreads().values())


def test_mis_hearings_that_are_plain_words_need_words_beside_them():
    from saltglaze.narration.tables.ordinary import ordinary_words

    for entry in table("mishearings")["term"]:
        gated = entry.get("after") or entry.get("before")
        short = [h for h in entry["heard"] if len(h) <= 3 and h in ordinary_words()]
        assert gated or not short, (entry["term"], short)

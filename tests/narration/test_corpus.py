"""The labelled narrations, the scorer, and the reaches of the ear on both halves.

The labels are this project's own, written by hand from the words
(docs/methods/listening-corpus.md); there is no outside corpus of drain talk.
"""

from __future__ import annotations

import json
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, DraftedBy, Evidence, Facts, Finding

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
sys.path.insert(0, str(BENCHMARKS))
sys.path.insert(0, str(BENCHMARKS / "narrations"))

import write_out  # noqa: E402

import answer_key  # noqa: E402
import score_listening  # noqa: E402

TALKS = sorted((BENCHMARKS / "narrations").glob("*/*.talk"))


def labels_beside(path: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    return loaded


def as_labelled(label: dict[str, Any], number: int, **changes: Any) -> Finding:
    """The finding that a perfect ear would draft for a label."""
    fields: dict[str, Any] = {"feature": label["feature"]}
    for name, said in label["stated"].items():
        if name == "clock":
            fields["clock"] = Clock(**{"from_h": 0.0, **said})
        elif name == "place":
            fields["screen"] = {"crown": "top", "invert": "bottom"}[said]
        elif name.endswith(("_m", "_share", "_deg")):
            fields[name] = Estimate.of(said, 0.01)
        else:
            fields[name] = said
    return Finding(
        id=str(number),
        draft=Facts(**fields),
        evidence=Evidence(drafted_by=DraftedBy.NARRATION),
        **{"start_s": label["start_s"], "end_s": label["end_s"], **changes},
    )


def heard(*findings: Finding) -> Heard:
    return Heard(run_id="talk", findings=findings)


def label(feature: str, start_s: float, **stated: Any) -> dict[str, Any]:
    return {
        "feature": feature,
        "or": [],
        "start_s": start_s,
        "end_s": start_s + 3.0,
        "stretch": False,
        "optional": False,
        "stated": stated,
        "text": "",
    }


def key(*labels: dict[str, Any]) -> dict[str, Any]:
    return {"duration_s": 600.0, "findings": list(labels), "stations": [], "facts": []}


def test_the_corpus_is_as_large_as_it_says() -> None:
    counts = {"seen": 0, "unseen": 0}
    for path in TALKS:
        counts[path.parent.name] += sum(
            not found["optional"] for found in labels_beside(path)["findings"]
        )
    assert len(TALKS) >= 296
    assert min(counts.values()) >= 390


@pytest.mark.parametrize("path", TALKS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_files_beside_a_talk_are_the_ones_it_writes(path: Path) -> None:
    talk = write_out.read_talk(path.read_text(encoding="utf-8"))
    labels = write_out.labels_of(talk)
    write_out.check(labels, path.name)
    assert labels == labels_beside(path)
    assert write_out.webvtt(talk) == path.with_suffix(".vtt").read_text(encoding="utf-8")
    assert "Invented" in write_out.webvtt(talk).splitlines()[2]


def test_no_cue_stands_word_for_word_in_both_halves_with_a_finding() -> None:
    said: dict[str, set[str]] = {"seen": set(), "unseen": set()}
    for path in TALKS:
        said[path.parent.name] |= {
            found["text"].lower()
            for found in labels_beside(path)["findings"]
            if len(found["text"].split()) > 6  # two talks may well say "Same at the next one."
        }
    assert not said["seen"] & said["unseen"]


def test_a_perfect_ear_scores_full_marks() -> None:
    talks = []
    for path in TALKS:
        labels = labels_beside(path)
        drafted = [as_labelled(found, n) for n, found in enumerate(labels["findings"])]
        required = [found for found in labels["findings"] if not found["optional"]]
        talks.append(answer_key.score_talk(path.stem, labels, heard(*drafted)))
        assert len(talks[-1].matches) == len(required)
    result = score_listening.Score(talks)
    assert (result.precision, result.recall, result.attributes) == (1.0, 1.0, 1.0)
    assert not result.unstated
    assert result.false_hedges == 0


def test_a_deaf_ear_scores_nothing() -> None:
    result = score_listening.Score([answer_key.score_talk("t", key(label("roots", 9.0)), heard())])
    assert (result.precision, result.recall, result.f1, result.attributes) == (0, 0, 0, 0)


def test_one_finding_answers_one_label() -> None:
    labels = key(label("roots", 10.0), label("roots", 12.0))
    drafted = as_labelled(labels["findings"][0], 0)
    scored = answer_key.score_talk("t", labels, heard(drafted))
    assert (len(scored.matches), len(scored.missed), len(scored.spurious)) == (1, 1, 0)


def test_an_optional_label_neither_asks_nor_forbids() -> None:
    labels = key(label("tap", 10.0), label("tap", 10.0) | {"optional": True})
    drafted = as_labelled(labels["findings"][0], 0)
    for number in (1, 2):
        scored = answer_key.score_talk("t", labels, heard(*[drafted] * number))
        assert (len(scored.matches), len(scored.missed), len(scored.spurious)) == (1, 0, 0)


def test_two_of_a_feature_are_paired_by_what_they_state() -> None:
    labels = key(
        label("crack", 10.0, clock={"from_h": 0.0}), label("crack", 10.0, clock={"from_h": 6.0})
    )
    drafted = [as_labelled(found, n) for n, found in enumerate(reversed(labels["findings"]))]
    scored = answer_key.score_talk("t", labels, heard(*drafted))
    assert all(all(match.right.values()) for match in scored.matches)


def test_the_wrong_feature_or_a_late_time_is_a_miss_and_an_invention() -> None:
    labels = key(label("roots", 10.0))
    late = as_labelled(labels["findings"][0], 0, start_s=17.1, end_s=19.0)
    other = as_labelled(label("crack", 10.0), 1)
    for drafted in (late, other):
        scored = answer_key.score_talk("t", labels, heard(drafted))
        assert (len(scored.matches), len(scored.missed), len(scored.spurious)) == (0, 1, 1)


@pytest.mark.parametrize(
    ("stated", "drafted", "right"),
    [
        ({"clock": {"from_h": 0.0}}, {"clock": {"from_h": 11.8}}, True),
        ({"clock": {"from_h": 2.0}}, {"clock": {"from_h": 4.0}}, False),
        ({"clock": {"from_h": 10.0, "to_h": 2.0}}, {"clock": {"from_h": 10.0}}, False),
        ({"screen": "left"}, {"screen": "right"}, False),
        ({"width_m": 0.0127}, {"width_m": 0.0125}, True),
        ({"width_m": 0.0127}, {"width_m": 0.127}, False),
        ({"water_share": 0.33}, {"water_share": 1 / 3}, True),
        ({"certainty": "supposed"}, {}, False),
    ],
)
def test_attributes_are_judged_by_what_was_stated(
    stated: dict[str, Any], drafted: dict[str, Any], right: bool
) -> None:
    said = label("crack", 5.0, **stated)
    finding = as_labelled(label("crack", 5.0, **drafted), 0)
    assert answer_key.attributes(said, finding) == {next(iter(stated)): right}


def test_what_the_words_do_not_give_is_reported_as_unstated() -> None:
    said = label("roots", 5.0, kind="fine")
    finding = as_labelled(label("roots", 5.0, kind="fine", clock={"from_h": 3.0}), 0)
    assert answer_key.unstated(said, finding.draft) == ("clock",)


def test_the_scored_half_keeps_its_details(capsys: pytest.CaptureFixture[str]) -> None:
    assert score_listening.main(["unseen", "--detail"]) == 2
    assert "--reveal" in capsys.readouterr().err


@cache
def score_of(split: str) -> score_listening.Score:
    return score_listening.score(split)


REACHES = {"precision": 0.90, "recall": 0.90, "attributes": 0.85}


@pytest.mark.parametrize("figure", REACHES)
def test_the_ear_reaches_on_the_half_its_rules_were_written_from(figure: str) -> None:
    assert getattr(score_of("seen"), figure) >= REACHES[figure]


@pytest.mark.parametrize("figure", REACHES)
def test_the_ear_reaches_on_words_it_never_saw(figure: str) -> None:
    assert getattr(score_of("unseen"), figure) >= REACHES[figure]

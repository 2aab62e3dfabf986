"""What could not be judged is gathered by reason and told as a share of the film."""

import appraisals
import pytest

from saltglaze.model.appraisal import NotSeen
from saltglaze.model.base import Estimate
from saltglaze.report.answers import answers
from saltglaze.report.frame import Frame
from saltglaze.report.measures import Measures
from saltglaze.report.unjudged import Span, joined, told_by_reason, unjudged_share
from saltglaze.report.wording import Words

E = Estimate.of


def framed(*parts):
    appraisal = appraisals.rich(25.0).model_copy(update={"not_seen": parts})
    return Frame(appraisal, Words(), Measures("metric", Words()), "a4")


def test_spans_that_meet_within_their_margin_are_one():
    spans = [Span(3.0, 5.0, 0.1), Span(0.0, 2.0, 0.1), Span(5.05, 6.0, 0.2), Span(1.0, 1.5, 0.1)]
    assert joined(spans) == [Span(0.0, 2.0, 0.1), Span(3.0, 6.0, 0.2)]


def test_stretches_filmed_while_backing_up_are_told_upwards():
    fast = "the camera moved too fast"
    frame = framed(
        NotSeen(from_m=E(10.0, 0.2), to_m=E(8.0, 0.2), why=fast),
        NotSeen(from_m=E(2.0, 0.2), to_m=E(3.0, 0.2), why=fast + "."),
        NotSeen(from_s=60.0, to_s=65.0, why="the lens was fouled"),
    )
    assert told_by_reason(frame) == [
        "The camera moved too fast: 2.0 ± 0.4 to 3.0 ± 0.4 m; 8.0 ± 0.4 to 10.0 ± 0.4 m.",
        "The lens was fouled: Film from 1:00 to 1:05.",
    ]


def test_the_share_counts_overlaps_once():
    frame = framed(
        NotSeen(from_m=E(0.0, 0.1), to_m=E(5.0, 0.1), why="dark"),
        NotSeen(from_m=E(4.0, 0.1), to_m=E(10.0, 0.1), why="fast"),
    )
    assert unjudged_share(frame.appraisal) == pytest.approx(10.0 / 25.0)
    unseen = answers(frame).items[-1]
    assert unseen.answer == "One stretch, about 40 % of what was filmed, could not be judged."

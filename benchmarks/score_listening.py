"""Score how well talk is turned into findings, on the hand-labelled narrations.

::

    python benchmarks/score_listening.py            # both halves, totals only
    python benchmarks/score_listening.py seen --detail
    python benchmarks/score_listening.py --speed    # an hour of talk against the clock

How a finding answers a label is in ``answer_key.py``. ``--detail`` shows what was
missed and what was made up; it refuses the unseen half, so that no rule is
written from it, unless ``--reveal`` says that the scoring is over for good.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from answer_key import Match, Scored, score_talk
from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.talk import Transcript

NARRATIONS = Path(__file__).parent / "narrations"
SPLITS = ("seen", "unseen")


# ---------------------------------------------------------------- a split
@dataclass
class Score:
    """Figures of one split."""

    talks: list[Scored]

    @property
    def found(self) -> int:
        """Labels that a finding answers."""
        return sum(len(talk.matches) for talk in self.talks)

    @property
    def precision(self) -> float:
        """Share of drafted findings that answer a label."""
        drafted = self.found + sum(len(talk.spurious) for talk in self.talks)
        return self.found / drafted if drafted else 0.0

    @property
    def recall(self) -> float:
        """Share of labels that a finding answers."""
        labelled = self.found + sum(len(talk.missed) for talk in self.talks)
        return self.found / labelled if labelled else 0.0

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall."""
        total = self.precision + self.recall
        return 2.0 * self.precision * self.recall / total if total else 0.0

    @property
    def by_attribute(self) -> dict[str, tuple[int, int]]:
        """Per attribute: how often right, how often stated in an answered label."""
        right: Counter[str] = Counter()
        asked: Counter[str] = Counter()
        for match in self.matches:
            for name, ok in match.right.items():
                asked[name] += 1
                right[name] += ok
        return {name: (right[name], asked[name]) for name in sorted(asked)}

    @property
    def attributes(self) -> float:
        """Share of stated attributes that the draft has right."""
        counts = self.by_attribute.values()
        asked = sum(total for _, total in counts)
        return sum(right for right, _ in counts) / asked if asked else 0.0

    @property
    def matches(self) -> Iterable[Match]:
        """All answered labels."""
        return (match for talk in self.talks for match in talk.matches)

    @property
    def spurious_per_hour(self) -> float:
        """Findings made up per hour of talk."""
        hours = sum(talk.hours for talk in self.talks)
        return sum(len(talk.spurious) for talk in self.talks) / hours if hours else 0.0

    @property
    def false_hedges(self) -> int:
        """Findings marked supposed that were said plainly."""
        return sum(match.false_hedge for match in self.matches)

    @property
    def unstated(self) -> Counter[str]:
        """Fields filled without words for them."""
        return Counter(name for match in self.matches for name in match.unstated)

    def recall_of(self, what: str) -> tuple[int, int, int]:
        """Return (right, labelled, drafted) of ``stations`` or ``facts``."""
        counts = [getattr(talk, what) for talk in self.talks]
        right, labelled, drafted = (sum(column) for column in zip(*counts, strict=True))
        return right, labelled, drafted

    def interval95(self, what: str, draws: int = 2000) -> tuple[float, float]:
        """Return the 95 % bootstrap interval of a figure, narrations drawn afresh."""
        rng = np.random.default_rng(20)
        values = []
        for _ in range(draws):
            rows = rng.integers(0, len(self.talks), len(self.talks))
            values.append(getattr(Score([self.talks[row] for row in rows]), what))
        low, high = np.percentile(values, [2.5, 97.5])
        return float(low), float(high)


def read_vtt(path: Path) -> Transcript:
    """Read one narration's words."""
    from saltglaze.narration.transcripts import read_transcript

    return read_transcript(path.read_bytes(), path.name)


def hear(path: Path) -> Heard:
    """Run the ear over one narration."""
    from saltglaze.narration.listen import listen

    return listen(read_vtt(path))


def score(split: str) -> Score:
    """Run the ear over a split and score it."""
    talks = []
    for path in sorted((NARRATIONS / split).glob("*.vtt")):
        labels = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        talks.append(score_talk(path.stem, labels, hear(path)))
    return Score(talks)


# ---------------------------------------------------------------- speed
def hour_of_talk() -> Transcript:
    """Return an hour of transcript: the seen talks end to end."""
    cues, start_s = [], 0.0
    paths = sorted((NARRATIONS / "seen").glob("*.vtt"))
    while start_s < 3600.0:
        for path in paths:
            talk = read_vtt(path)
            for cue in talk.cues:
                end_s = None if cue.end_s is None else cue.end_s + start_s
                cues.append(
                    cue.model_copy(update={"start_s": cue.start_s + start_s, "end_s": end_s})
                )
            start_s = (cues[-1].end_s or cues[-1].start_s) + 2.0
    return Transcript(cues=tuple(cue for cue in cues if cue.start_s < 3600.0), source="an hour")


def seconds_per_hour(repeats: int = 3) -> float:
    """Return the best processor time to interpret an hour of talk, in seconds."""
    from saltglaze.narration.listen import listen

    talk, best = hour_of_talk(), float("inf")
    listen(talk)
    for _ in range(repeats):
        began = time.process_time()
        listen(talk)
        best = min(best, time.process_time() - began)
    return best


# ---------------------------------------------------------------- printing
def print_totals(split: str, result: Score) -> None:
    """Print what may be known of any split."""
    hours = sum(talk.hours for talk in result.talks)
    labelled = result.found + sum(len(talk.missed) for talk in result.talks)
    print(f"{split}: {len(result.talks)} narrations, {hours:.2f} h, {labelled} labelled findings")
    for name in ("precision", "recall", "f1", "attributes"):
        low, high = result.interval95(name)
        print(f"  {name:<12}{getattr(result, name):6.3f}   95 % {low:.3f} to {high:.3f}")
    print(f"  made up {result.spurious_per_hour:.1f} an hour of talk")
    print(f"  hedged without a hedge: {result.false_hedges}")
    print(f"  fields filled without words: {sum(result.unstated.values())}")
    for what in ("stations", "facts"):
        right, asked, drafted = result.recall_of(what)
        print(f"  {what}: {right} of {asked} understood, {drafted} drafted")
    for name, (right, asked) in result.by_attribute.items():
        print(f"    {name:<18}{right:4d} of {asked:4d}  {right / asked:.2f}")


def print_detail(result: Score) -> None:
    """Print what was missed, made up and wrong."""
    tally: Counter[tuple[str, str]] = Counter()
    for talk in result.talks:
        print(f"-- {talk.name}")
        for label in talk.missed:
            tally[label["feature"], "missed"] += 1
            print(f"  missed   {label['start_s']:6.1f} {label['feature']:<18} {label['text']}")
        for finding in talk.spurious:
            tally[finding.draft.feature.value, "made up"] += 1
            words = " / ".join(finding.evidence.words)
            print(f"  made up  {finding.start_s or 0:6.1f} {finding.draft.feature:<18} {words}")
        for match in talk.matches:
            tally[match.label["feature"], "found"] += 1
            for name, right in match.right.items():
                if not right:
                    said = match.label["stated"].get(name, match.label["end_s"])
                    facts = match.finding.draft
                    drafted = (
                        getattr(facts, name, None) if name != "extent" else match.finding.end_s
                    )
                    if isinstance(drafted, Estimate):
                        drafted = drafted.value
                    print(
                        f"  wrong    {match.label['start_s']:6.1f} {match.label['feature']}.{name}:"
                        f" said {said}, drafted {drafted}: {match.label['text']}"
                    )
            if match.unstated:
                filled = ", ".join(
                    f"{name}={getattr(match.finding.draft, name)}" for name in match.unstated
                )
                print(f"  unsaid   {match.label['start_s']:6.1f} {filled}: {match.label['text']}")
            if match.false_hedge:
                print(f"  hedged   {match.label['start_s']:6.1f} {match.label['text']}")
        for said in talk.missed_said:
            print(f"  unheard  {said}")
    print(f"{'feature':<20}{'found':>7}{'missed':>8}{'made up':>9}")
    for feature in sorted({feature for feature, _ in tally}):
        counts = [tally[feature, what] for what in ("found", "missed", "made up")]
        print(f"{feature:<20}{counts[0]:>7}{counts[1]:>8}{counts[2]:>9}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the options, score, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("split", nargs="?", choices=SPLITS, help="one half (both unless named)")
    parser.add_argument("--detail", action="store_true", help="show misses (seen half only)")
    parser.add_argument("--reveal", action="store_true", help="allow --detail on the unseen half")
    parser.add_argument("--speed", action="store_true", help="time an hour of talk instead")
    options = parser.parse_args(arguments)
    splits = [options.split] if options.split else list(SPLITS)
    if options.detail and "unseen" in splits and not options.reveal:
        print("the unseen half is only scored: name `seen`, or add --reveal", file=sys.stderr)
        return 2
    if options.speed:
        print(f"an hour of talk: {seconds_per_hour():.2f} s of one core")
        return 0
    for split in splits:
        result = score(split)
        if not result.talks:
            print(f"{split}: no narrations")
            continue
        print_totals(split, result)
        if options.detail:
            print_detail(result)
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The cautions that go with what a job asks people to do."""

from __future__ import annotations

from collections.abc import Iterable

from saltglaze.model.appraisal import Cleaning, Position, RemedyChoice, RemedyKind
from saltglaze.model.job import Job

ALWAYS = (
    "This appraisal rests on what one camera run showed. It does not replace the judgement of a "
    "licensed professional or the local code.",
    "Nobody should enter a manhole, pit or tank on the strength of this paper: confined spaces "
    "need a permit, gas testing and a trained crew.",
)
DIGGING = (
    "Call {one_call} before any digging, and wait for the marks. Private lines beyond the meter "
    "are usually not marked: ask the owner, and expose by hand inside the tolerance zone.",
    "A trench of 5 ft (1.5 m) or deeper needs a protective system; a shallower one needs one too "
    "where a competent person sees a danger of cave-in.",
)


def cautions(
    job: Job, position: Position, cleaning: Cleaning, remedy: RemedyChoice
) -> tuple[str, ...]:
    """Return the cautions that apply, each once, in a fixed order."""
    said = [*ALWAYS]
    if position.digs or remedy.chosen in _DIGS:
        said += [text.format(one_call=job.place.one_call) for text in DIGGING]
    said += cleaning.cautions
    return _once(said)


_DIGS = (RemedyKind.SPOT_DIG, RemedyKind.OPEN_CUT, RemedyKind.BURST_AND_REPLACE)


def _once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))

"""What a record knows that could tell who and where: names, addresses, labels, words said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.resources import files
from typing import Final, NamedTuple

from saltglaze.model.appraisal import Appraisal
from saltglaze.model.finding import Finding
from saltglaze.model.ground import ParcelKind
from saltglaze.model.job import Job, Party

PLACE: Final = "the place"
WORDS: Final = "words taken out"
LABEL: Final = "a name taken out"


class Known(NamedTuple):
    """A text to take out, and what stands in its place.

    ``always``: even where it is made of ordinary words, then only as it is spelled.
    """

    text: str
    instead: str
    always: bool = False


@cache
def _ordinary_words() -> frozenset[str]:
    text = files("saltglaze.exchange").joinpath("ordinary_words.txt").read_text(encoding="utf-8")
    return frozenset(text.split())


def is_ordinary(text: str) -> bool:
    """Whether a text is made of numbers and everyday or trade words alone."""
    return all(word.lower() in _ordinary_words() for word in re.findall(r"[^\W\d_]+", text))


def known_names(appraisal: Appraisal) -> tuple[Known, ...]:
    """Return every text of the record that could tell who or where, most telling first.

    Names of people and places come whole, in their parts between commas, and word by
    word where a word is not an ordinary one.
    """
    job = appraisal.job
    named = (*_people(job), *_places(job))
    parts = (part for known in named for part in _parts(known))
    return (*named, *parts, *_labels(job), *_said(appraisal))


def _people(job: Job) -> Iterator[Known]:
    yield from _party(job.owner, "the owner")
    yield from _party(job.firm, "the firm")
    yield Known(job.technician, "the technician", always=True)
    for parcel in job.parcels:
        public = parcel.kind is ParcelKind.RIGHT_OF_WAY
        yield Known(parcel.owner, "the public" if public else "another owner", always=True)
    if job.place.ownership:
        yield Known(job.place.ownership.authority, "the sewer authority", always=True)


def _party(party: Party | None, role: str) -> Iterator[Known]:
    if party is not None:
        yield Known(party.name, role, always=True)
        yield Known(party.address, PLACE, always=True)
        yield Known(party.phone, "a number taken out", always=True)
        yield Known(party.email, "an address taken out", always=True)


def _places(job: Job) -> Iterator[Known]:
    place = job.place
    yield from (Known(text, PLACE, always=True) for text in (place.address, place.town))
    yield Known(place.region, PLACE, always=True)
    yield Known(place.code, "the local code")
    if place.ownership:
        yield Known(place.ownership.citation, "the local rule")
    if place.one_call != "811":
        yield Known(place.one_call, "the local one-call service", always=True)


def _parts(known: Known) -> Iterator[Known]:
    pieces = [piece.strip() for piece in re.split(r"[,;()/]", known.text)]
    words = re.findall(r"[^\W_]+(?:['’-][^\W_]+)*", known.text)
    for piece in (*pieces, *words):
        if len(piece) > 2 and not piece.isdigit():
            yield Known(piece, known.instead)


def _labels(job: Job) -> Iterator[Known]:
    """What people called things: free labels, and files."""
    yield Known(job.title, "the job")
    yield Known(job.id, "the job")
    yield Known(job.line.name, "the line")
    yield Known(job.line.id, "the line")
    for run in job.runs:
        texts = (run.id, run.video or "", run.narration or "", run.start_access or "", run.camera)
        yield from (Known(text, LABEL) for text in texts)
    called = [text for parcel in job.parcels for text in (parcel.id, parcel.source)]
    called += [text for main in job.mains for text in (main.id, main.source)]
    called += [text for other in job.utilities for text in (other.id, other.source)]
    called += [text for mark in job.marks for text in (mark.id, mark.name)]
    called += [access.name for access in job.line.accesses]
    called += [landmark.name for landmark in job.line.landmarks]
    called += [visit.source for visit in job.history.visits]
    yield from (Known(text, LABEL) for text in called)
    if job.prices:
        yield Known(job.prices.name, "the price list")
        yield from (Known(price.source, LABEL) for price in job.prices.prices)


def _said(appraisal: Appraisal) -> Iterator[Known]:
    """What was said or noted, whole; fragments are caught as quotations."""
    job = appraisal.job
    notes = [job.notes, *(access.note for access in job.line.accesses)]
    notes += [segment.note for segment in job.line.segments]
    notes += [locate.note for locate in job.locates]
    notes += [text for jet in job.passes for text in (jet.note, jet.nozzle)]
    notes += [service.note for service in job.history.services]
    findings = [found.finding for found in appraisal.findings]
    findings += [*job.typed, *job.edits.values()]
    findings += [old for visit in job.history.visits for old in visit.findings]
    texts = (*notes, *_talk(appraisal), *(text for f in findings for text in _of(f)))
    yield from (Known(text, WORDS) for text in texts)


def _talk(appraisal: Appraisal) -> Iterator[str]:
    for talk in appraisal.job.talks:
        yield from (cue.text for cue in talk.transcript.cues)
        yield from (cue.speaker for cue in talk.transcript.cues)
        yield talk.transcript.source
    for heard in appraisal.heard:
        yield from (mention.text for mention in heard.mentions)
        yield from (fact.text for fact in heard.facts)
        yield from (station.text for station in heard.stations)


def _of(finding: Finding) -> Iterable[str]:
    edit = finding.edit
    edited = (edit.by, edit.because, edit.facts.remark if edit.facts else "") if edit else ()
    return (finding.draft.remark, finding.evidence.typed_in, *finding.evidence.words, *edited)

"""What all papers of one job share: words, measures, numbers of findings, who and where."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import cached_property

from saltglaze.condition.plain import plain_name
from saltglaze.model.appraisal import Appraisal, Change, Still
from saltglaze.model.job import Party
from saltglaze.report.blocks import Drawing, Note
from saltglaze.report.measures import Measures, money_prefix
from saltglaze.report.numbering import Numbered, numbered
from saltglaze.report.prose import lengths_told, without_place
from saltglaze.report.sheet.callouts import finding_name
from saltglaze.report.sheet.scene import Scene
from saltglaze.report.sheet.sheet import Page
from saltglaze.report.sheet.svg import PRINT_FONT, svg
from saltglaze.report.wording import Words

_IMPERIAL = re.compile(r"\d ?(?:ft|in|psi|gpm|gal|feet|inch(?:es)?)\b")


@dataclass(frozen=True)
class Frame:
    """One job seen by the paper writers."""

    appraisal: Appraisal
    words: Words
    measures: Measures
    page: Page

    @cached_property
    def findings(self) -> tuple[Numbered, ...]:
        """Findings that stand, numbered."""
        return numbered(self.appraisal)

    @cached_property
    def by_id(self) -> dict[str, Numbered]:
        """Numbered findings by id."""
        return {f.item.finding.id: f for f in self.findings}

    @cached_property
    def worst_first(self) -> tuple[Numbered, ...]:
        """Graded findings, worst first, then along the line."""
        graded = [f for f in self.findings if f.grade is not None]
        return tuple(sorted(graded, key=lambda f: (-(f.grade or 0), f.number)))

    @cached_property
    def changes(self) -> dict[str, Change]:
        """Change since last time by finding id."""
        return {c.finding_id: c for c in self.appraisal.changes if c.finding_id}

    @cached_property
    def stills(self) -> dict[str, Still]:
        """First still of each finding."""
        found: dict[str, Still] = {}
        for still in self.appraisal.stills:
            found.setdefault(still.finding_id, still)
        return found

    def told(self, text: str, own: str) -> str:
        """Return the record's own sentence where it suits the reader, else ours.

        The record's sentences are English; a reader of another language gets the sentence
        from our texts, and so does a reader of metric papers where the record's carries
        psi or gallons. Lengths are told in the reader's units.
        """
        text = lengths_told(text, self.measures.system)
        foreign = self.words.language != "en" or (
            not self.measures.us and _IMPERIAL.search(text) is not None
        )
        return own if foreign or not text.strip() else self.words.sentence(self._priced(text))

    def _priced(self, text: str) -> str:
        """Return text with its sums written as in the tables: "$310" for "310 USD"."""
        currency = self.appraisal.remedy.currency
        sign = money_prefix(currency)
        if sign.strip() == currency:
            return text
        sums = re.compile(rf"([\d,]*\d)( \([\d,]*\d to [\d,]*\d\))? {re.escape(currency)}\b")
        return sums.sub(lambda found: re.sub(r"(?<![\d,])(?=\d)", sign, found[0][:-4]), text)

    def plain(self, finding: Numbered) -> str:
        """Return what a finding is in one plain sentence."""
        own = self.words(f"plain.{finding.item.finding.facts.feature}")
        return self.told(finding.item.plain, own)

    def plain_here(self, finding: Numbered) -> str:
        """Return what a finding is, for where its name and place are told beside it.

        A sentence of the record that only names it gives way to ours, which explains.
        """
        facts = finding.item.finding.facts
        told = without_place(self.plain(finding))
        bare = told.rstrip(".").lower() == plain_name(facts).lower()
        return self.words(f"plain.{facts.feature}") if bare else told

    @property
    def return_plain(self) -> str:
        """When to come back, in one sentence; empty where that is not known."""
        advice = self.appraisal.cleaning.advice
        own = ""
        if advice.interval_years.known:
            interval = self.measures.years(advice.interval_years)
            own = self.words("cleaning.come_back", interval=interval)
        return self.told(advice.plain, own)

    def name(self, finding: Numbered) -> str:
        """Return a finding's name with its kind."""
        return finding_name(finding, self.measures)

    def tagged(self, finding_id: str) -> str:
        """Return "8 (Roots, mass)" for an id; the id itself where it is not in the report."""
        found = self.by_id.get(finding_id)
        if found is None:
            return self.words("finding.elsewhere", id=finding_id)
        return self.words("finding.tagged", number=found.number, name=self.name(found))

    def place(self, finding: Numbered) -> str:
        """Return distance along the pipe and depth in short, where the start is told before."""
        place = finding.item.place
        if not place.station_m.known:
            return self.where(finding)
        along = self.words(
            "where.short", stretch=self.measures.stretch(place.station_m, place.end_station_m)
        )
        if place.depth_m is None or not place.depth_m.known:
            return along
        return self.words("where.deep", along=along, depth=self.measures.depth(place.depth_m))

    def where(self, finding: Numbered) -> str:
        """Return distance along the pipe and depth in words."""
        place = finding.item.place
        if not place.station_m.known:
            return self.words("where.unknown", because=self.measures.unknown(place.station_m))
        along = self.words(
            "where.along",
            stretch=self.measures.stretch(place.station_m, place.end_station_m),
            start=self.start_name,
        )
        if place.depth_m is None or not place.depth_m.known:
            return along
        return self.words("where.deep", along=along, depth=self.measures.depth(place.depth_m))

    @property
    def start_name(self) -> str:
        """Where stations begin."""
        for run in self.appraisal.job.runs:
            if run.start_access:
                return self.words("where.from_access", name=lower_first(run.start_access))
        return self.words("where.from_start")

    @property
    def site(self) -> str:
        """Address and town, or the job's title or number."""
        job = self.appraisal.job
        parts = [p for p in (job.place.address, job.place.town, job.place.region) if p]
        return ", ".join(parts) or job.title or self.words("site.job", id=job.id)

    @property
    def short_site(self) -> str:
        """Address alone, or what stands for it."""
        job = self.appraisal.job
        return job.place.address or job.title or self.words("site.job", id=job.id)

    @property
    def day(self) -> dt.date | None:
        """Day of the visit."""
        job = self.appraisal.job
        return job.date or next((run.date for run in job.runs if run.date), None)

    @property
    def seen_on(self) -> str:
        """When the line was looked at, or that no date was recorded."""
        if self.day is None:
            return self.words.sentence(self.measures.date(None)).rstrip(".")
        return self.words("report.seen_on", date=self.measures.date(self.day))

    @property
    def firm(self) -> str:
        """Name of the firm."""
        firm = self.appraisal.job.firm
        return firm.name if firm else self.words("firm.unknown")

    @property
    def foot(self) -> str:
        """Running foot of every paper."""
        text = self.words("foot", site=self.short_site, date=self.measures.date(self.day))
        return f"{text} · {self.words('invented.short')}" if self.appraisal.job.invented else text

    @property
    def invented(self) -> tuple[Note, ...]:
        """The notice that the data is invented, where it is."""
        if not self.appraisal.job.invented:
            return ()
        return (Note(self.words("invented.long"), "invented", self.words("invented.title")),)

    def drawing(self, scene: Scene, prefix: str) -> Drawing:
        """Return a scene as written for screen and print."""
        alt = f"{scene.title}. {scene.description}".strip()
        return Drawing(
            svg(scene, prefix=prefix),
            svg(scene, prefix=prefix, font=PRINT_FONT),
            alt,
            scene.width,
            scene.height,
        )

    def grade_words(self, grade: int | None) -> str:
        """Return "Grade 4: act soon"."""
        if grade is None:
            return self.words("grade.none")
        return self.words("grade.named", grade=grade, meaning=self.words(f"grade.{grade}"))

    def party(self, party: Party | None, unknown: str) -> tuple[str, ...]:
        """Return a party's lines for a letterhead."""
        if party is None:
            return (unknown,)
        return tuple(t for t in (party.name, party.address, party.phone, party.email) if t)


def lower_first(text: str) -> str:
    """Return a phrase for the middle of a sentence; words in capitals stay."""
    return text[:1].lower() + text[1:] if text[1:2].islower() or len(text) == 1 else text

"""From a transcript to what was heard: mentions, stations, line facts, drafted findings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from saltglaze.model.appraisal import Heard
from saltglaze.model.finding import Feature
from saltglaze.model.run import Direction, LengthUnit, Run
from saltglaze.model.talk import (
    LineFact,
    LineFactKind,
    Mention,
    MentionKind,
    SpokenStation,
    Transcript,
)
from saltglaze.narration.attributes import assign
from saltglaze.narration.bores import Bore, diameter_change
from saltglaze.narration.changes import material_change
from saltglaze.narration.checks import talk_checks, within_reach
from saltglaze.narration.drafting import findings_of
from saltglaze.narration.facts import line_facts
from saltglaze.narration.reading import Reading, read
from saltglaze.narration.repeats import (
    all_well,
    asks,
    at_another_place,
    goes_to_next,
    likened,
    measured_again,
    more,
    steps,
    worse_here,
)
from saltglaze.narration.retold import GREETING_S, without_echo
from saltglaze.narration.stations import station_in, unit_of
from saltglaze.narration.tables import word_set
from saltglaze.narration.takebacks import answer, deny_flatly, take_back
from saltglaze.narration.thing import Thing
from saltglaze.narration.things import things_in
from saltglaze.narration.threads import Draft, Notebook
from saltglaze.narration.words import sentences_of

_ENDING = word_set("listen", "ending")
_FEWEST_DRAFTS = 4
_END_OF_IT = frozenset({("of", "it"), ("of", "that"), ("of", "this")})
_ENTERED_BY_S = 15.0
"""A clean-out named so early is the one the camera goes in by."""
_CHANGES = frozenset({Feature.MATERIAL_CHANGE, Feature.DIAMETER_CHANGE})
_REPEATS = frozenset(Feature) - {
    Feature.START,
    Feature.END,
    Feature.COULD_NOT_PASS,
    Feature.MATERIAL_CHANGE,
    Feature.DIAMETER_CHANGE,
    Feature.CAMERA_UNDER_WATER,
    Feature.LENS_FOULED,
    Feature.CLEAN_OUT,
}
"""What "same again" can mean."""

_GOES_ON_S = 10.0
_LAST_REMARK_S = 9.0
"""Sentences this close to the last belong to the last remark."""
_EARLIEST_END_S = 60.0
"""A talk that ends before this has hardly begun."""
_NO_PATTERN = frozenset(
    {Feature.START, Feature.END, Feature.COULD_NOT_PASS, Feature.MATERIAL_CHANGE}
)


class _Listener:
    """Reads a talk sentence by sentence and keeps what it has heard so far."""

    def __init__(self, run: Run | None) -> None:
        self.run_id = run.id if run else "run"
        self.view: Direction | None = run.direction if run else None
        self.unit: LengthUnit | None = run.counter_unit if run else None
        self.bore = Bore()
        self.book = Notebook()
        self.mentions: list[Mention] = []
        self.stations: list[SpokenStation] = []
        self.facts: list[LineFact] = []
        self.furthest_m = 0.0
        self.all_well = False
        """Whether the sentence before only said that a place is sound."""
        self.last: list[tuple[Reading, int, str]] = []

    def hear(self, reading: Reading, number: int) -> None:
        """Take in one sentence."""
        mention = f"{self.run_id}-m{number:04d}"
        things = without_echo(things_in(reading), reading, self.book)
        for change in (material_change, diameter_change):  # the second looks at the first
            extra = change(reading, things, self.bore)
            if extra is not None and extra not in things:
                things.append(extra)
        things = [thing for thing in things if not _coupling_of_change(thing, things, reading)]
        changed = any(thing.feature is Feature.MATERIAL_CHANGE for thing in things)
        things = [thing for thing in things if not (changed and thing.hinted)]
        loose = assign(reading, things, self.view)
        self._note_station(reading)
        facts = list(line_facts(reading, things, self.bore))
        self._note_facts(facts)
        moves = not things and goes_to_next(reading)
        if moves:
            self.book.moved_s = reading.end_s
        touched = [] if moves else self._write(loose, things, reading, number)
        live = [thing for thing in things if self._stands(thing, reading)]
        self.all_well = not touched and bool(reading.acts("sound") or reading.acts("deny"))
        for draft in touched:
            draft.add_words(reading, mention)
        self._mention(mention, reading, live, touched, things, facts)
        if reading.start_s > _EARLIEST_END_S:
            near = [said for said in self.last if reading.end_s - said[0].end_s < _LAST_REMARK_S]
            self.last = [*near, (reading, number, mention)]

    def farewell(self) -> None:
        """Take the last remark for the end of the run where it says so in words of its own.

        People end a talk in endless ways ("thirty one feet, so thank you and good night");
        only a remark within the last seconds, with a word of ending in it, counts.
        """
        self._not_the_end()
        standing = [draft for draft in self.book.drafts if not draft.withdrawn]
        short = len(standing) < _FEWEST_DRAFTS
        if not self.last or short or self.book.latest(Feature.END) is not None:
            return
        stopped = self.book.latest(Feature.COULD_NOT_PASS)
        if stopped is not None and any(said[2] in stopped.mentions for said in self.last):
            return  # what stops the camera is the last remark already
        for reading, number, mention in self.last:
            words = set(reading.words)
            denied = reading.question or words & {"not", "yet", "haven't", "dig"}
            if words & _ENDING and not denied:
                self._end_at(reading, number, mention)
                return
        for last, number, mention in self.last:
            called = bool(self.stations) and self.stations[-1].text == last.text
            called = called and "dig" not in last.words
            if called and not last.question and self.book.latest() not in self._said_in(mention):
                self._end_at(last, number, mention)
                return

    def _end_at(self, reading: Reading, number: int, mention: str) -> None:
        draft = self.book.begin(Thing(Feature.END, 0, 1), reading, number)
        draft.add_words(reading, mention)

    def _said_in(self, mention: str) -> list[Draft]:
        return [draft for draft in self.book.drafts if mention in draft.mentions]

    def _not_the_end(self) -> None:
        """Withdraw an end that the run went on from: two more findings came after it."""
        standing = [draft for draft in self.book.drafts if not draft.withdrawn]
        for draft in standing:
            after = [
                d
                for d in standing
                if d.feature is not Feature.END and d.start_s > draft.last_s + _GOES_ON_S
            ]
            if draft.feature is Feature.END and len(after) >= 2:
                draft.withdrawn = True

    # -------------------------------------------------------------- station and facts
    def _note_station(self, reading: Reading) -> None:
        station = station_in(reading, self.unit, self.furthest_m)
        if station is None or station.distance_m.value is None:
            return
        self.stations.append(station)
        self.furthest_m = max(self.furthest_m, station.distance_m.value)
        self.book.moved_s = reading.start_s

    def _note_facts(self, facts: Sequence[LineFact]) -> None:
        for fact in facts:
            if fact.kind.value == "direction":
                if any(f.kind is fact.kind for f in self.facts):
                    continue
                self.view = self.view or Direction(fact.value or "")
            if fact.kind.value in ("start_access", "service") and any(
                f.kind is fact.kind for f in self.facts
            ):
                continue
            self.facts.append(fact)

    # -------------------------------------------------------------- findings
    def _stands(self, thing: Thing, reading: Reading) -> bool:
        if thing.denied or thing.talked_of or thing.reference:
            return False
        early = not [d for d in self.book.drafts if d.feature is not Feature.START]
        if thing.feature is Feature.START:
            return early and reading.start_s < 60.0
        entering = any(
            fact.kind is LineFactKind.START_ACCESS and fact.time_s >= reading.start_s - 4.0
            for fact in self.facts
        )
        access = thing.feature in (Feature.CLEAN_OUT, Feature.TAP) and not (
            {"clock", "screen"} & thing.fields.keys()
        )
        if access and early and entering and reading.start_s < 30.0:
            return False
        if thing.feature is Feature.CLEAN_OUT and reading.start_s < _ENTERED_BY_S:
            return False
        entered_here = any(
            fact.kind is LineFactKind.START_ACCESS and fact.time_s == round(reading.start_s, 2)
            for fact in self.facts
        )
        if entered_here and reading.start_s < GREETING_S and thing.feature not in _CHANGES:
            return False
        return not (thing.feature is Feature.END and early and reading.start_s < 15.0)

    def _write(
        self,
        loose: dict[str, Any],
        things: Sequence[Thing],
        reading: Reading,
        number: int,
    ) -> list[Draft]:
        answer(self.book, reading, things)
        deny_flatly(self.book, reading)
        take_back(self.book, reading, things)
        touched: list[Draft] = []
        live = [thing for thing in things if self._stands(thing, reading)]
        finished = self._finish(things, reading)
        if finished:
            touched += finished
            over = {draft.feature for draft in finished} | {Feature.STANDING_WATER}
            if _END_OF_IT & set(pairwise(reading.words)):
                over.add(Feature.END)  # "that's the end of it": of the water
            live = [thing for thing in live if thing.feature not in over]
            if not live:
                return touched
        if live:
            self.book.give_shown(live[0], reading)
        for thing in live:
            if thing.like_last and not self._resolve(thing):
                continue
            held = self.book.carried_on(thing, reading) or self.book.same_thing(
                thing, reading, number
            )
            if held is None:
                held = self.book.begin(thing, reading, number)
            else:
                self.book.extend(held, thing, reading)
            if held not in touched:
                touched.append(held)
        if live:
            self.book.current = list(touched)
        elif not things:
            touched += self._same_again(loose, reading, number) or self.book.add(loose, reading)
            if not touched and reading.acts("carry_on"):
                touched += self.book.goes_on(reading)
        return touched

    def _resolve(self, thing: Thing) -> bool:
        """Give "another one" the name of the thing spoken of last."""
        last = self.book.latest()
        if last is None or last.feature in _NO_PATTERN:
            return False
        thing.feature = last.feature
        return True

    def _finish(self, things: Sequence[Thing], reading: Reading) -> list[Draft]:
        """Close the stretch that the sentence says is over."""
        hits = reading.acts("finish")
        if not hits:
            return self.book.over(reading, things)
        named = {t.feature for t in things if t.denied or t.low >= hits[0].start - 5}
        named -= {Feature.END, Feature.COULD_NOT_PASS}
        return self.book.finish(reading, named, until=bool(reading.acts("until")))

    def _same_again(self, loose: dict[str, Any], reading: Reading, number: int) -> list[Draft]:
        """Draft anew what a sentence without a name says is there again."""
        again = measured_again(reading, loose, self.book)
        if again is not None:
            loose.pop("grade_word", None)  # "worse" is no grade
            return self._repeated([Thing(again[0], 0, 1, dict(again[1]))], loose, reading, number)
        feature = worse_here(reading, self.book)
        if feature is not None:
            loose.pop("grade_word", None)
            return self._repeated([Thing(feature, 0, 1)], loose, reading, number)
        return self._stepped(loose, reading, number)

    def _stepped(self, loose: dict[str, Any], reading: Reading, number: int) -> list[Draft]:
        """Draft what "same at the next", "and again", "and the right" repeat."""
        stepped = steps(reading)
        count = more(reading) or stepped or int(bool(reading.acts("same")))
        last = self._repeatable(reading)
        if not count and at_another_place(loose, reading, last):
            count = 1
        if not count or last is None or self.all_well or all_well(reading) or asks(reading):
            return []
        stays = stepped and last.fields.get("at_joint")
        fields = {"at_joint": True} if stays or "at_joint" in loose else {}
        things = [Thing(last.feature, 0, 1, dict(fields)) for _ in range(count)]
        return self._repeated(things, loose, reading, number)

    def _repeated(
        self, things: Sequence[Thing], loose: dict[str, Any], reading: Reading, number: int
    ) -> list[Draft]:
        self.book.current = [self.book.begin(thing, reading, number) for thing in things]
        for draft in self.book.current:
            draft.repeats = True
        self.book.loosely(loose, reading)
        return list(self.book.current)

    def _repeatable(self, reading: Reading) -> Draft | None:
        """What "same again" means: what it shares a word with, else what was told of last."""
        told = [d for d in self.book.drafts if d.feature in _REPEATS and not d.withdrawn]
        words = likened(reading)
        if words:
            told = [d for d in told if words & d.told]
        current = [d for d in self.book.current if d in told]
        return next(iter((*current[-1:], *told[-1:])), None)

    # -------------------------------------------------------------- mentions
    def _mention(
        self,
        mention: str,
        reading: Reading,
        live: Sequence[Thing],
        touched: Sequence[Draft],
        things: Sequence[Thing],
        facts: Sequence[LineFact],
    ) -> None:
        self.mentions.append(
            Mention(
                id=mention,
                start_s=round(reading.start_s, 2),
                end_s=round(reading.end_s, 2),
                text=reading.text,
                kind=self._kind(reading, live, touched, things, facts),
                corrections=reading.corrections,
                about=", ".join(dict.fromkeys(draft.feature.value for draft in touched)),
            )
        )

    def _kind(  # noqa: PLR0911 - one guard a rule
        self,
        reading: Reading,
        live: Sequence[Thing],
        touched: Sequence[Draft],
        things: Sequence[Thing],
        facts: Sequence[LineFact],
    ) -> MentionKind:
        if touched:
            return MentionKind.PIPE
        if any(thing.denied for thing in things):
            return MentionKind.DENIAL
        for act, kind in (
            ("advice", MentionKind.ADVICE),
            ("cleaning", MentionKind.CLEANING),
            ("records", MentionKind.RECORDS),
            ("ownership", MentionKind.OWNERSHIP),
        ):
            if reading.acts(act):
                return kind
        if facts:
            return MentionKind.LINE_FACT
        if self.stations and self.stations[-1].text == reading.text:
            return MentionKind.STATION
        if reading.acts("sound"):
            return MentionKind.DENIAL
        return MentionKind.TALK


def _coupling_of_change(thing: Thing, things: Sequence[Thing], reading: Reading) -> bool:
    """Whether a coupling only joins two materials and is no repair."""
    coupling = any(
        "coupl" in reading.words[i] or reading.words[i] in ("boot", "band", "sleeve")
        for i in thing.tokens
    )
    changes = any(t.feature is Feature.MATERIAL_CHANGE for t in things)
    return thing.feature is Feature.REPAIR and coupling and changes


def listen(transcript: Transcript, run: Run | None = None) -> Heard:
    """Return what the talk says: mentions, spoken stations, line facts, drafted findings.

    Pure: the same cues in any order give the same answer. Every field of a draft comes
    from the words or stays ``None``; sizes carry the spread of a spoken guess.
    """
    listener = _Listener(run)
    cues = sorted(
        transcript.cues, key=lambda cue: (cue.start_s, cue.end_s or cue.start_s, cue.text)
    )
    cues, cut = within_reach(cues)
    sentences = sentences_of(cues)
    listener.unit = listener.unit or unit_of(sentences)
    metric = listener.unit is LengthUnit.METRES
    for number, sentence in enumerate(sentences, start=1):
        reading = read(sentence, metric=metric, furthest_m=listener.furthest_m)
        listener.hear(reading, number)
    listener.farewell()
    return Heard(
        run_id=listener.run_id,
        mentions=tuple(listener.mentions),
        stations=tuple(listener.stations),
        facts=tuple(listener.facts),
        findings=findings_of(listener.book.drafts, listener.run_id),
        checks=tuple([cut] if cut else [])
        + tuple(talk_checks(transcript, sentences, listener.mentions)),
    )

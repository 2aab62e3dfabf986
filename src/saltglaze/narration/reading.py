"""One sentence read: words as understood, amounts, and every phrase of the lexicon in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from saltglaze.model.talk import Correction
from saltglaze.narration.amounts import Amount, amounts_in, in_unit_of
from saltglaze.narration.correct import corrected
from saltglaze.narration.lexicon import lexicon
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit
from saltglaze.narration.struck import struck_words
from saltglaze.narration.tables import word_set
from saltglaze.narration.words import Sentence, Word, rejoined, without_fillers

_NO_NOUNS = frozenset({"could_not_pass", "end", "start", "camera_under_water", "lens_fouled"})
_MEASURES = ("size", "thickness", "width", "diameter", "height", "shape")
_LIKE = frozenset({("like", "a"), ("like", "an"), ("like", "my"), ("like", "your")})
_GUESSING = word_set("reading", "guessing")
_CONJUNCTIONS = word_set("reading", "conjunctions")
_FILLERS = word_set("reading", "fillers")
_ASKING = word_set("reading", "asking")
_INVERTED = {("is", "that"), ("is", "this"), ("is", "it"), ("are", "those"), ("are", "these")}
_SHORT_QUESTION = 6
_NOON = 12
_NAMES = frozenset({"mark", "log", "note", "class", "rate", "describe", "grade", "record", "down"})
_CLAUSES = frozenset(
    {"there's", "here's", "that's", "it's", "they're", "we're", "i'm", "we've", "i've", "now"}
)
_BEND_ANGLES = (11.25, 22.5, 45.0, 60.0, 90.0)
_BEND_FRACTIONS = {0.25: 90.0, 1 / 6: 60.0, 0.125: 45.0, 0.0625: 22.5}
_SEES = frozenset({"see", "seeing", "looking"})
_BEND_WORDS = word_set("reading", "bend_words")
_BEND_LEADERS = word_set("reading", "bend_leaders")


@dataclass(frozen=True)
class Reading:
    """A sentence with everything the lexicon found in it.

    ``words`` are one token each; a spoken amount is one token ``<length>``,
    ``<share>``, ``<clock>``, ``<angle>``, ``<bend>`` or ``<number>`` whose value stands
    in ``amounts`` under the token's index. ``times`` are (start, end) per token.
    """

    words: tuple[str, ...]
    times: tuple[tuple[float, float], ...]
    all_amounts: Mapping[int, Amount]
    corrections: tuple[Correction, ...]
    text: str
    names: frozenset[int] = frozenset()
    """Tokens that belong to a proper name ("Alder Bend")."""
    metric: bool = False
    """Whether the talk is in metres; else in feet."""
    furthest_m: float = 0.0
    """The furthest distance called out before this sentence."""

    @property
    def start_s(self) -> float:
        """Time of the first word."""
        return self.times[0][0]

    @property
    def end_s(self) -> float:
        """Time of the last word's end."""
        return max(end for _, end in self.times)

    @cached_property
    def idioms(self) -> frozenset[int]:
        """Tokens that belong to idioms and so stand for no finding."""
        hits = lexicon().acts["idiom"].find(self.words)
        return frozenset(index for hit in hits for index in hit.at)

    @cached_property
    def features(self) -> tuple[Hit, ...]:
        """Phrases that name something in the pipe."""
        return tuple(hit for hit in self._named if self.struck.isdisjoint(hit.at))

    @cached_property
    def sides(self) -> tuple[Hit, ...]:
        """Phrases that say where on the screen or in the pipe."""
        return tuple(
            hit
            for hit in self._placed
            if self.struck.isdisjoint(hit.at) and not hit.entry.get("nothing")
        )

    @cached_property
    def qualities(self) -> tuple[Hit, ...]:
        """Phrases that say what kind, how bad, in what state."""
        hits = lexicon().qualities.find(self.words)
        return tuple(hit for hit in hits if self.struck.isdisjoint(hit.at))

    @cached_property
    def amounts(self) -> Mapping[int, Amount]:
        """Spoken amounts by token, less those taken back.

        A bare number that stands in for an amount has its unit: "twelve mil, no, fifteen".
        """
        kept: dict[int, Amount] = {}
        former: Amount | None = None
        for index, amount in self.all_amounts.items():
            if index in self.struck:
                hour = self.words[index - 1 : index] == ("at",) and 1 <= amount.value <= _NOON
                former = Amount(Measure.CLOCK, amount.value) if hour else amount
                continue
            bare = amount.measure is Measure.NUMBER and not amount.fraction
            kept[index] = in_unit_of(former, amount) if former and bare else amount
            former = None
        return kept

    @cached_property
    def struck(self) -> frozenset[int]:
        """Tokens that the speaker takes back within the sentence."""
        markers = self.acts("replace")
        if not markers:
            return frozenset()
        layers = (self._named, self._placed, lexicon().materials.find(self.words))
        return struck_words(self.words, self.all_amounts, layers, markers)

    @cached_property
    def _named(self) -> list[Hit]:
        idioms = lexicon().acts["idiom"].find(self.words)
        measured = {i for hit in self.acts("measure") for i in range(hit.start, hit.end)}
        hits = [
            hit
            for hit in lexicon().features.find(self.words)
            if hit.entry["feature"] != "obstruction" or hit.start not in measured
        ]
        return [
            hit
            for hit in hits
            if not any(
                _swallows(idiom.at, hit.at) for idiom in idioms if not self._sees_earth(idiom)
            )
            and not (hit.entry["feature"] not in _NO_NOUNS and self.simile(hit.start))
            and not (hit.entry["feature"] == "vermin" and self._like(hit.start))
            and not (len(hit.at) == 1 and hit.start in self.names)
            and not (hit.entry.get("alone") and not self._alone(hit))
            and not self._only_a_bit(hit)
        ]

    def _sees_earth(self, idiom: Hit) -> bool:
        """Whether an idiom is of earth that is seen: `ground` tells what it is then."""
        return bool(_SEES & {self.words[i] for i in idiom.at})

    def _only_a_bit(self, hit: Hit) -> bool:
        """Whether the "bit" of "dropped a bit" is taken for a piece of the pipe."""
        last = hit.at[-1]
        closing = self.words[last] == "bit" and self.words[last - 1 : last] in (("a",), ("wee",))
        after = self.words[last + 1 : last + 2]
        return closing and hit.entry["feature"] == "break" and after != ("of",)

    def _alone(self, hit: Hit) -> bool:
        """Whether the sentence says nothing but this phrase and amounts ("Step, ten mil.")."""
        if hit.entry["feature"] == "camera_under_water" and hit.end in self.all_amounts:
            return False  # "under ten percent"
        return all(
            index in hit.at or not word[0].isalnum() or word in _FILLERS
            for index, word in enumerate(self.words)
        )

    def simile(self, at: int) -> bool:
        """Whether a word only tells a size ("size of a golf ball", "as thick as a branch")."""
        lead = self.words[max(0, at - 5) : at + (self.words[at] in ("a", "an"))]
        pairs = set(pairwise(lead))
        near = self.words[max(0, at - 3) : at + (self.words[at] in ("a", "an"))]
        if set(pairwise(near)) & _LIKE and self._likened(at):
            return True  # "a root in it like a mouse tail"
        if {(measure, "of") for measure in _MEASURES} & pairs:
            return True
        compared = pairs & {("as", "a"), ("as", "my"), ("as", "your"), ("as", "an")}
        return bool(compared) and not _NAMES & set(lead)

    def _like(self, at: int) -> bool:
        return self.words[at - 2 : at] in (("like", "a"), ("like", "an"))

    def _likened(self, at: int) -> bool:
        """Whether "like a" compares, and does not guess ("looks like a stick")."""
        like = max(i for i in range(max(0, at - 3), at + 1) if self.words[i] == "like")
        return like == 0 or self.words[like - 1] not in _GUESSING

    @cached_property
    def _placed(self) -> list[Hit]:
        return lexicon().sides.find(self.words)

    @property
    def _marked(self) -> bool:
        """Whether any mark stands in the sentence."""
        return any(word in (".", ",", "!", ";") for word in self.words)

    @property
    def question(self) -> bool:
        """Whether the sentence asks ("is that a crack?") rather than points ("see that?")."""
        words = [word for word in self.words if word[0].isalnum()]
        while words and words[0] in _FILLERS:
            words = words[1:]
        if self.words[-1] != "?" and tuple(words[:2]) in _INVERTED and not self._marked:
            return len(words) <= _SHORT_QUESTION  # speech-to-text that writes no marks
        if self.words[-1] != "?" or not words:
            return False
        pairs = set(pairwise(words))
        if {"think", "telling", "saying", "mean"} & set(words[:4]) or words[:2] == ["see", "any"]:
            return True  # "so you're telling me it's a crack?"
        return words[0] in _ASKING or len(words) <= 2 or "or" in words or bool(pairs & _INVERTED)

    @cached_property
    def materials(self) -> tuple[Hit, ...]:
        """Names of pipe materials."""
        hits = lexicon().materials.find(self.words)
        return tuple(hit for hit in hits if self.struck.isdisjoint(hit.at))

    def acts(self, act: str) -> tuple[Hit, ...]:
        """Return the phrases of one act of speech (hedge, deny, replace, ...)."""
        found = self._acts.get(act)
        if found is None:
            found = tuple(lexicon().acts[act].find(self.words))
            self._acts[act] = found
        return found

    @cached_property
    def _acts(self) -> dict[str, tuple[Hit, ...]]:
        return {}

    @cached_property
    def boundaries(self) -> tuple[int, ...]:
        """For each token, the number of clause boundaries before it."""
        counts: list[int] = []
        count = 0
        bare = not self._marked
        for word in self.words:
            opens = bare and counts and word in _CLAUSES
            if opens or word in _CONJUNCTIONS or not (word[0].isalnum() or word[0] in "<½¼¾%°"):
                count += 1
            counts.append(count)
        return tuple(counts)


def read(sentence: Sentence, *, metric: bool = False, furthest_m: float = 0.0) -> Reading:
    """Correct the words of a sentence, read its numbers, and make it one token a thing."""
    words, corrections = corrected(rejoined(without_fillers(sentence.words)))
    texts = [word.text for word in words]
    tokens: list[str] = []
    times: list[tuple[float, float]] = []
    kept: list[Word | None] = []
    amounts: dict[int, Amount] = {}
    notes = list(corrections)
    at = 0
    for found in amounts_in(texts):
        _copy(words[at : found.start], tokens, times)
        kept += [*words[at : found.start], None]
        amount = _as_bend(texts, found.start, found.end, found.amount)
        amounts[len(tokens)] = amount
        tokens.append("<bend>" if amount.unit == "bend" else f"<{amount.measure}>")
        times.append((words[found.start].start_s, words[found.end - 1].end_s))
        if found.because:
            heard = " ".join(texts[found.start : found.end])
            notes.append(Correction(heard=heard, understood=said(amount), because=found.because))
        at = found.end
    _copy(words[at:], tokens, times)
    kept += words[at:]
    return Reading(
        tuple(tokens),
        tuple(times),
        amounts,
        tuple(notes),
        sentence.text,
        _names(kept),
        metric,
        furthest_m,
    )


def _swallows(idiom: tuple[int, ...], hit: tuple[int, ...]) -> bool:
    """Whether an idiom is as long as a phrase and holds half of its words or more."""
    return len(idiom) >= len(hit) and 2 * len(set(idiom) & set(hit)) >= len(hit)


def _names(words: Sequence[Word | None]) -> frozenset[int]:
    """Return the words in a row of capitals inside a sentence: names of streets and people."""
    flags = [word is not None and word.capital for word in words]
    if sum(flags) * 2 > len(flags):
        return frozenset()
    return frozenset(
        index
        for index in range(1, len(flags))
        if flags[index]
        and ((index > 1 and flags[index - 1]) or (index + 1 < len(flags) and flags[index + 1]))
    )


def _copy(words: Sequence[Word], tokens: list[str], times: list[tuple[float, float]]) -> None:
    for word in words:
        tokens.append(word.text)
        times.append((word.start_s, word.end_s))


def _as_bend(texts: Sequence[str], start: int, end: int, amount: Amount) -> Amount:  # noqa: PLR0911 - one guard a rule
    """Take "a forty five", "1/8 bend" and "90 degree elbow" as the angle of a bend."""
    after = texts[end] if end < len(texts) else ""
    before = texts[start - 1] if start else ""
    fitting = after in _BEND_WORDS
    if amount.measure is Measure.ANGLE and fitting:
        return Amount(Measure.ANGLE, amount.value, unit="bend")
    if amount.measure is not Measure.NUMBER or amount.to is not None:
        return amount
    if amount.fraction and fitting:
        for fraction, angle in _BEND_FRACTIONS.items():
            if abs(amount.value - fraction) < 0.01:
                return Amount(Measure.ANGLE, angle, unit="bend")
    parted = before in (",", "feet", "foot", "metres", "meters", "metre", "meter")
    directed = _goes_aside(texts, end) and (parted or not {"feet", "foot"} & set(texts))
    single = before in ("a", "another") and after not in _COUNTED
    if single and amount.value in (22.0, 22.5, 45.0, 90.0):
        angle = 22.5 if amount.value == 22.0 else amount.value
        return Amount(Measure.ANGLE, angle, unit="bend")
    aside = texts[end : end + 2]
    if (
        amount.value in (22.0, 22.5, 45.0, 90.0)
        and list(aside[:1]) == [","]
        and (
            (
                list(aside[1:]) in (["left"], ["right"], ["up"], ["down"])
                and end + 2 >= len(texts) - 1
            )
            or _heads_aside(texts[end + 1 : end + 3])
            or (start == 0 and tuple(texts[end + 1 : end + 5])[:4] in _TO_SIDES)
        )
    ):
        return Amount(Measure.ANGLE, 22.5 if amount.value == 22.0 else amount.value, unit="bend")
    stands_alone = before in _BEND_LEADERS and (
        end >= len(texts) or not (after[0].isalnum() or after[0] in "'\"") or after in _AFTER_BEND
    )
    named_before = any(text in _BEND_WORDS for text in texts[max(0, start - 10) : start]) or (
        before == "," and not after.isalpha() and bool(_TURNS & set(texts[:start]))
    )
    angle = 22.5 if amount.value == 22.0 else amount.value
    if angle in _BEND_ANGLES and (fitting or stands_alone or directed or named_before):
        return Amount(Measure.ANGLE, angle, unit="bend")
    return amount


_TURNS = frozenset({"deviates", "turns", "bends", "veers", "swings", "kicks", "turning", "bending"})


def _goes_aside(texts: Sequence[str], at: int) -> bool:
    """Whether "to the left", "turning right", "up" follows at once."""
    following = [text for text in texts[at : at + 4] if text not in _GOING]
    return (
        bool(following) and following[0] in ("left", "right", "up", "down") and (texts[at] != ",")
    )


_TO_SIDES = tuple(("to", "the", side, ".") for side in ("left", "right"))


def _heads_aside(texts: Sequence[str]) -> bool:
    """Whether "heading down", "turning left" follows behind a comma."""
    if len(texts) < 2:
        return False
    heads = texts[0] in ("heading", "going", "turning", "goes", "heads", "turns", "rolling")
    return heads and texts[1] in ("left", "right", "up", "down")


_GOING = word_set("reading", "going")


_COUNTED = word_set("reading", "counted")
_AFTER_BEND = word_set("reading", "after_bend")


def said(amount: Amount) -> str:
    """Return an amount in words a person can check."""
    value = amount.value
    if amount.measure is Measure.CLOCK:
        return f"{value or 12:g} o'clock"
    factors = {"ft": 0.3048, "in": 0.0254, "mm": 0.001, "cm": 0.01, "yd": 0.9144, "%": 0.01}
    shown = value / factors.get(amount.unit, 1.0)
    return f"{shown:g} {amount.unit}".strip()

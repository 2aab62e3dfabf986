"""Threads of talk: which sentences speak of one thing, and which of the next.

A notebook is kept while the talk is read in order. A thing named again at once, or
pointed back to ("that crack", "they're fine ones"), is the same finding; "another",
"again", "same here" or a new remark after a pause begin the next. Continuous things
(water, a sag, a dirty lens) stay open until the talk says that they are over.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from saltglaze.model.finding import KINDS, Feature
from saltglaze.narration.amounts import Amount
from saltglaze.narration.attributes import fill, set_angle
from saltglaze.narration.ground import THROUGH
from saltglaze.narration.numbers import Measure
from saltglaze.narration.qualities import fill_share
from saltglaze.narration.reading import Reading
from saltglaze.narration.renamed import only_renamed
from saltglaze.narration.sizes import WET, WIDE, as_share, estimate, is_told, role, share_role
from saltglaze.narration.stretches import BLIND, opens, over
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import SIDELESS, UNGRADED, Thing

REMARK_GAP_S = 4.0
"""A pause up to this long keeps a remark going."""

PIECE_S = 10.0
"""A break spoken of again this soon, with no place of its own, is the same."""

AGAIN_S = 8.0
"""The same word said again this soon, with no place, is the same thing."""

BACK_S = 20.0
"""How far "it", "they", "that crack" can point back."""

CARRY_S = 60.0
"""How far "still", "carries on" can reach back."""

OPEN_S = 30.0
"""Water spoken of again within this time is the same water, unless it was said to end."""

LOOSE_S = 14.0
"""How far a sentence that names nothing can add to what was named before."""

CONTINUOUS = frozenset(
    {
        Feature.SAG,
        Feature.STANDING_WATER,
        Feature.CAMERA_UNDER_WATER,
        Feature.LENS_FOULED,
        Feature.LINER,
    }
)

_WHOLE = frozenset({Feature.REPAIR, Feature.BEND})
"""What one sentence names twice is one: "forty five right, rolls up"."""

_LAST = frozenset({Feature.END, Feature.COULD_NOT_PASS})

LONGEST_STRETCH_S = 120.0
"""A stretch is not ended by words that come later than this."""

_WATER_WORDS = word_set("threads", "water_words")
_SIGHT_WORDS = word_set("threads", "sight_words")
_SMALL_WORDS = word_set("repeats", "small_words") | word_set("checks", "english")


_FAMILIES = (
    frozenset({Feature.SAG, Feature.STANDING_WATER}),
    frozenset({Feature.BREAK, Feature.HOLE, Feature.COLLAPSE}),
    frozenset({Feature.CRACK, Feature.FRACTURE}),
    frozenset({Feature.TAP, Feature.INTRUDING_TAP}),
    frozenset({Feature.CAMERA_UNDER_WATER, Feature.LENS_FOULED}),
    frozenset({Feature.SURFACE_DAMAGE, Feature.HOLE}),
)
_SUPERSEDES = {
    Feature.STANDING_WATER: Feature.SAG,
    Feature.CRACK: Feature.FRACTURE,
    Feature.BREAK: Feature.COLLAPSE,
    Feature.HOLE: Feature.COLLAPSE,
    Feature.TAP: Feature.INTRUDING_TAP,
    Feature.LENS_FOULED: Feature.CAMERA_UNDER_WATER,
    Feature.SURFACE_DAMAGE: Feature.HOLE,
}
"""Of two names for one thing, the one that says more."""


@dataclass(eq=False)
class Draft:
    """A finding while the talk about it goes on."""

    feature: Feature
    fields: dict[str, Any]
    start_s: float
    last_s: float
    sentence: int
    supposed: bool
    words: list[str] = field(default_factory=list)
    mentions: list[str] = field(default_factory=list)
    ended_s: float | None = None
    open: bool = False
    withdrawn: bool = False
    asked: bool = False
    vague: bool = False
    repeats: bool = False
    """Whether it only repeats a thing; its own sizes may follow."""

    @property
    def told(self) -> frozenset[str]:
        """The words it was told in, less the small ones."""
        words = re.findall(r"[^\W\d_]{3,}", " ".join(self.words).lower())
        return frozenset(words) - _SMALL_WORDS

    def add_words(self, reading: Reading, mention: str) -> None:
        """Keep the words of a sentence as evidence."""
        if mention not in self.mentions:
            self.words.append(reading.text)
            self.mentions.append(mention)


@dataclass
class Notebook:
    """All drafts so far; ``current`` are those the last remark was about."""

    drafts: list[Draft] = field(default_factory=list)
    current: list[Draft] = field(default_factory=list)
    moved_s: float = -1.0
    """When a distance was last called out: the camera is somewhere else since."""

    shown: tuple[dict[str, Any], float] | None = None
    """What was only pointed at, and when: "see that, on the left?"."""

    # -------------------------------------------------------------- finding back
    def latest(self, *features: Feature) -> Draft | None:
        """Return the last standing draft of one of these features (of any, if none given)."""
        for draft in reversed(self.drafts):
            if not draft.withdrawn and (not features or draft.feature in features):
                return draft
        return None

    def carried_on(self, thing: Thing, reading: Reading) -> Draft | None:
        """Return the draft that "still roots", "that crack carries on" goes on with."""
        held = self.latest(thing.feature)
        near = any(
            hit.start - 3 <= thing.low <= hit.end + 2 or hit.start - 3 <= thing.high <= hit.end + 1
            for hit in reading.acts("carry_on")
        )
        if held is None or not near or reading.start_s - held.last_s > CARRY_S:
            return None
        return held

    def same_thing(self, thing: Thing, reading: Reading, sentence: int) -> Draft | None:  # noqa: PLR0911 - one guard a rule
        """Return the draft that a thing named now belongs to, if it is none of its own."""
        held = self.latest(*_kin(thing.feature))
        if held is not None and _measured_anew(held, thing, reading):
            return held
        if held is None or (thing.another and thing.feature is not Feature.END):
            return None
        gap = reading.start_s - held.last_s
        here = held.last_s > self.moved_s and _compatible(held, thing) and not held.repeats
        again = here and only_renamed(thing, reading, held.feature, held.fields, gap)
        if again or self._still_meant(held, thing, reading):
            return held
        called_out = sum(word[0].isalnum() for word in reading.words) == 1
        if held.feature is not thing.feature and (gap > REMARK_GAP_S or called_out):
            goes_on = held.open and thing.feature in CONTINUOUS
            if not ((goes_on or thing.anaphoric) and gap <= BACK_S):
                return None
        if held.sentence == sentence:
            whole = thing.feature in _WHOLE or _compatible(held, thing)
            return held if whole else None
        if held.last_s <= self.moved_s and thing.feature not in CONTINUOUS | _LAST:
            return None
        if held.open and thing.feature in CONTINUOUS and gap <= OPEN_S:
            return held
        if thing.feature is Feature.END:
            return held if gap < 60.0 else None
        if thing.feature is Feature.COULD_NOT_PASS:
            return held if gap < BACK_S else None
        if gap <= REMARK_GAP_S:
            return held if _compatible(held, thing) else None
        pointing = thing.anaphoric and gap <= BACK_S
        return held if pointing and _compatible(held, thing) else None

    def _still_meant(self, held: Draft, thing: Thing, reading: Reading) -> bool:
        """Whether the words that follow at once, or put right, are of the same thing."""
        gap = reading.start_s - held.last_s
        if (held.feature, thing.feature) == (Feature.TAP, Feature.INTRUDING_TAP):
            there = held.last_s > self.moved_s and gap <= BACK_S
            return there and not thing.introduced and _compatible(held, thing)
        if held.feature is not thing.feature or gap > BACK_S:
            return False
        if held.vague or _put_right(held, thing, reading):
            return True
        placed = {"clock", "screen", "turn"} & thing.fields.keys()
        if held.last_s <= self.moved_s or placed:
            return False
        if thing.feature is Feature.BREAK and gap <= PIECE_S:
            return True  # "the pipe's broken. There's a piece hanging down."
        told = held.words[-1].lower() if held.words else ""
        head = reading.words[thing.high - 1]
        again = head in told.split() or f"{head}." in told
        return again and gap <= AGAIN_S and not thing.introduced  # "a hairball. Big old hairball."

    # -------------------------------------------------------------- writing
    def begin(self, thing: Thing, reading: Reading, sentence: int) -> Draft:
        """Start a new draft for a thing."""
        draft = Draft(
            feature=thing.feature,
            fields=dict(thing.fields),
            start_s=reading.times[_clause_start(reading, thing.low)][0],
            last_s=reading.end_s,
            sentence=sentence,
            supposed=thing.supposed and not thing.sure,
            open=thing.feature in CONTINUOUS or opens(thing, reading),
            asked=thing.asked,
            vague=thing.vague,
        )
        self.drafts.append(draft)
        return draft

    def extend(self, draft: Draft, thing: Thing, reading: Reading) -> None:
        """Add what a thing named again brings."""
        if _SUPERSEDES.get(draft.feature) is thing.feature:
            draft.feature = thing.feature
            draft.open = thing.feature in CONTINUOUS
            if draft.fields.get("kind") not in KINDS.get(thing.feature, ()):
                draft.fields.pop("kind", None)
        for name, value in thing.fields.items():
            if name == "kind" and value not in KINDS.get(draft.feature, ()):
                continue
            draft.fields.setdefault(name, value)
        draft.vague = draft.vague and thing.vague
        draft.supposed = (draft.supposed or thing.supposed) and not thing.sure
        draft.last_s = max(draft.last_s, reading.end_s)

    def add(self, loose: dict[str, Any], reading: Reading) -> list[Draft]:
        """Lay attributes on the thing before, or keep them for the one pointed at."""
        if _tells_of_later(reading):
            loose = {name: loose[name] for name in loose if name not in ("clock", "screen")}
        last = self.current[-1] if self.current else None
        just = last is not None and reading.start_s - last.last_s < _SAME_BREATH_S
        placed = just and last is not None and {"clock", "screen"} & last.fields.keys()
        if (not just or placed) and shows_only(reading, loose):
            self.shown = (loose, reading.end_s)
            return []
        return self.loosely(loose, reading)

    def loosely(self, loose: dict[str, Any], reading: Reading) -> list[Draft]:
        """Lay attributes that name no thing on the thing spoken of last."""
        for draft in reversed(self.current):
            if draft.withdrawn or reading.start_s - draft.last_s > LOOSE_S:
                continue
            if _lay(draft, loose, reading):
                draft.last_s = max(draft.last_s, reading.end_s)
                return [draft]
        return []

    def give_shown(self, thing: Thing, reading: Reading) -> None:
        """Give what was pointed at before it was named its place: "... that's a crack"."""
        shown, self.shown = self.shown, None
        if shown is None or reading.start_s - shown[1] > AGAIN_S or not _names_it(reading):
            return
        loose = shown[0]
        if not {"clock", "screen"} & thing.fields.keys() and thing.feature not in SIDELESS:
            thing.fields |= {name: loose[name] for name in ("clock", "screen") if name in loose}
        for entry in loose.get("kinds", ()):
            if thing.feature.value in entry.get("of", ()):
                thing.fields.setdefault("kind", entry["kind"])

    def finish(self, reading: Reading, named: set[Feature], *, until: bool) -> list[Draft]:
        """End the stretch that a sentence says is over; return what was closed.

        The words of the sentence choose: water and sags, the lens, a thing named
        ("end of the dip"), else what was opened last. "Until here" also ends things
        that are no stretch by nature.
        """
        words = set(reading.words)
        wanted = named & CONTINUOUS
        if words & _WATER_WORDS:
            wanted |= WET
        if words & _SIGHT_WORDS:
            wanted |= BLIND
        if until and named and not wanted:
            running = [d for d in self._opened(reading) if d.feature in named]
            return self._close(running[-1:] or self._just_spoken_of(reading, named), reading)
        opened = self._opened(reading)
        closing = [d for d in opened if d.feature in (wanted or named)]
        if not closing and not wanted:
            closing = opened[-1:]
        if not closing and (until or named):
            closing = self._just_spoken_of(reading, named)
        if any(draft.feature is Feature.CAMERA_UNDER_WATER for draft in closing):
            closing += [d for d in opened if d.feature in WET and d not in closing]
        return self._close(closing, reading)

    def over(self, reading: Reading, things: Sequence[Thing]) -> list[Draft]:
        """End what a sentence that names nothing says is over: "mortar's good again"."""
        opened = self._opened(reading)
        told = [(d.feature, d.told) for d in opened]
        return self._close([opened[i] for i in over(reading, things, told)], reading)

    def _opened(self, reading: Reading) -> list[Draft]:
        """The stretches that still run, oldest first."""
        near = reading.start_s - LONGEST_STRETCH_S
        return [d for d in self.drafts if d.open and not d.withdrawn and d.last_s >= near]

    @staticmethod
    def _close(closing: list[Draft], reading: Reading) -> list[Draft]:
        for draft in closing:
            draft.open = False
            draft.ended_s = reading.start_s
            draft.last_s = max(draft.last_s, reading.end_s)
        return closing

    def goes_on(self, reading: Reading) -> list[Draft]:
        """Lengthen the thing spoken of last where a sentence only says that it goes on."""
        last = self.current[-1] if self.current else None
        if last is None or last.withdrawn or reading.start_s - last.last_s > BACK_S:
            return []
        last.last_s = max(last.last_s, reading.end_s)
        return [last]

    def _just_spoken_of(self, reading: Reading, named: set[Feature]) -> list[Draft]:
        last = self.latest(*named) if named else self.latest()
        if last is None or reading.start_s - last.last_s > LONGEST_STRETCH_S:
            return []
        return [last]


def _tells_of_later(reading: Reading) -> bool:
    """Whether a sentence tells of what will be: "that'll be down on top of them"."""
    will = {"that'll", "it'll", "they'll", "you'll"} & set(reading.words)
    return bool(will) and bool({"years", "year", "months", "day", "soon"} & set(reading.words))


def shows_only(reading: Reading, loose: dict[str, Any]) -> bool:
    """Whether a sentence that names nothing points at a place: "what's that on the left?"."""
    placed = {"clock", "screen"} & loose.keys()
    if {"soil_visible", "void_visible"} & loose.keys():
        return False  # "you can see a void up there": of the opening before
    words = set(reading.words)
    return bool(placed and words & _SHOWS) and not _OF_BEFORE & set(reading.words[:4])


def _names_it(reading: Reading) -> bool:
    """Whether a sentence names what was pointed at: "yeah, that's a crack"."""
    return bool(_TELLS & set(reading.words[:6])) or reading.words[-1] == "?"


_SHOWS = word_set("threads", "shows")
_OF_BEFORE = frozenset({"it's", "it", "they're", "they"})
_SAME_BREATH_S = 2.0
_TELLS = frozenset({"that's", "it's", "that", "it", "they're", "those", "they", "these", "this"})


def _put_right(draft: Draft, thing: Thing, reading: Reading) -> bool:
    """Move a thing to the place that a correction gives it: "sorry, this crack's on top"."""
    turned = thing.feature is Feature.BEND and reading.start_s - draft.last_s <= REMARK_GAP_S
    if not thing.anaphoric or not (turned or reading.acts("replace")):
        return False
    for name in ("clock", "screen", "turn"):
        if name in thing.fields:
            if name == "screen":
                draft.fields.pop("clock", None)
            draft.fields[name] = thing.fields[name]
    return True


def _measured_anew(draft: Draft, thing: Thing, reading: Reading) -> bool:
    """Take "correction, that's five feet of crack" as the size of the thing before."""
    replaced = reading.acts("replace")
    if not replaced or replaced[0].start > 0 or draft.feature is not thing.feature:
        return False
    if reading.start_s - draft.last_s > BACK_S or not _SIZE_FIELDS & thing.fields.keys():
        return False
    for name in _SIZE_FIELDS & thing.fields.keys():
        draft.fields[name] = thing.fields[name]
    return True


_SIZE_FIELDS = frozenset(
    {"length_m", "width_m", "section_share", "water_share", "deformation_share", "diameter_m"}
)


def _kin(feature: Feature) -> frozenset[Feature]:
    """Features whose names may be used for the same thing."""
    return frozenset({feature}).union(*(family for family in _FAMILIES if feature in family))


def _clause_start(reading: Reading, low: int) -> int:
    """First token of the clause a thing is named in."""
    while low > 0 and reading.boundaries[low - 1] == reading.boundaries[low]:
        low -= 1
    return low


def _compatible(draft: Draft, thing: Thing) -> bool:
    """Whether a thing named now can be the draft: no field says otherwise."""
    for name in ("clock", "screen", "turn", "width_m"):
        old, new = draft.fields.get(name), thing.fields.get(name)
        if old is not None and new is not None and old != new:
            return False
    old, new = draft.fields.get("kind"), thing.fields.get("kind")
    if old and new and old != new:
        return "hairline" in (old, new) or draft.feature not in (Feature.CRACK, Feature.FRACTURE)
    return True


# ------------------------------------------------------------------ loose attributes
def _lay(draft: Draft, loose: dict[str, Any], reading: Reading) -> bool:
    """Fill empty fields of a draft with what fits it; return whether anything did."""
    before = dict(draft.fields)
    if reading.acts("replace") or "not" in reading.words:
        for name in ("clock", "screen", "turn"):  # "make that three o'clock"
            if name in loose:
                draft.fields.pop(name, None)
        if loose.get("amounts"):
            draft.fields.pop("width_m", None)
    fits = _lay_kind(draft, loose)
    placed = draft.feature not in SIDELESS
    for name in ("clock", "screen", "round_share"):
        if placed and name in loose:
            draft.fields.setdefault(name, loose[name])
    if "turn" in loose and draft.feature is Feature.BEND:
        draft.fields.setdefault("turn", loose["turn"])
    _lay_states(draft, loose)
    _lay_grade(draft, loose, reading)
    _lay_amounts(draft, loose, reading)
    return fits or draft.fields != before


def _lay_kind(draft: Draft, loose: dict[str, Any]) -> bool:
    """Lay a kind that fits the draft; return whether there was one."""
    fitting = [
        entry["kind"]
        for entry in loose.get("kinds", ())
        if draft.feature.value in entry.get("of", ())
        and entry["kind"] in KINDS.get(draft.feature, ())
    ]
    for kind in fitting[:1]:
        draft.fields.setdefault("kind", kind)
    return bool(fitting)


def _lay_states(draft: Draft, loose: dict[str, Any]) -> None:
    for name in ("at_joint", "active", "capped", "soil_visible", "void_visible"):
        for of, value in loose.get(name, ()):
            hides = name in ("soil_visible", "void_visible") and draft.feature not in THROUGH
            if not hides and (of is None or draft.feature.value in of):
                draft.fields.setdefault(name, value)
    for _, share in loose.get("share", ()):
        fill_share(draft.feature, draft.fields, share)


def _lay_grade(draft: Draft, loose: dict[str, Any], reading: Reading) -> None:
    if "grade_word" in loose and draft.feature not in UNGRADED and not reading.question:
        draft.fields.setdefault("grade_word", loose["grade_word"])


_ANGLES = (11.25, 22.0, 22.5, 30.0, 45.0, 60.0, 90.0)
"""Bare numbers that told behind a bend are its angle: "twenty two and a half, I'd say"."""


def _is_hour_of(amount: Amount) -> bool:
    bare = amount.measure is Measure.NUMBER and not amount.fraction and amount.to is None
    return bare and 1 <= amount.value <= 12 and amount.value == int(amount.value)


def _lay_bare(draft: Draft, amount: Amount, reading: Reading, index: int) -> None:
    """Lay a bare number on a thing that repeats one measured in percent or millimetres."""
    role_told = share_role(draft.feature) or ""
    if not is_told(reading, index, amount):
        return
    if role_told:
        draft.fields.setdefault(role_told, estimate(role_told, as_share(amount)))
    elif reading.metric and draft.feature in WIDE:
        fill(draft.fields, "width_mm", reading, index)


def _lay_amounts(draft: Draft, loose: dict[str, Any], reading: Reading) -> None:
    for index, amount in loose.get("amounts", ()):
        hour = draft.fields.get("clock")
        if hour is not None and reading.acts("replace") and _is_hour_of(amount):
            draft.fields["clock"] = hour.model_copy(update={"from_h": amount.value % 12.0})
            continue  # "make that ten"
        if draft.feature is Feature.BEND and amount.middle in _ANGLES:
            set_angle(draft.feature, draft.fields, amount.middle)
        name = role(reading, index, draft.feature)
        if name is None and draft.repeats:  # "worse again. Call that forty."
            _lay_bare(draft, amount, reading, index)
        if name and name not in draft.fields:
            fill(draft.fields, name, reading, index)
    if "angle" in loose and draft.feature in (Feature.BEND, Feature.ANGLED_JOINT):
        set_angle(draft.feature, draft.fields, loose["angle"].value)

"""What a sentence only adds to the thing named just before, across sentences.

Some of it is written into the draft on the way: dirt seen through an open joint sets
``soil_visible``, water that runs from a tap sets ``active``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.colours import COMING, out_of_it
from saltglaze.narration.ground import OPENINGS, ground_at, lies
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import WET
from saltglaze.narration.stations import is_station
from saltglaze.narration.thing import Thing
from saltglaze.narration.things import echoes
from saltglaze.narration.threads import BACK_S, CARRY_S, REMARK_GAP_S, Draft, Notebook

GREETING_S = 10.0
"""So early, words that only hint tell of the job and not of the pipe."""

_FEW_WORDS = 2
_NEAR_START = 3
_ITS = frozenset({"it's", "they're", "his", "hers", "it", "they"})
_CHANGES = frozenset({Feature.MATERIAL_CHANGE, Feature.DIAMETER_CHANGE})
_LEAKS = frozenset({"joint", "crack", "around", "round", "through", "wall", "seal"})
_YES = frozenset({"yes", "yeah", "yep", "aye", "yup"})
_SHORT_ANSWER = 5
_TAPS = frozenset({Feature.TAP, Feature.INTRUDING_TAP})
_WAYS_IN = frozenset({Feature.BREAK, Feature.HOLE, Feature.TAP})
_SUBJECTS = frozenset({"that", "that's", "it", "it's", "they", "he", "somebody", "someone", "this"})
_BROKE = frozenset(
    {"busted", "broke", "broken", "knocked", "hammered", "bashed", "punched", "smashed", "hacked"}
)
_CRACKS = frozenset({Feature.CRACK, Feature.FRACTURE})
_HAVE_HOLES = frozenset({Feature.TAP, Feature.INTRUDING_TAP, Feature.BREAK, Feature.OPEN_JOINT})
_COLOURS = frozenset(
    {
        (Feature.ATTACHED_DEPOSITS, Feature.SURFACE_DAMAGE),
        (Feature.ATTACHED_DEPOSITS, Feature.DEFORMATION),
        (Feature.ATTACHED_DEPOSITS, Feature.OBSTRUCTION),
        (Feature.ROOTS, Feature.DEFORMATION),
        (Feature.TAP, Feature.DEFORMATION),
        (Feature.TAP, Feature.SURFACE_DAMAGE),
        (Feature.INTRUDING_TAP, Feature.SURFACE_DAMAGE),
        (Feature.STANDING_WATER, Feature.COULD_NOT_PASS),
        (Feature.SAG, Feature.COULD_NOT_PASS),
    }
)
"""Things, and what "it's rough", "it's squashed" would only colour."""


def without_echo(things: list[Thing], reading: Reading, book: Notebook) -> list[Thing]:
    """Leave out what only speaks of things named before."""
    for thing in things:
        blind = thing.weak and thing.feature is Feature.LENS_FOULED
        if blind and _just_in_water(reading, book):
            thing.feature, thing.weak = Feature.CAMERA_UNDER_WATER, False
    return [thing for thing in things if not _retold(thing, things, reading, book)]


def _retold(thing: Thing, things: list[Thing], reading: Reading, book: Notebook) -> bool:
    latest = book.latest()
    if latest is not None and reading.start_s - latest.last_s > BACK_S:
        latest = None
    recent = _recent(thing, reading, book)
    if thing.hinted and (reading.start_s < GREETING_S or _of_latest(thing, latest, reading)):
        return True
    if latest is not None and not thing.another and _adds(thing, reading, latest, book):
        return True
    echo = not thing.another and any(echoes(thing, f) for f in recent)
    if _known(thing, things, reading, book) or echo:
        return True
    if _is_wet(thing, reading):
        recent = [feature for feature in recent if feature in WET]
    if thing.hinted and (
        _ground_seen(thing, latest, moved=_moves_on(reading)) or (recent and not thing.another)
    ):
        return True
    return _tap_in_use(thing, reading, latest)


def _recent(thing: Thing, reading: Reading, book: Notebook) -> list[Feature]:
    """Features of the last remark, so far back as a thing of this kind can echo them."""
    shares = any(amount.measure is Measure.SHARE for amount in reading.amounts.values())
    shared = thing.weak and shares and not _moves_on(reading)  # "I'd say sixty percent blocked"
    return [
        draft.feature
        for draft in book.current
        if not draft.withdrawn
        and reading.start_s - draft.last_s
        <= (BACK_S if draft.feature is thing.feature or shared else REMARK_GAP_S)
    ]


def _of_latest(thing: Thing, latest: Draft | None, reading: Reading) -> bool:
    """Whether a hint behind "it's" is of the thing named just before."""
    if latest is None or not thing.anaphoric:
        return False
    if _is_wet(thing, reading) and latest.feature not in WET:
        return False  # "it's wet here" is of no crack
    if thing.introduced and thing.feature is Feature.OBSTRUCTION is not latest.feature:
        return False  # "it's a washcloth"
    stepped = latest.feature in (Feature.OFFSET_JOINT, Feature.ANGLED_JOINT)
    return not (stepped and thing.feature is Feature.OPEN_JOINT)


def _is_wet(thing: Thing, reading: Reading) -> bool:
    """Whether water is named by its own word, as in "it's wet here"."""
    return thing.feature in WET and bool(
        {"wet", "water"} & set(reading.words[thing.low : thing.high])
    )


def _adds(thing: Thing, reading: Reading, latest: Draft, book: Notebook) -> bool:
    """Whether the words only tell more of the thing named just before.

    "See how ragged the hole is?" of a tap, "it's pretty rough" of scale, "dirt coming
    in there" of a break, "water coming out of it" of a tap.
    """
    if _runs_from_tap(thing, reading, latest):
        latest.fields.setdefault("active", True)
        return True
    if thing.feature is Feature.SETTLED_DEPOSITS and _seen_behind(thing, reading):
        return _ground_seen(thing, latest, moved=_moves_on(reading))
    definite = thing.low > 0 and reading.words[thing.low - 1] == "the"
    if thing.feature is Feature.HOLE and definite and latest.feature in _HAVE_HOLES:
        return True
    if thing.feature is Feature.MATERIAL_CHANGE and latest.feature in _CHANGES:
        return not reading.materials  # "not a bad transition"
    return _changes_name(thing, reading, latest) or _looks(thing, reading, latest, book)


def _runs_from_tap(thing: Thing, reading: Reading, latest: Draft) -> bool:
    """Whether water comes out of the tap before, and not out of the ground."""
    words = reading.words
    return (latest.feature, thing.feature) == (Feature.TAP, Feature.INFILTRATION) and (
        out_of_it(words[thing.low : thing.high + 6])
        or "live" in words
        or (words[0] in _ITS and not (reading.sides or _LEAKS & set(words)))
        or (words[0] in _YES and _length(reading) <= _SHORT_ANSWER)
    )


def _seen_behind(thing: Thing, reading: Reading) -> bool:
    """Whether dirt is told as what is seen or comes in, and not as what lies in the pipe."""
    words = reading.words
    told = set(words[max(0, thing.low - 3) : thing.low]) | set(words[thing.low : thing.high + 4])
    short = _length(reading) <= _FEW_WORDS
    near = "see" in words[max(0, thing.low - 2) : thing.low] or bool(told & COMING)
    return not lies(reading) and (near or short or ground_at(reading) is not None)


def _looks(thing: Thing, reading: Reading, latest: Draft, book: Notebook) -> bool:
    """Whether "it's rough", "they stick out" tell how the thing before looks."""
    pronoun = reading.words[0] in _ITS and thing.low <= _NEAR_START
    still_here = latest.last_s > book.moved_s and not _moves_on(reading)
    return pronoun and still_here and (latest.feature, thing.feature) in _COLOURS


def _moves_on(reading: Reading) -> bool:
    """Whether a sentence calls out a distance of its own."""
    return any(is_station(reading, index) for index in reading.amounts)


def _changes_name(thing: Thing, reading: Reading, latest: Draft) -> bool:
    """Whether a crack is said to have opened, or a tap to have been broken in."""
    words = reading.words
    opened = thing.feature is Feature.OPEN_JOINT and not thing.denied and _of_it(words)
    if opened and latest.feature in _CRACKS:
        latest.feature = Feature.FRACTURE  # "and that's opened up"
        return True
    told = words[0] in _SUBJECTS and not (reading.sides or reading.amounts)
    told = told or (words[0] in _YES and ("it", "in") in pairwise(words))
    if told and latest.feature in _TAPS and thing.feature in _WAYS_IN and _broken_in(words):
        latest.fields.setdefault("kind", "broken_in")  # "that one's been busted in"
        return True
    return False


def _broken_in(words: Sequence[str]) -> bool:
    """Whether a way in was broken, and not the pipe."""
    hit = [at for at, word in enumerate(words) if word in _BROKE]
    return bool(hit) and ("in" in words[hit[0] : hit[0] + 4])


def _of_it(words: Sequence[str]) -> bool:
    """Whether a sentence is told of what was named before: "it's ...", "and that's ..."."""
    first = [word for word in words[:3] if word not in ("and", "so", "now", "but")][:1]
    return first in (["it's"], ["that's"], ["it"], ["they're"])


def _length(reading: Reading) -> int:
    return len([word for word in reading.words if word[0].isalnum()])


def _known(thing: Thing, things: Sequence[Thing], reading: Reading, book: Notebook) -> bool:
    """Whether "the crack" in "water coming through the crack" is one told of before."""
    if len(things) < 2 or thing.feature not in OPENINGS | {Feature.CRACK}:
        return False
    lead = reading.words[max(0, thing.low - 2) : thing.low]
    if lead not in {(word, "the") for word in ("through", "from", "in", "at", "into")}:
        return False
    held = book.latest(thing.feature)
    return held is not None and reading.start_s - held.last_s < CARRY_S


def _ground_seen(thing: Thing, latest: Draft | None, *, moved: bool) -> bool:
    """Whether "I see mud" tells what lies behind the opening named just before."""
    if thing.feature is not Feature.SETTLED_DEPOSITS or latest is None:
        return False
    if latest.feature not in OPENINGS or moved:
        return False
    latest.fields.setdefault("soil_visible", True)
    return True


def _tap_in_use(thing: Thing, reading: Reading, latest: Draft | None) -> bool:
    """Whether a bare "trickle" answers how the tap named just before runs."""
    if thing.feature is not Feature.INFILTRATION or latest is None:
        return False
    if latest.feature is not Feature.TAP or _length(reading) > _FEW_WORDS:
        return False
    latest.fields.setdefault("active", True)
    return True


def _just_in_water(reading: Reading, book: Notebook) -> bool:
    latest = book.latest()
    if latest is None or latest.feature not in WET:
        return False
    return reading.start_s - latest.last_s < BACK_S

"""Words that point: to a thing named before, to one that is new, or only to a place."""

from __future__ import annotations

from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import table, word_set
from saltglaze.narration.thing import Thing

FITTINGS = frozenset(
    {
        Feature.TAP,
        Feature.BEND,
        Feature.CLEAN_OUT,
        Feature.REPAIR,
        Feature.LINER,
        Feature.END,
        Feature.DIAMETER_CHANGE,
        Feature.MATERIAL_CHANGE,
        Feature.SAG,
        Feature.START,
        Feature.INTRUDING_SEAL,
    }
)
_PLACED_BY = word_set("things", "placed_by")
_POINTING = word_set("things", "pointing")
_STICKING = word_set("things", "sticking")
_OUT_OF = word_set("things", "out_of")
_SUBJECTS = word_set("things", "subjects")
_SOMETHING = frozenset({"something", "thing", "object", "somethin", "anything"})
_SETS = table("features")["sets"]
_PIPE_PARTS = frozenset(
    (*_SETS["part"], *_SETS["pipe"], *_SETS["joint"], *_SETS["piece"])
) - frozenset(_SETS["tapword"])
"""Words for parts of the pipe: "the wall's buckled" points back to no wall."""

_JOINING = word_set("things", "joining")
_GRANTED = word_set("things", "granted")
_AGAIN = frozenset({"again", "too", "also"})
_NEW = word_set("things", "new")


_DEMONSTRATIVES = ("that", "this", "those", "these")
_CALLED = frozenset({("call", "that"), ("call", "it"), ("called", "that"), ("calling", "that")})
_ITS_A = (("it's", "a"), ("it's", "an"))
_NEAR_START = 3


def point(thing: Thing, reading: Reading) -> None:
    """Note whether a thing is new, was spoken of before, or is only a place."""
    words, at = reading.words, thing.low
    thing.another = _is_new(thing, reading)
    thing.introduced = bool({"a", "an", "another", "one"} & set(words[max(0, at - 3) : at + 1]))
    thing.vague = bool(_SOMETHING & {words[i] for i in thing.tokens})
    thing.anaphoric = _by_its_lead(thing, words) or _by_its_sentence(thing, reading)
    thing.reference = thing.reference or _only_a_place(thing, reading)


def _is_new(thing: Thing, reading: Reading) -> bool:
    """Whether "another", "a second", "again" or "here's a" make it a new one."""
    words, at = reading.words, thing.low
    if words[0] == "here's" and words[1:2] in (("a",), ("an",), ("one",)):
        return not any(hit.start < at for hit in reading.features)
    if thing.feature is Feature.TAP and words[at] in _JOINING:
        return False  # "the connection from the second floor, comes in on the right"
    counted = any(
        words[i] in _NEW
        and words[i - 1] not in ("no", "any", "not")
        and not (words[i] in _AGAIN and words[i + 1] in (",", ";"))
        and not (words[i] == "too" and words[i - 1] in _IS)  # "it's too tight"
        for i in range(max(0, at - 4), at)
    )
    again = any(word in _AGAIN for word in words[thing.high : thing.high + 2])
    again = again or ("next" in words[:2] and ("same", "thing") in pairwise(words[:at]))
    return counted or again or _at_the_next(thing, reading)


_IS = frozenset({"it's", "is", "'s", "way", "just", "far", "she's", "that's", "i'm", "it"})


def _at_the_next(thing: Thing, reading: Reading) -> bool:
    """Whether the next joint is where a thing is: "roots next joint", "cracked at the next one"."""
    words, edges = reading.words, reading.boundaries
    return any(
        words[i] == "next"
        and words[i + 1] in _PIPE_PARTS | {"one"}
        and (i == thing.high or _AT & set(words[max(0, i - 2) : i]))
        and edges[i] == edges[thing.low]
        for i in range(thing.high, len(words) - 1)
    )


_AT = frozenset({"at", "in", "on"})


_IS_BARE = (("is",), ("isn't",), ("appears",), ("looks",))


def _by_its_lead(thing: Thing, words: tuple[str, ...]) -> bool:
    """Whether the words just before point back: "that crack", "it's", "the connection"."""
    at = thing.low
    before = words[at - 1] if at else ""
    if before in (*_DEMONSTRATIVES, "said", "same", "it's") or words[at] in ("it", "it's"):
        return True
    if before == "the" and words[at] not in _PIPE_PARTS:
        return True  # "the connection appears to be abandoned"
    if at == 0:
        return words[at] in _DEMONSTRATIVES or words[thing.high : thing.high + 1] in _IS_BARE
    told = [word for word in words[:at] if word not in ("a", "an")]
    if at <= _NEAR_START and told and all(word in _GRANTED or word == "," for word in told):
        return True  # "okay, spalled": said again as agreed
    granted = all(word in _GRANTED or not word[0].isalnum() for word in words[: max(0, at - 2)])
    return words[max(0, at - 2) : at] in _ITS_A and granted  # "yeah, it's a crack"


def _by_its_sentence(thing: Thing, reading: Reading) -> bool:
    """Whether the sentence only tells more of what was seen: "that's roots", "goes right"."""
    words, at = reading.words, thing.low
    placed = bool(reading.sides or reading.amounts)
    if words[:3] == ("no", ",", "that's"):
        return True  # "is that bad? No, that's a good connection"
    if words[:2] == ("so", "that's") and at <= _NEAR_START and not placed:
        return True  # "so that's an open joint, you write that down"
    if words[0] == "which" or (words[0] in ("that's", "those") and not placed):
        return True
    if _CALLED & set(pairwise(words[:at])):
        return True  # "I'd call that a hole"
    turns = thing.feature is Feature.BEND and words[at] in ("goes", "turns", "runs")
    sticks = thing.feature is Feature.INTRUDING_TAP and words[at] in _STICKING
    return at == 0 and (turns or sticks)


def _only_a_place(thing: Thing, reading: Reading) -> bool:
    """Whether a fitting only says where something else is: "just past the wye"."""
    words, at = reading.words, thing.low
    lead = words[max(0, at - 2) : at]
    behind = lead[1:] == ("that",) and lead[0] in ("at", "to", "from", "past")
    if behind and words[at] not in _SUBJECTS:
        return True
    if lead[-1:] and lead[-1] in _BEYOND and thing.feature in FITTINGS - {Feature.END}:
        return True  # "after elbow, a broken bottle"
    pointer = next((i for i in range(at, max(-1, at - 4), -1) if words[i] in _POINTING), None)
    if pointer is None or thing.feature not in FITTINGS or thing.feature is Feature.END:
        return False
    between = words[pointer + 1 : at]
    if any(word in _PARTING or not word[0].isalnum() for word in between if word[0] != "<"):
        return False  # "past that she sags", "bottom of the stack, long sweep"
    before = words[pointer - 1] if pointer else ""
    if before == "of" and words[max(0, pointer - 2)] in ("part", "end", "edge", "piece", "bit"):
        return False  # "part of the gasket is showing"
    return before in _PLACED_BY


_RIGHT_AT = frozenset({"at", "from", "below", "beside", "near", "under", "above"})
_BROKEN_PLACES = frozenset(
    {Feature.CRACK, Feature.FRACTURE, Feature.HOLE, Feature.BREAK, Feature.OPEN_JOINT}
)
_BEYOND = ("after", "past", "before", "beyond")
_PARTING = _SUBJECTS | {"and", "but", "into", "then"}


def refer(things: list[Thing], reading: Reading) -> None:
    """Mark things that only say where another comes from ("sand coming in from that hole")."""
    words = reading.words
    for thing in things:
        others = [t for t in things if t is not thing and not t.reference]
        if thing.low == 1 and others and words[0] == "in" and thing.feature in FITTINGS:
            thing.reference = True  # "in connection is growing root"
        bare_place = words[thing.low - 1] in _RIGHT_AT and thing.feature in _BROKEN_PLACES
        if bare_place and any(t.high <= thing.low and t.high >= thing.low - 2 for t in others):
            thing.reference = True  # "chalk deposit at crack"
            continue
        if not others or thing.low < 2 or thing.feature in (Feature.END, Feature.START):
            continue
        first = thing.low + (words[thing.low] in _POINTING)  # a phrase may hold its own "the"
        if first < 2:
            continue
        lead, before = words[first - 1], words[first - 2]
        if lead in _POINTING and before in ("behind", "past", "beyond", "before", "after"):
            thing.reference = True  # "fat has gathered behind the step"
            continue
        fitting = thing.feature in FITTINGS and lead in _POINTING
        bare = thing.feature in FITTINGS and words[thing.low - 1] in ("in", "below", "behind")
        if bare or ((lead in ("that", "those") or fitting) and before in _OUT_OF):
            thing.reference = True
            if before not in ("around", "round", "at", "by", "on"):
                _flow_from(thing, others)


def _flow_from(thing: Thing, others: list[Thing]) -> None:
    """Water that comes out of a tap is the tap in use, not ground water."""
    if thing.feature not in (Feature.TAP, Feature.INTRUDING_TAP):
        return
    for other in others:
        if other.feature is Feature.INFILTRATION and other.low < thing.low:
            other.talked_of = True
            thing.reference = False
            thing.anaphoric = True
            thing.fields.setdefault("active", True)

"""Asides: what would be done, was done, was before, only explains, or only hides the view.

Each rule looks at one thing of a sentence and says whether it is named in such an
aside and so is not claimed as seen here and now.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

STATES_IT = frozenset({"there", "there's", "here's", "that's", "it's", "they're", "i've", "we've"})
"""A clause that opens so states a thing anew."""


def _would_do(thing: Thing, reading: Reading) -> bool:
    """What the speaker would do about it: "I'd break out that floor and put in new pipe"."""
    words = reading.words
    for at in range(min(thing.high, len(words) - 1)):
        said = words[at] in _WOULD or words[at : at + 2] in _WOULD_PAIRS
        verb = words[at + 1 + (words[at] not in _WOULD)] if said and at + 2 < len(words) else ""
        if verb == "have" and {"say", "admit", "call"} & set(words[at + 2 : at + 5]):
            continue  # "I'd have to say that's a crack"
        if verb and verb not in _CALLS and not _stated_since(at, thing, reading):
            return True
    return False


_WOULD = frozenset({"it'd", "i'd", "we'd", "you'd", "they'd", "i'll", "we'll"})
_WOULD_PAIRS = (("it", "would"), ("i", "would"), ("we", "would"), ("you", "would"))
_CALLS = word_set("claims", "calls")


def sees(words: Sequence[str]) -> bool:
    """Whether words say that something can be seen: "once the steam clears you can see"."""
    return ("can", "see") in pairwise(words)


def _own_doing(thing: Thing, reading: Reading) -> bool:
    """What somebody did with a tool: "we ran the cable through here Tuesday"."""
    words = reading.words
    lead = words[max(0, thing.low - 4) : thing.low]
    done = any(who in _WE and did in _DID for who, did in pairwise((*lead, words[thing.low])))
    whoever = "whoever" in lead
    return (done and thing.feature in _TOOL_LIKE) or whoever


_WE = frozenset({"i", "we", "they", "he", "i've", "we've"})
_DID = word_set("claims", "did")
_TOOL_LIKE = frozenset({Feature.OBSTRUCTION, Feature.REPAIR, Feature.TAP, Feature.VERMIN})


def _because(thing: Thing, reading: Reading) -> bool:
    """What is only named as the cause: "water standing, because all that dirt fell in"."""
    words = reading.words
    for at in range(1, thing.low):
        now = _NOW & set(words[at : thing.high]) or words[thing.high : thing.high + 2] == (
            ",",
            "which",
        )
        if words[at] in _CAUSES and not now:
            return True
    return False


_CAUSES = frozenset({"because", "'cause", "cause", "cos"})
_NOW = frozenset(
    {"is", "'s", "it's", "there's", "are", "isn't", "has", "have", "that's", "they're"}
)


def _in_another_time(thing: Thing, reading: Reading) -> bool:
    """What was before or comes after somebody's doing: "... before they lined it"."""
    words = reading.words
    for at in range(thing.low):
        if sees(words[at : thing.low]) or words[at + 2 : at + 3] in _ARRIVE:
            continue  # "... until you get to a crack"
        told = words[at] in ("before", "after", "when", "since", "once", "till", "until")
        if told and words[at + 1] in _SOMEBODY and thing.low - at <= _CLAUSE_WORDS:
            return not _stated_since(at, thing, reading)
        ours = words[at] in ("once", "until", "till") and words[at + 1] in ("we", "i", "we've")
        if ours and reading.boundaries[at] == reading.boundaries[thing.low]:
            return True  # "once we clear the roots"
    return False


_ARRIVE = (("get",), ("come",), ("hit",), ("reach",))
_SOMEBODY = frozenset({"they", "he", "she", "anyone", "anybody", "somebody", "someone", "you"})
_CLAUSE_WORDS = 6


def _excuse(thing: Thing, reading: Reading) -> bool:
    """What only keeps one from seeing: "hard to see with the water running"."""
    words = reading.words
    for at in range(thing.low + 1):
        blind = words[at : at + 3] in _HARD or words[at : at + 2] in _CANNOT
        tail = words[at + 2 : thing.low + 1]
        if blind and _FOR & set(tail) and not _stated_since(at, thing, reading):
            return True
    return False


_HARD = tuple(
    (how, "to", verb) for how in ("hard", "tough", "difficult") for verb in ("see", "tell")
)
_CANNOT = tuple(
    (no, verb) for no in ("can't", "cannot", "couldn't") for verb in ("see", "tell", "say")
)
_FOR = frozenset({"with", "for", "through", "because", "from", "past"})


def _asked_why(thing: Thing, reading: Reading) -> bool:
    """What a question takes as known: "is that where it backed up?"."""
    words = reading.words
    if words[-1] != "?" or _POINTS & set(pairwise(words)):
        return False  # "you see where the joint let go?"
    return any(words[at] in _WHERES for at in range(1, thing.low))


_POINTS = frozenset({("see", "where")})
_WHERES = frozenset({"where", "why", "how", "what's", "when"})


def _ordered(thing: Thing, reading: Reading) -> bool:
    """What holds a word of advice or of what might be within its own words."""
    inside = range(thing.low + 1, thing.high)
    return any(
        hit.start in inside and reading.words[hit.start] in _OUGHT
        for act in ("advice", "hypothetical")
        for hit in reading.acts(act)
    )


_OUGHT = frozenset({"should", "would", "ought", "must", "need", "needs"})


def _stated_since(at: int, thing: Thing, reading: Reading) -> bool:
    """Whether a clause behind ``at`` states the thing anew: "..., and there's a gap"."""
    edges = reading.boundaries
    if "which" in reading.words[thing.low : thing.high + 2]:
        return True  # "... because of the water, which isn't moving"
    return any(
        edges[i] > edges[i - 1] and set(reading.words[i : i + 2]) & (STATES_IT | _BREAKS_OFF)
        for i in range(at + 1, thing.low + 1)
    )


_BREAKS_OFF = frozenset({"but", "is", "are"})
"""A clause that opens so leaves what was thrown in: "..., but the joint's opened"."""


def _hearsay(thing: Thing, reading: Reading) -> bool:
    """What somebody else holds: "the lad before me swore it was rats"."""
    words = reading.words
    for at in range(1, thing.high):
        held = words[at] in _HELD and words[at - 1] not in ("i", "we", "you", "i've")
        if held and thing.low - at <= _CLAUSE_WORDS and not _stated_since(at, thing, reading):
            return True
    return False


_HELD = frozenset({"swore", "swears", "claimed", "claims", "insisted", "reckoned", "figured"})


def _nobody(thing: Thing, reading: Reading) -> bool:
    """What nobody has or did: "nobody's roots", "nobody's run a tap"."""
    lead = reading.words[max(0, thing.low - 3) : thing.low + 1]
    return bool({"nobody", "nobody's"} & set(lead))


def _of_people(thing: Thing, reading: Reading) -> bool:
    """What only names people, papers or a price: "the liner people", "a picture of the crack"."""
    words = reading.words
    if words[thing.high : thing.high + 1] and words[thing.high] in _PEOPLE:
        return True
    lead = words[max(0, thing.low - 3) : thing.low]
    pictured = any(word in _PICTURES for word in lead) and "of" in lead
    return pictured or any(
        words[at] in _COSTS and words[at + 1 : at + 2] in (("you",), ("him",), ("them",), ("us",))
        for at in range(thing.high, len(words))
    )


_PEOPLE = word_set("asides", "people")
_PICTURES = frozenset({"picture", "photo", "photos", "video", "still", "snapshot", "footage"})
_COSTS = frozenset({"runs", "run", "costs", "cost", "sets", "set", "saves", "save"})


def _in_general(thing: Thing, reading: Reading) -> bool:
    """What is said of all lines and not of this one: "you get roots in these old streets"."""
    words, low, high = reading.words, thing.low, thing.high
    after = words[high : high + 3]
    many = "in" in words[high - 1 : high + 1] and bool(_ALL & set(after))
    if many and {"you", "people", "we", "they"} & set(words[:low]):
        return True
    would = words[0] in ("a", "an") and "would" in words[high : high + 4]
    if would or words[0] == "less":
        return True  # "a crack this size would ...", "less a crack than a scuff"
    if words[0] in ("a", "an") and after[:1] in (("would",), ("will",), ("can",), ("might",)):
        return True  # "a crack would show up as a dark line"
    if words[:2] in (("last", "one"), ("last", "job"), ("last", "house")) and _WE & set(
        words[:low]
    ):
        return True
    return any(words[at] in _MISTAKES for at in range(low))


_ALL = frozenset({"these", "those", "most", "all", "old", "any", "every"})
_ELSEWHERE = frozenset({"one", "job", "house", "place", "street"})
_MISTAKES = frozenset({"confuse", "mistake", "confusing", "mistaking", "mixing"})


def _ruled_out(thing: Thing, reading: Reading) -> bool:
    """What is ruled out, or guessed and denied: "my guess was roots, but no"."""
    words = reading.words
    if ("rule", "out") in pairwise(words[: thing.low]) or ("ruled", "out") in pairwise(words):
        return True
    tail = [word for word in words[thing.high :] if word[0].isalnum()]
    return tail[-2:] in (["but", "no"], ["but", "nope"], ["but", "not"]) and "was" in words


def _is_past(thing: Thing, reading: Reading) -> bool:
    """What was there or was put right: "there was a crack", "the leak got fixed in the spring"."""
    words, low, high = reading.words, thing.low, thing.high
    was = {"was", "were"} & set(words[max(0, low - 3) : low + 2])
    if was and {"gone", "fixed", "anymore", "since"} & set(words[high:]):
        return True
    behind = words[high : high + 4]
    if behind[:1] and behind[0] in _GOT and _MENDED & set(behind):
        return True
    lead = words[max(0, low - 3) : low]
    return any(who in _MENDERS and did in _MENDED for who, did in pairwise(lead))


_GOT = frozenset({"got", "was", "were", "been", "has", "is"})
_MENDERS = frozenset({"they", "he", "we", "she", "i", "somebody", "someone", "they've", "we've"})
_MENDED = frozenset({"fixed", "repaired", "replaced", "cleared", "removed", "sorted", "mended"})


def _wagered(thing: Thing, reading: Reading) -> bool:
    """What is bet on, sworn to, or only seemed so: "my money's on a root"."""
    words = reading.words
    lead = set(words[: thing.low + 1])
    if lead & {"sworn", "bet", "money"} or words[:2] in _UNTENDED:
        return True
    seemed = lead & {"looked", "seemed", "sounded"} and {"but"} & set(words[thing.high :])
    near = words[max(0, thing.low - 3) : thing.low]
    return (
        bool(seemed) or ("anything", "but") in pairwise(near) or ("be", "worse") in pairwise(words)
    )


_UNTENDED = (("left", "alone"), ("left", "unchecked"), ("left", "like"), ("left", "as"))


def _of_all(thing: Thing, reading: Reading) -> bool:
    """What everybody has, or what something is good for: "best thing for a leak is a liner"."""
    words = reading.words
    near = words[max(0, thing.low - 4) : thing.low]
    if words[0] in ("everybody", "everyone") or _NEVER_GETS & set(pairwise(near)):
        return True
    return bool(_CURES & set(pairwise(words[: thing.low])))


_CURES = frozenset((cure, "for") for cure in ("thing", "cure", "fix", "answer"))
_NEVER_GETS = frozenset(
    (no, verb)
    for no in ("doesn't", "don't", "won't", "never")
    for verb in ("get", "give", "suffer", "grow", "show", "make")
)


def _elsewhere(thing: Thing, reading: Reading) -> bool:
    """What lies elsewhere, is only smelt, to be left or to come: "the other line had roots"."""
    words, low, high = reading.words, thing.low, thing.high
    if words[0] in ("forget", "ignore", "skip") or words[:4] == ("next", "thing", "you", "know"):
        return True
    lead = set(pairwise(words[: low + 1]))
    other = words[:2] == ("the", "other") and "had" in words[:low]
    sight = lead & _NOT_SIGHT and "look" not in words  # "... so you can have a good look, is ..."
    if other or sight or ("we'll", "see") in pairwise(words[high:]):
        return True
    behind = words[high:]
    last_job = "as" not in behind and _LAST_JOB & set(pairwise(behind))
    if last_job or ("used", "to") in pairwise(behind) or words[:4] == _MOSTLY:
        return True
    if ("so", "much") in lead and "as" in behind:
        return True  # "not so much a crack as a stain"
    after = words[high : high + 2]
    if after in (("must", "be"), ("are", "what"), ("is", "what")):
        return True
    return "who" in words[max(0, low - 3) : low] and bool(_PEOPLE & set(words[:low]))


_MOSTLY = ("most", "of", "the", "time")
_NOT_SIGHT = frozenset(
    {
        ("smells", "like"),
        ("smell", "like"),
        ("compared", "to"),
        ("compared", "with"),
        ("took", "for"),
        ("sold", "a"),
        ("sold", "an"),
        ("permit", "for"),
        ("stories", "about"),
        ("can", "have"),
        ("i'm", "told"),
        ("times", "out"),
    }
)
_LAST_JOB = frozenset(("last", place) for place in ("job", "house", "one", "street", "place"))


ASIDES = (
    _elsewhere,
    _is_past,
    _wagered,
    _of_all,
    _hearsay,
    _nobody,
    _of_people,
    _in_general,
    _ruled_out,
    _would_do,
    _own_doing,
    _because,
    _in_another_time,
    _excuse,
    _asked_why,
    _ordered,
)

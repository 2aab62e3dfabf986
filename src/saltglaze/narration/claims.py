"""How a thing is said: plainly, with a hedge, denied, or only talked of."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.asides import ASIDES, STATES_IT, sees
from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

_BREAKS_DENIAL = word_set("claims", "breaks_denial")
_NEW_CLAUSE = word_set("claims", "new_clause")


# ------------------------------------------------------------------ denial
def deny(things: list[Thing], reading: Reading) -> None:
    """Mark the things a sentence says are not there ("no cracks, roots or offsets")."""
    excused = {i for hit in reading.acts("not_denial") for i in hit.at} | set(reading.idioms)
    for hit in reading.acts("deny"):
        if not excused.isdisjoint(hit.at):
            continue
        end = _denial_end(things, reading, hit.end)
        for thing in things:
            shared = {reading.words[i] for i in set(hit.at) & set(thing.tokens)}
            behind = hit.end <= thing.low < end and not shared
            seen = bool(shared) and shared <= _SEEN_VERBS and hit.start < thing.low
            begun = bool(shared) and hit.start < thing.low <= hit.end
            if behind or seen or begun:  # "I can't see daylight through it"
                thing.denied = True
    _deny_behind(things, reading, excused)


_SEEN_VERBS = frozenset({"see", "seeing", "find", "got", "have", "get", "spot"})


def _denial_end(things: list[Thing], reading: Reading, at: int) -> int:
    """How far a denial reaches: over lists, up to the next clause of its own."""
    words, starts = reading.words, {thing.low for thing in things}
    first, bare = at, not {",", ".", ";"} & set(reading.words)
    while at < len(words):
        word = words[at]
        if word in _BREAKS_DENIAL:
            return at
        if bare and at > first and word in _OPENS_CLAUSE and words[at - 1] not in _THINKS:
            return at  # talk without marks: "they've not met it square there's a gap"
        if at == first and word in (",", "—", "–", "--", "…"):
            return at  # "no, that's the other one": no denial of what follows
        if word in (",", ";", ":", "—", "–", "--") or word in ("and", "or", "nor"):
            ahead = words[at + 1 : at + 5]
            listed = any(at < start <= at + 4 for start in starts)
            if word not in ("and", "or", "nor"):  # "no lead in it, wide open" is no list
                listed = listed and any(first <= start < at for start in starts)
            if word not in ("or", "nor") and (not listed or any(w in _NEW_CLAUSE for w in ahead)):
                return at
        at += 1
    return at


_OPENS_CLAUSE = frozenset({"there's", "it's", "that's", "here's", "we've", "i've"})
_THINKS = frozenset({"think", "believe", "say", "sure", "see", "know", "if", "like", "as", "so"})


def _deny_behind(things: list[Thing], reading: Reading, excused: set[int]) -> None:
    """Read "cracks, none", "roots: no"."""
    words = reading.words
    for thing in things:
        if any(word[0] == "<" for word in words[thing.high :]):
            continue  # "a lip, five mil, nothing": a small one
        tail = [word for word in words[thing.high :] if word[0].isalnum()]
        if tail in (["none"], ["no"], ["negative"], ["nope"], ["none", "here"], ["nothing"]):
            thing.denied = True
        if tail[:1] == ["free"] or _unseen(tail):
            thing.denied = True


def _unseen(tail: list[str]) -> bool:
    """Such as "... further up, I can't see one"."""
    return any(
        tail[i] in ("can't", "don't", "didn't")
        and tail[i + 1 : i + 3] in (["see", "one"], ["see", "any"])
        for i in range(len(tail))
    )


# ------------------------------------------------------------------ hedges
def suppose(things: list[Thing], reading: Reading) -> None:
    """Mark the things a hedge is about; a hedge on a size or a cause is none."""
    sure = reading.acts("sure")
    for hit in reading.acts("hedge"):
        target = _hedged(things, reading, hit)
        if target is not None:
            target.supposed = True
    for thing in things:
        if "either" in reading.words[: thing.low] and "or" in reading.words[: thing.low]:
            thing.supposed = True  # "either a shadow or a crack"
    for hit in sure:
        for thing in things:
            if reading.boundaries[hit.start] == reading.boundaries[thing.low]:
                thing.sure = True


def _hedged(things: list[Thing], reading: Reading, hit: Hit) -> Thing | None:  # noqa: PLR0911 - one guard a rule
    """The thing a hedge is about; ``None`` where it is about a size, a cause or an owner."""
    words = reading.words
    following = words[hit.end : hit.end + 5]
    for offset, word in enumerate(following):
        if word.startswith("<"):
            if any(hit.end <= t.low < hit.end + offset for t in things):
                break
            if word != "<bend>":
                return None
        if word in _OF_CAUSE and not any(
            t.low <= hit.end + offset + 2 for t in things if t.low >= hit.end
        ):
            return None
        if word not in _BETWEEN_HEDGE_AND_SIZE:
            break
    ahead = [t for t in things if t.low >= hit.end]
    if ahead and any(t.feature is ahead[0].feature and t.high <= hit.start for t in things):
        return None
    behind = [t for t in things if t.high <= hit.start]
    inside = [t for t in things if t.low < hit.end and t.high > hit.start]
    if inside:
        return inside[0]
    crossed = reading.boundaries
    but = (",", "but") in pairwise(words[hit.end : hit.end + 3])
    if ahead and crossed[ahead[0].low] - crossed[hit.end - 1] <= 1 + but:
        return ahead[0]
    rest = [w for w in words[hit.end :] if w[0].isalnum() and w not in _EMPTY]
    amount_before = hit.start > 0 and any(
        w.startswith("<") for w in words[max(0, hit.start - 2) : hit.start]
    )
    if not rest or _between_commas(words, hit):
        rest = []
    if behind and not rest and not amount_before and not _of_origin(behind[-1], reading, hit):
        return behind[-1]
    return None


def _between_commas(words: Sequence[str], hit: Hit) -> bool:
    """Whether a hedge is thrown in: "crack, I'd guess, on the right"."""
    closed = words[hit.end : hit.end + 1] == (",",) and words[hit.end + 1] not in ("and", "but")
    return closed and words[hit.start - 1 : hit.start] == (",",)


def _of_origin(thing: Thing, reading: Reading, hit: Hit) -> bool:
    """Whether a closing hedge is on where a thing comes from: "..., from the bathroom I think"."""
    between = reading.words[thing.high : hit.start]
    return "from" in between or ("," in between and bool(_OF_CAUSE & set(between)))


_BETWEEN_HEDGE_AND_SIZE = word_set("claims", "between_hedge_and_size")
_OF_CAUSE = word_set("claims", "of_cause")
_EMPTY = word_set("claims", "empty")


# ------------------------------------------------------------------ talk
def only_talk(things: list[Thing], reading: Reading) -> None:
    """Mark what is spoken of but not claimed as seen here and now."""
    measured = {i for hit in reading.acts("measure") for i in range(hit.start, hit.end)}
    advice = tuple(
        hit
        for hit in reading.acts("advice")
        if measured.isdisjoint(hit.at) and reading.words[hit.end : hit.end + 1] not in _LOOK
    )
    guessed = {
        index
        for hit in reading.acts("hedge")
        for index in hit.at
        if "guess" in {reading.words[i] for i in hit.at}
    }
    plain = {index for hit in reading.acts("plain_would") for index in hit.at} | measured
    hypothetical = [
        hit
        for hit in reading.acts("hypothetical")
        if reading.idioms.isdisjoint(hit.at)
        and plain.isdisjoint(hit.at)
        and not set(hit.at) <= guessed
    ]
    own = {index for thing in things for index in thing.tokens}
    cleaned = [hit for hit in reading.acts("cleaning") if not own.issuperset(hit.at)]
    strong = bool(cleaned) and not any(w in _SHOWN for w in reading.words)
    if _bare_list(things, reading) or reading.acts("tale") or _all_well(reading):
        for thing in things:
            thing.talked_of = True
        return
    for thing in things:
        if thing.feature in (Feature.END, Feature.COULD_NOT_PASS, Feature.START):
            planned = thing.feature is Feature.END and any(a.start <= thing.low for a in advice)
            warned = (
                thing.feature is Feature.END
                and "don't" in reading.words[max(0, thing.low - 2) : thing.low + 1]
            )
            thing.talked_of = planned or warned or _not_yet(thing, reading)
            continue
        if (
            any(_governs(hit, thing, reading, reach=2) for hit in hypothetical)
            or (
                advice
                and advice[0].start <= thing.high + 12
                and _governed_by_advice(advice, thing, reading)
            )
            or (strong and thing.feature in _CLEANABLE and not _before_cleaning(thing, reading))
            or _generally(thing, reading)
            or _usually(thing, reading)
            or _would_be(thing, reading)
            or _spoken_of_before(thing, reading)
            or _only_just(thing, things, reading)
            or _corrected(thing, things, reading)
            or _or_else(thing, things, reading)
            or any(rule(thing, reading) for rule in ASIDES)
        ):
            thing.talked_of = True


_LOOK = (("see",), ("look",), ("watch",), ("know",), ("note",))


def _not_yet(thing: Thing, reading: Reading) -> bool:
    """Such as "almost at the main", "should be close to the manhole": not there yet."""
    lead = reading.words[max(0, thing.low - 4) : thing.low + 1]
    near = _NEARLY - {"till", "until"} if thing.feature is Feature.COULD_NOT_PASS else _NEARLY
    return any(word in near for word in lead)


_NEARLY = word_set("claims", "nearly")


def _spoken_of_before(thing: Thing, reading: Reading) -> bool:
    """Such as "the crack we saw earlier", "same crack as before": no new sight of it."""
    if {"again", "but"} & set(reading.words):
        return False  # "cracked again, same as before but on the left"
    after = reading.words[thing.high : thing.high + 5]
    pairs = set(pairwise(after))
    return bool(
        pairs
        & {
            ("we", "saw"),
            ("i", "saw"),
            ("as", "before"),
            ("from", "before"),
            ("behind", "us"),
            ("we", "already"),
            ("i", "already"),
        }
    ) or any(word == "earlier" for word in after)


def _corrected(thing: Thing, things: list[Thing], reading: Reading) -> bool:
    """Such as "that hole isn't a break, that's where somebody tapped in"."""
    after = reading.words[thing.high : thing.high + 6]
    named = {("isn't", "a"), ("ain't", "a"), ("isn't", "an"), ("ain't", "an")}
    return bool(named & set(pairwise(after))) and any(
        t.denied and thing.high <= t.low <= thing.high + 8 for t in things
    )


def _or_else(thing: Thing, things: list[Thing], reading: Reading) -> bool:
    """The second of "a crack, or it may be a root": another guess at the same thing."""
    lead = reading.words[max(0, thing.low - 7) : thing.low]
    if "or" not in lead:
        return False
    at = thing.low - 1 - lead[::-1].index("or")
    if {"and", ",", "more", "so", "there's"} & set(reading.words[at + 1 : thing.low]):
        return False  # "an inch or more, and shifted down"
    first = [t for t in things if t.high <= at and t.feature is not thing.feature]
    return bool(first) and not any(t.denied or t.talked_of for t in first[-1:])


def _only_just(thing: Thing, things: list[Thing], reading: Reading) -> bool:
    """Such as "that isn't a crack, that's just a stain": the second is no finding either."""
    lead = reading.words[max(0, thing.low - 4) : thing.low]
    told = {"that's", "it's", "that", "it"} & set(lead) and {"just", "only"} & set(lead)
    return bool(told) and any(other.denied and other.high <= thing.low for other in things)


def _bare_list(things: list[Thing], reading: Reading) -> bool:
    """Whether a sentence only lists kinds of trouble ("cracks, roots, bellies")."""
    if len({thing.feature for thing in things}) < 3 or reading.amounts or reading.sides:
        return False
    return not set(reading.words) & _CLAIMING


_CLAIMING = word_set("claims", "claiming")


def _before_cleaning(thing: Thing, reading: Reading) -> bool:
    """Whether the thing is named before a cleaning still to come, or before it was cut in."""
    if thing.high > reading.acts("cleaning")[0].start:
        return False
    return thing.feature is Feature.TAP or any(word in _LATER for word in reading.words)


def _generally(thing: Thing, reading: Reading) -> bool:
    """Said of the kind and not of this place: "roots love clay"."""
    after = reading.words[thing.high : thing.high + 2]
    if not after or after[0] not in _GENERAL:
        return False
    return reading.words[thing.high - 1].endswith("s") or after[0] in ("always", "usually", "tends")


def _would_be(thing: Thing, reading: Reading) -> bool:
    """Such as "the break would be about forty feet": not seen yet."""
    after = reading.words[thing.high : thing.high + 2]
    if thing.feature in (Feature.LINER, Feature.REPAIR) and after[:1] in _WONT:
        return True  # "a liner won't take out the belly"
    return after[:1] in (("would",), ("should",), ("ought",)) and after[1:] in (("be",), ("have",))


def _all_well(reading: Reading) -> bool:
    """Whether a short sentence only says that a thing is in order ("tap's fine")."""
    words = [word for word in reading.words if word[0].isalnum()]
    return len(words) <= _FEW and not reading.amounts and bool(reading.acts("sound"))


_WONT = (("won't",), ("wouldn't",), ("will",), ("would",), ("can't",))
_FEW = 3
_FEW_THROWN = 7


def _usually(thing: Thing, reading: Reading) -> bool:
    return any(word in _HABIT for word in reading.words[thing.high : thing.high + 3])


_HABIT = word_set("claims", "habit")


_GENERAL = word_set("claims", "general")
_LATER = word_set("claims", "later")
_SHOWN = word_set("claims", "shown")
_CLEANABLE = frozenset(
    {
        Feature.ROOTS,
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.SURFACE_DAMAGE,
        Feature.TAP,
        Feature.BREAK,
        Feature.MATERIAL_CHANGE,
    }
)


def _governs(hit: Hit, thing: Thing, reading: Reading, reach: int) -> bool:
    """Whether a phrase stands before the thing within so few clause boundaries."""
    if hit.start > thing.low or hit.end > thing.high:
        return False
    crossed = reading.boundaries[thing.low] - reading.boundaries[hit.end - 1]
    if crossed >= reach or _claimed_anew(hit, thing, reading):
        return False
    seen = sees(reading.words[hit.end : thing.low]) and reading.words[hit.start] != "if"
    return not (seen or _thrown_in(hit, thing, reading))


def _thrown_in(hit: Hit, thing: Thing, reading: Reading) -> bool:
    """Whether the talk before the first comma is over: "told you, a crack at nine"."""
    words = reading.words
    stop = words.index(",") if "," in words else 0
    told = {"you", "thought", "said"} & set(words[: hit.end])
    short = hit.end <= stop <= _FEW_THROWN and stop < thing.low <= stop + _FEW
    return bool(told) and short and words[hit.start] not in _CONDITIONS


def _claimed_anew(hit: Hit, thing: Thing, reading: Reading) -> bool:
    """Whether a clause of its own states the thing after all.

    "... where the two are supposed to meet, and there's a space"; what stands behind
    "if" or "when" stays a condition.
    """
    if reading.words[hit.start] in _CONDITIONS:
        return False
    edges = reading.boundaries
    for at in range(hit.end, thing.low + 1):
        opens = edges[at] > edges[at - 1]
        word = reading.words[at + opens] if at + opens < len(reading.words) else ""
        if opens and at + 1 <= thing.low and word in STATES_IT:
            return True
    return False


_CONDITIONS = frozenset({"if", "when", "once", "whenever", "unless", "whether", "wherever"})


def _governed_by_advice(advice: tuple[Hit, ...], thing: Thing, reading: Reading) -> bool:
    boundaries = reading.boundaries
    return any(
        (hit.start <= thing.low and boundaries[thing.low] - boundaries[hit.start] <= 1)
        or (hit.start > thing.low and boundaries[hit.start] == boundaries[thing.low])
        for hit in advice
    )

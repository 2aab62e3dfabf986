"""What only colours another thing of its sentence, and so is no thing of its own.

Each rule looks at one thing beside the others of the sentence and says whether it is
grease on a lens, the hole a tap was let in through, silt in a crack, and the like.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.ground import OPENINGS, ground_at
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

COMING = word_set("things", "coming")
_SEEN = frozenset({"see", "seeing", "looking"})
_RUNNING = word_set("things", "running")
_LEAKS = frozenset({"joint", "crack", "around", "through", "wall", "seal"})
_TOOLS = word_set("things", "tools")
_MOVED = frozenset({"displaced", "shifted", "moved", "dropped", "displacement"})
_CLEFTS = (("crack",), ("gap",), ("joint",), ("hole",), ("fracture",))
_BARED = (("showing",), ("exposed",), ("visible",))
_TEXTILES = frozenset({"wipes", "wipe", "rag", "rags", "baby", "wet"})
_COUPLINGS = frozenset(
    {"clamp", "clamps", "coupling", "couplings", "sleeve", "boot", "band", "coupler"}
)
_SHOWN = frozenset({"showing", "visible", "see", "seeing", "hanging"})
_FALLEN = frozenset({"fallen", "fell", "come", "in", "down"})
_SMEARS = frozenset(
    {
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.STANDING_WATER,
        Feature.ROOTS,
    }
)
_STUFF = frozenset(
    {
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.ATTACHED_DEPOSITS,
        Feature.SURFACE_DAMAGE,
        Feature.REPAIR,
    }
)
_TAPS = frozenset({Feature.TAP, Feature.INTRUDING_TAP})
_JOINT_FAULTS = frozenset({Feature.OPEN_JOINT, Feature.OFFSET_JOINT, Feature.ANGLED_JOINT})


def out_of_it(words: Sequence[str]) -> bool:
    """Whether something comes out of what was named before: "out of it", "from this one"."""
    joined = " ".join(words)
    return any(f"{way} {it}" in joined for way in _WAYS_OUT for it in _IT)


_WAYS_OUT = ("out of", "from", "down")
_IT = ("it", "there", "this one", "that one")


@dataclass(frozen=True)
class _Beside:
    """One thing, the things of its sentence, and the sentence."""

    thing: Thing
    things: list[Thing]
    reading: Reading

    @cached_property
    def features(self) -> frozenset[Feature]:
        return frozenset(t.feature for t in self.things)

    @cached_property
    def own(self) -> frozenset[str]:
        """The words the thing is named by."""
        return frozenset(self.reading.words[i] for i in self.thing.tokens)

    @cached_property
    def said(self) -> frozenset[str]:
        """All words of the sentence."""
        return frozenset(self.reading.words)

    @property
    def following(self) -> tuple[str, ...]:
        return self.reading.words[self.thing.high :]

    @property
    def adjacent(self) -> Thing | None:
        """The thing named straight after."""
        thing = self.thing
        return next(
            (t for t in self.things if t.low - 1 <= thing.high <= t.low and t is not thing),
            None,
        )

    def before(self, *features: Feature) -> list[Thing]:
        """Things of these features named before."""
        return [t for t in self.things if t.feature in features and t.high <= self.thing.low]


def distinct(things: list[Thing], reading: Reading) -> list[Thing]:
    """Return the things that stand for themselves."""
    return [
        thing
        for thing in things
        if not any(rule(_Beside(thing, things, reading)) for rule in _RULES[thing.feature])
    ]


# ------------------------------------------------------------------ deposits and objects
def _smear(at: _Beside) -> bool:
    """Grease on the lens."""
    return Feature.LENS_FOULED in at.features and at.thing.feature in _SMEARS


def _explains(at: _Beside) -> bool:
    """Tell what the thing before is: "bottom's out, that's sand"."""
    if at.thing.feature not in _STUFF:
        return False
    lead = at.reading.words[max(0, at.thing.low - 4) : at.thing.low]
    told = {"that's", "look", "like"} & set(lead) or ("for" in lead and "enough" in at.said)
    return bool(told) and any(
        t.high <= at.thing.low
        and t.feature is not at.thing.feature
        and t.feature is not Feature.TAP
        and not (t.denied or t.weak)
        for t in at.things
    )


def _compound(at: _Beside) -> bool:
    """Name one thing in two words: "a mess of hair roots", "a fence post hole"."""
    other = at.adjacent
    edges = at.reading.boundaries
    return (
        other is not None
        and other.feature in (Feature.ROOTS, Feature.ATTACHED_DEPOSITS, Feature.HOLE)
        and edges[at.thing.low] == edges[other.low]
    )


def _let_in(at: _Beside) -> bool:
    """The pipe of a tap: "somebody's bodged it, a bit of waste pipe stuck in it"."""
    named = at.reading.words[at.thing.low : at.thing.high]
    return bool(at.before(Feature.TAP)) and bool({"pipe", "line", "hose", "tube"} & set(named))


def _wrapped(at: _Beside) -> bool:
    """Part of a mass: "roots, wrapped up with wipes"."""
    return at.own <= _TEXTILES and bool(at.features & {Feature.ROOTS, Feature.ATTACHED_DEPOSITS})


def _fat(at: _Beside) -> bool:
    """Only an adjective: "a big fat root"."""
    return at.reading.words[at.thing.low] == "fat" and at.adjacent is not None


def _inside(at: _Beside) -> bool:
    """No bed of silt: "there's silt in the crack"."""
    return at.following[:2] in (("in", "the"), ("in", "that")) and at.following[2:3] in _CLEFTS


def _bared(at: _Beside) -> bool:
    """Stones of the wall itself: "the concrete's worn, rocks showing"."""
    seen = "see" in at.reading.words[max(0, at.thing.low - 3) : at.thing.low]
    bared = seen or at.following[:1] in _BARED
    return Feature.SURFACE_DAMAGE in at.features and bared


def _ground(at: _Beside) -> bool:
    """Ground seen through an opening named before: "open joint, sand coming in"."""
    near = at.reading.words[max(0, at.thing.low - 2) : at.thing.high + 2]
    ground = ground_at(at.reading)
    seen = ground is not None and ground in range(at.thing.low, at.thing.high)
    if not (seen or set(near) & (COMING | _SEEN)):
        return False
    openings = at.before(*OPENINGS)
    if openings:
        openings[-1].fields.setdefault("soil_visible", True)
    return bool(openings)


def _pushing(at: _Beside) -> bool:
    """Outside the pipe: "squeezed on the left, root's pushing on it"."""
    return Feature.DEFORMATION in at.features and bool(
        {"pushing", "pressing", "pushes"} & set(at.following[:3])
    )


# ------------------------------------------------------------------ shape and wall
def _heap(at: _Beside) -> bool:
    """Said of dirt that has fallen in, not of the pipe."""
    return Feature.SETTLED_DEPOSITS in at.features and at.own <= _FALLEN


def _of_break(at: _Beside) -> bool:
    """Shape of what broke: "broken pipe, sides pushed in"."""
    measured = any(a.measure is Measure.SHARE for a in at.reading.amounts.values())
    return bool(at.features & {Feature.BREAK, Feature.COLLAPSE}) and not measured


def _of_tap(at: _Beside) -> bool:
    """Shape of a tap: "a tee on the right but it's all mashed"."""
    return bool(at.before(Feature.TAP)) and not {"pipe", "line"} & at.said


def _moved_piece(at: _Beside) -> bool:
    """A piece out of place, no joint: "broken section, displaced inward"."""
    broken = at.features & {Feature.BREAK, Feature.COLLAPSE, Feature.HOLE}
    joint = any("at_joint" in hit.entry for hit in at.reading.qualities)
    return bool(broken) and at.own <= _MOVED and not joint


def _mortar(at: _Beside) -> bool:
    """Why a joint gapes: "mortar's gone, there's a gap of an inch"."""
    named = at.reading.words[at.thing.low : at.thing.high]
    return "mortar" in named and Feature.OPEN_JOINT in at.features


# ------------------------------------------------------------------ fittings and water
def _made_for_tap(at: _Beside) -> bool:
    """The hole that a tap of the same sentence was let in through."""
    taps = [t for t in at.things if t.feature in _TAPS]
    if not taps or not _TOOLS & at.said:
        return False
    taps[-1].fields["kind"] = "broken_in"
    return True


def _broken_for_tap(at: _Beside) -> bool:
    """The way a tap was let in: "simply broken and inserted", "burst the pipe and put in a tee"."""
    put = _PUT_IN & at.said
    taps = [t for t in at.things if t.feature in _TAPS]
    if not taps or not put or not at.own & _BROKEN:
        return False
    taps[-1].fields["kind"] = "broken_in"
    return True


_PUT_IN = frozenset({"put", "inserted", "insert", "set", "stuck", "shoved"})
_BROKEN = frozenset({"broken", "broke", "burst", "busted", "bust", "smashed", "knocked"})


def _dip_of_bend(at: _Beside) -> bool:
    """A dip that is a bend going down."""
    return Feature.BEND in at.features and any(word.startswith("dip") for word in at.own)


def _tap_in_use(at: _Beside) -> bool:
    """Water of a tap in use and no leak: "the wye's dripping"."""
    if at.before(Feature.TAP) and out_of_it(at.reading.words[at.thing.low :]):
        at.before(Feature.TAP)[-1].fields.setdefault("active", True)
        return True
    held = at.thing.feature is Feature.STANDING_WATER
    if held and "running" not in at.said:
        return False
    if not held and (len(at.thing.tokens) > 1 or _LEAKS & at.said):
        return False
    if not held and at.reading.words[at.thing.low] not in _RUNNING:
        return False
    taps = at.before(Feature.TAP)
    if taps:
        taps[-1].fields.setdefault("active", True)
    return bool(taps)


def _runs_on(at: _Beside) -> bool:
    """The course of a crack: "starts at the hub and runs down the side"."""
    first = at.reading.words[at.thing.low : at.thing.low + 2]
    runs = bool({"runs", "running"} & set(first)) and not {"water", "wet"} & at.said
    return runs and bool(at.before(Feature.CRACK, Feature.FRACTURE))


def _water_stays(at: _Beside) -> bool:
    """Of the water, not the camera: "the water stays here, it doesn't go"."""
    return (
        bool(at.features & {Feature.STANDING_WATER, Feature.SAG})
        and "water" in at.reading.words[: at.thing.low]
        and not {"camera", "head", "i", "we", "she"} & at.said
    )


def _water_in_it(at: _Beside) -> bool:
    """Water that stands in a crack or a gap: "that's a crack, it's got water in it"."""
    near = " ".join(at.reading.words[at.thing.low : at.thing.high + 3])
    return "in it" in near and bool(at.before(*OPENINGS, Feature.CRACK))


def _full_of(at: _Beside) -> bool:
    """What a collapse is made of: "the top's down and it's full of dirt"."""
    full = ("full", "of") in pairwise(at.reading.words[max(0, at.thing.low - 3) : at.thing.high])
    return full and bool(at.before(Feature.COLLAPSE))


def _tells_why(at: _Beside) -> bool:
    """What only gives the cause of the thing before: "scale, that's from water getting in"."""
    words, low = at.reading.words, at.thing.low
    before = [t for t in at.things if t.high <= low and not (t.denied or t.reference)]
    if not before:
        return False
    between = words[before[-1].high : low + 1]
    same = before[-1].feature is at.thing.feature
    if _FROM & set(pairwise(between)) or (same and _WHY & set(between)):
        return True
    sits = at.thing.feature in (Feature.OBSTRUCTION, Feature.SETTLED_DEPOSITS, Feature.SAG)
    return sits and (("where", "the") in pairwise(between) or "since" in between)


_FROM = frozenset(
    {
        ("that's", "from"),
        ("it's", "from"),
        ("due", "to"),
        ("caused", "by"),
        ("that's", "why"),
        ("comes", "from"),
    }
)
_WHY = frozenset({"because", "since", "where", "'cause", "cause", "cos"})


def _squeezed(at: _Beside) -> bool:
    """How a squashed pipe goes on: "it narrows here, the pipe's been squeezed"."""
    sizes = any(a.measure in (Measure.LENGTH, Measure.NUMBER) for a in at.reading.amounts.values())
    return Feature.DEFORMATION in at.features and not sizes


def _kinked(at: _Beside) -> bool:
    """The turn that a kink makes: "bit of a kink there, pipe heads off to the left"."""
    return bool(at.before(Feature.ANGLED_JOINT)) and "joint" not in at.said


def _opened_crack(at: _Beside) -> bool:
    """How far a crack has opened: "that's a fracture, and it's opened five millimetres"."""
    own = at.own | {at.reading.words[max(0, at.thing.low - 1)]}
    cracked = bool(at.before(Feature.CRACK, Feature.FRACTURE))
    return cracked and bool(own & {"it's", "it"}) and bool(at.own & {"opened", "open", "opening"})


def _named_again(at: _Beside) -> bool:
    """The name of what was told before: "one sits lower than the other, that's an offset"."""
    words, low = at.reading.words, at.thing.low
    lead = words[max(0, low - 2) : low]
    named = lead[-1:] in (("a",), ("an",)) and lead[0] in ("that's", "it's")
    told = [t for t in at.before(at.thing.feature) if words[t.high + 1 : t.high + 2] != ("saw",)]
    return named and bool(told)


def _stepped(at: _Beside) -> bool:
    """A crooked joint that steps: "not straight, there's a difference of fifteen mil"."""
    if not _STEP & at.said or any(t.feature is Feature.OFFSET_JOINT for t in at.things):
        return Feature.OFFSET_JOINT in at.features
    at.thing.feature = Feature.OFFSET_JOINT
    return False


_STEP = frozenset({"step", "difference", "lip", "ledge", "higher", "lower"})


def _pushed_up(at: _Beside) -> bool:
    """How a pipe is bent: "bottom's pushed up, forty percent deformed"."""
    return Feature.DEFORMATION in at.features and "joint" not in at.said


def _coupling(at: _Beside) -> bool:
    """The coupling that is the joint at fault: "flex coupling's slipped, gap at the bottom"."""
    return bool(at.own & _COUPLINGS) and bool(at.features & _JOINT_FAULTS)


def _lined(at: _Beside) -> bool:
    """The putting in of a liner."""
    return Feature.LINER in at.features


def _seal_seen(at: _Beside) -> bool:
    """How far a joint is open: "it's separated, I can see the oakum"."""
    return Feature.OPEN_JOINT in at.features and bool(at.own & _SHOWN)


def _joins_main(at: _Beside) -> bool:
    """The end of the line itself: "connection to main, end of inspection"."""
    return Feature.END in at.features and "to" in (*at.own, *at.following[:1])


def _riser(at: _Beside) -> bool:
    """The riser of a tap."""
    return at.reading.words[at.thing.low] == "riser" and bool(at.features & _TAPS)


_Rule = Callable[[_Beside], bool]
_BY_FEATURE: dict[Feature, tuple[_Rule, ...]] = {
    Feature.ROOTS: (_smear, _pushing),
    Feature.ATTACHED_DEPOSITS: (_smear, _fat, _explains),
    Feature.SETTLED_DEPOSITS: (_smear, _inside, _bared, _ground, _explains, _full_of),
    Feature.OBSTRUCTION: (_smear, _let_in, _wrapped, _compound, _explains),
    Feature.BREAK: (_broken_for_tap,),
    Feature.COLLAPSE: (_heap,),
    Feature.DEFORMATION: (_of_break, _of_tap),
    Feature.OFFSET_JOINT: (_moved_piece, _pushed_up),
    Feature.ANGLED_JOINT: (_stepped,),
    Feature.OPEN_JOINT: (_opened_crack,),
    Feature.SURFACE_DAMAGE: (_mortar, _explains),
    Feature.HOLE: (_made_for_tap,),
    Feature.SAG: (_dip_of_bend,),
    Feature.INFILTRATION: (_tap_in_use, _runs_on),
    Feature.STANDING_WATER: (_smear, _tap_in_use, _water_in_it),
    Feature.COULD_NOT_PASS: (_water_stays,),
    Feature.REPAIR: (_coupling, _lined, _explains),
    Feature.INTRUDING_SEAL: (_seal_seen,),
    Feature.CLEAN_OUT: (_riser,),
    Feature.TAP: (_joins_main,),
    Feature.DIAMETER_CHANGE: (_squeezed,),
    Feature.BEND: (_kinked,),
}
_RULES: dict[Feature, tuple[_Rule, ...]] = {
    feature: (*_BY_FEATURE.get(feature, ()), _named_again, _tells_why) for feature in Feature
}

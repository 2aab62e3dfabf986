"""One plain sentence for an owner about one finding."""

from __future__ import annotations

from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Certainty, Clock, Facts, Feature, Finding, Grade

_WHAT: dict[Feature, str] = {
    Feature.CRACK: "a crack",
    Feature.FRACTURE: "an open crack",
    Feature.BREAK: "broken pipe",
    Feature.HOLE: "a hole in the pipe",
    Feature.COLLAPSE: "collapsed pipe",
    Feature.DEFORMATION: "pipe that has lost its round shape",
    Feature.SURFACE_DAMAGE: "a worn or damaged pipe wall",
    Feature.OFFSET_JOINT: "a joint where the pipes have shifted, which leaves a step",
    Feature.OPEN_JOINT: "a joint that has pulled apart",
    Feature.ANGLED_JOINT: "a joint that bends more than it should",
    Feature.ROOTS: "roots",
    Feature.ATTACHED_DEPOSITS: "deposits stuck to the wall",
    Feature.SETTLED_DEPOSITS: "dirt lying in the bottom of the pipe",
    Feature.OBSTRUCTION: "something in the way",
    Feature.INFILTRATION: "ground water coming in",
    Feature.STANDING_WATER: "water standing in the pipe",
    Feature.SAG: "a low spot where water stands",
    Feature.TAP: "a pipe joining in",
    Feature.INTRUDING_TAP: "a joining pipe that sticks into the line",
    Feature.INTRUDING_SEAL: "a joint seal hanging into the pipe",
    Feature.CLEAN_OUT: "a clean-out",
    Feature.BEND: "a bend",
    Feature.DIAMETER_CHANGE: "a change in pipe size",
    Feature.MATERIAL_CHANGE: "a change of pipe material",
    Feature.REPAIR: "an earlier repair",
    Feature.LINER: "a liner",
    Feature.VERMIN: "signs of animals",
    Feature.CAMERA_UNDER_WATER: "water over the camera",
    Feature.LENS_FOULED: "a dirty lens, so nothing could be judged",
    Feature.COULD_NOT_PASS: "the place where the camera could not go on",
    Feature.START: "the start of the run",
    Feature.END: "the end of the run",
}

_WHAT_BY_KIND: dict[tuple[Feature, str], str] = {
    (Feature.CRACK, "hairline"): "a hairline crack",
    (Feature.CRACK, "longitudinal"): "a crack along the pipe",
    (Feature.CRACK, "circumferential"): "a crack around the pipe",
    (Feature.CRACK, "multiple"): "several cracks",
    (Feature.FRACTURE, "longitudinal"): "an open crack along the pipe",
    (Feature.FRACTURE, "circumferential"): "an open crack around the pipe",
    (Feature.FRACTURE, "multiple"): "several open cracks",
    (Feature.SURFACE_DAMAGE, "chipped"): "a chipped pipe wall",
    (Feature.SURFACE_DAMAGE, "spalled"): "a pipe wall that is flaking away",
    (Feature.SURFACE_DAMAGE, "corroded"): "a rusted or eaten pipe wall",
    (Feature.ROOTS, "fine"): "fine roots",
    (Feature.ROOTS, "mass"): "a mass of roots",
    (Feature.ROOTS, "tap"): "a thick root",
    (Feature.ATTACHED_DEPOSITS, "grease"): "grease on the wall",
    (Feature.ATTACHED_DEPOSITS, "scale"): "scale on the wall",
    (Feature.SETTLED_DEPOSITS, "gravel"): "gravel in the bottom of the pipe",
    (Feature.SETTLED_DEPOSITS, "silt"): "silt in the bottom of the pipe",
    (Feature.SETTLED_DEPOSITS, "hard"): "hard deposits in the bottom of the pipe",
    (Feature.INFILTRATION, "stain"): "a stain where ground water has come in",
    (Feature.TAP, "broken_in"): "a pipe joined in through a hole knocked in the wall",
    (Feature.TAP, "factory_fitting"): "a pipe joined in with a proper fitting",
    (Feature.VERMIN, "rat"): "signs of rats",
}

_HOUR_WORDS = (
    "at the top",
    "at the upper right",
    "on the right, above the middle",
    "on the right",
    "on the right, below the middle",
    "at the lower right",
    "at the bottom",
    "at the lower left",
    "on the left, below the middle",
    "on the left",
    "on the left, above the middle",
    "at the upper left",
)
_NO_CLOCK = {
    Feature.SAG,
    Feature.STANDING_WATER,
    Feature.SETTLED_DEPOSITS,
    Feature.START,
    Feature.END,
    Feature.LENS_FOULED,
    Feature.CAMERA_UNDER_WATER,
    Feature.COULD_NOT_PASS,
    Feature.DIAMETER_CHANGE,
    Feature.MATERIAL_CHANGE,
    Feature.BEND,
    Feature.OFFSET_JOINT,
}


def plain_name(facts: Facts) -> str:
    """Return what a finding is, in everyday words ("fine roots")."""
    return _WHAT_BY_KIND.get((facts.feature, facts.kind or ""), _WHAT[facts.feature])


def plain_sentence(
    finding: Finding, place: FindingPlace | None = None, words: UnitWords = US
) -> str:
    """Say one finding in a sentence or two that an owner can read.

    ``place`` gives the station and the clock position; without it the finding's own
    are used. Unknown sizes are not mentioned.
    """
    facts = finding.facts
    station = _station(finding, place)
    clock = place.clock if place is not None else facts.clock
    text = f"{words.station(station)}: {_sure(facts)}{plain_name(facts)}{_around(facts, clock)}"
    sentences = [_capital(text), *_sizes(facts, words), *_behind(facts)]
    return " ".join(f"{sentence}." for sentence in sentences)


def _station(finding: Finding, place: FindingPlace | None) -> Estimate:
    if place is not None:
        return place.station_m
    return finding.station_m or Estimate.unknown("no place given")


def _sure(facts: Facts) -> str:
    return "perhaps " if facts.certainty is Certainty.SUPPOSED else ""


def _around(facts: Facts, clock: Clock | None) -> str:
    parts = []
    if facts.at_joint and facts.feature not in {Feature.OFFSET_JOINT, Feature.OPEN_JOINT}:
        parts.append(" at a joint" if (facts.joints or 1) == 1 else f" at {facts.joints} joints")
    if clock is not None and facts.feature not in _NO_CLOCK:
        parts.append(", all the way round" if clock.all_round else f", {_hour(clock)} of the pipe")
    return "".join(parts)


def _hour(clock: Clock) -> str:
    if clock.to_h is None:
        return _HOUR_WORDS[round(clock.from_h) % 12]
    span = (clock.to_h - clock.from_h) % 12.0
    return _HOUR_WORDS[round(clock.from_h + span / 2.0) % 12]


def _sizes(facts: Facts, words: UnitWords) -> list[str]:
    said = []
    if share := _known(facts.section_share):
        said.append(f"About {share * 100.0:.0f} % of the pipe is filled")
    if share := _known(facts.water_share):
        said.append(f"The water stands to about {share * 100.0:.0f} % of the pipe's height")
    if share := _known(facts.deformation_share):
        said.append(f"The pipe is out of round by about {share * 100.0:.0f} %")
    if width := _known(facts.width_m):
        what = "step" if facts.feature is Feature.OFFSET_JOINT else "opening"
        said.append(f"The {what} is about {words.size(width)} wide")
    if not said and facts.grade_word is not None:
        said.append(f"It was called {_GRADE_WORDS[facts.grade_word]}, but not measured")
    return said


_GRADE_WORDS = {Grade.SLIGHT: "slight", Grade.MODERATE: "moderate", Grade.HEAVY: "heavy"}


def _behind(facts: Facts) -> list[str]:
    if facts.void_visible:
        return ["The ground behind the pipe is missing"]
    if facts.soil_visible:
        return ["Soil shows behind it"]
    return []


def _known(estimate: Estimate | None) -> float | None:
    return estimate.value if estimate is not None else None


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]

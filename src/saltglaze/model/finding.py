"""Something seen at a station, or over a stretch, with the evidence it rests on."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from pydantic import model_validator

from saltglaze.model.base import Estimate, Record
from saltglaze.model.line import Material
from saltglaze.model.run import Direction


class Feature(StrEnum):
    """What can be found in a pipe, in trade words."""

    CRACK = "crack"
    FRACTURE = "fracture"
    BREAK = "break"
    HOLE = "hole"
    COLLAPSE = "collapse"
    DEFORMATION = "deformation"
    SURFACE_DAMAGE = "surface_damage"
    OFFSET_JOINT = "offset_joint"
    OPEN_JOINT = "open_joint"
    ANGLED_JOINT = "angled_joint"
    ROOTS = "roots"
    ATTACHED_DEPOSITS = "attached_deposits"
    SETTLED_DEPOSITS = "settled_deposits"
    OBSTRUCTION = "obstruction"
    INFILTRATION = "infiltration"
    STANDING_WATER = "standing_water"
    SAG = "sag"
    TAP = "tap"
    INTRUDING_TAP = "intruding_tap"
    INTRUDING_SEAL = "intruding_seal"
    CLEAN_OUT = "clean_out"
    BEND = "bend"
    DIAMETER_CHANGE = "diameter_change"
    MATERIAL_CHANGE = "material_change"
    REPAIR = "repair"
    LINER = "liner"
    VERMIN = "vermin"
    CAMERA_UNDER_WATER = "camera_under_water"
    LENS_FOULED = "lens_fouled"
    COULD_NOT_PASS = "could_not_pass"
    START = "start"
    END = "end"


KINDS: dict[Feature, tuple[str, ...]] = {
    Feature.CRACK: ("longitudinal", "circumferential", "multiple", "helical", "hairline"),
    Feature.FRACTURE: ("longitudinal", "circumferential", "multiple", "helical"),
    Feature.SURFACE_DAMAGE: ("chipped", "spalled", "corroded", "worn"),
    Feature.ROOTS: ("fine", "mass", "tap"),
    Feature.ATTACHED_DEPOSITS: ("grease", "scale", "fouling"),
    Feature.SETTLED_DEPOSITS: ("gravel", "silt", "hard"),
    Feature.INFILTRATION: ("sweating", "dripping", "flowing", "gushing", "stain"),
    Feature.TAP: ("factory_fitting", "broken_in"),
    Feature.BEND: ("1/16", "1/8", "1/6", "1/4", "sweep"),
    Feature.VERMIN: ("rat", "insect"),
}
"""The kinds a feature may carry; a feature not listed carries none."""


class Certainty(StrEnum):
    """How sure the observer was."""

    CERTAIN = "certain"
    SUPPOSED = "supposed"


class Grade(StrEnum):
    """Grade words of the talk, kept as said; sizes outrank them."""

    SLIGHT = "slight"
    MODERATE = "moderate"
    HEAVY = "heavy"


class ScreenPlace(StrEnum):
    """A place on the screen, before roll has turned it into a clock position."""

    TOP = "top"
    TOP_RIGHT = "top_right"
    RIGHT = "right"
    BOTTOM_RIGHT = "bottom_right"
    BOTTOM = "bottom"
    BOTTOM_LEFT = "bottom_left"
    LEFT = "left"
    TOP_LEFT = "top_left"
    CENTRE = "centre"
    ALL_ROUND = "all_round"


class Clock(Record):
    """Clock position in the pipe: hours in [0, 12), 12 o'clock stored as 0.

    Always as seen looking in ``view``; a range runs clockwise from ``from_h`` to
    ``to_h`` (``None`` for a point). ``all_round`` is the whole circumference.
    """

    from_h: float
    to_h: float | None = None
    sd_h: float = 0.5
    all_round: bool = False
    view: Direction | None = None
    because: str = ""
    """roll, word, typed, gravity (water lies at 6): what turned the screen into the pipe."""


class Turn(StrEnum):
    """Which way a bend goes, as seen looking in the direction of view."""

    LEFT = "left"
    RIGHT = "right"
    UP = "up"
    DOWN = "down"


class Facts(Record):
    """What is claimed of one finding. Each field comes from evidence or stays ``None``.

    Shares are fractions 0..1. ``water_share`` is depth of water over diameter,
    ``section_share`` loss of cross-section, ``round_share`` share of the
    circumference. ``width_m`` is the opening or step of a crack, gap or offset.
    """

    feature: Feature
    kind: str | None = None
    certainty: Certainty = Certainty.CERTAIN
    at_joint: bool | None = None
    joints: int | None = None
    count: int | None = None
    grade_word: Grade | None = None
    width_m: Estimate | None = None
    length_m: Estimate | None = None
    section_share: Estimate | None = None
    round_share: Estimate | None = None
    water_share: Estimate | None = None
    deformation_share: Estimate | None = None
    angle_deg: Estimate | None = None
    turn: Turn | None = None
    screen: ScreenPlace | None = None
    clock: Clock | None = None
    diameter_m: Estimate | None = None
    diameter_after_m: Estimate | None = None
    material: Material | None = None
    material_after: Material | None = None
    active: bool | None = None
    capped: bool | None = None
    soil_visible: bool | None = None
    void_visible: bool | None = None
    remark: str = ""


class Edit(Record):
    """What a person changed: only the fields named in ``fields`` outrank the draft."""

    facts: Facts | None = None
    fields: tuple[str, ...] = ()
    rejected: bool = False
    """True where the person says it is not there."""
    station_m: Estimate | None = None
    end_station_m: Estimate | None = None
    by: str = ""
    on: str = ""
    because: str = ""


class DraftedBy(StrEnum):
    """Who drafted a finding."""

    NARRATION = "narration"
    SIGHT = "sight"
    TYPED = "typed"
    HISTORY = "history"


class Evidence(Record):
    """What a finding rests on: words, moments of film, a line of a file."""

    drafted_by: DraftedBy
    run_id: str | None = None
    words: tuple[str, ...] = ()
    mention_ids: tuple[str, ...] = ()
    frames_s: tuple[float, ...] = ()
    typed_in: str = ""
    """File and line where a person typed it."""


class Finding(Record):
    """A finding: draft, edit and evidence, each kept.

    ``id`` is stable from run to run (run, time, feature) so that edits and history
    can point at it. Times are seconds of film; ``station_m`` is set only where
    a person or record gave it directly; otherwise position/ finds it from time.
    """

    id: str
    draft: Facts
    edit: Edit | None = None
    evidence: Evidence
    start_s: float | None = None
    end_s: float | None = None
    station_m: Estimate | None = None
    end_station_m: Estimate | None = None

    @model_validator(mode="after")
    def _times_in_order(self) -> Self:
        if self.start_s is not None and self.end_s is not None and self.end_s < self.start_s:
            raise ValueError("end_s lies before start_s")
        return self

    @property
    def facts(self) -> Facts:
        """The draft with the person's edit laid over it."""
        if self.edit is None or self.edit.facts is None:
            return self.draft
        edited = {name: getattr(self.edit.facts, name) for name in self.edit.fields}
        return self.draft.model_copy(update=edited)

    @property
    def stands(self) -> bool:
        """Whether the finding was not rejected by a person."""
        return self.edit is None or not self.edit.rejected

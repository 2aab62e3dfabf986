"""What the eye saw: time-stamped readings of one film."""

from __future__ import annotations

from enum import StrEnum

from saltglaze.model.base import Estimate, Record
from saltglaze.model.frame import FilmFacts
from saltglaze.model.run import LengthUnit


class CounterBox(Record):
    """Where the distance counter is burned in, pixels of the upright square-pixel frame."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int


class CounterReading(Record):
    """The counter in one frame.

    ``raw`` is what the frame alone said (``None``: no reading); ``distance_m`` is
    what time decided, in metres of *counter*, not station. ``confidence`` is the
    probability that ``distance_m`` is what a person would read. ``note`` says
    misread, reset, held.
    """

    time_s: float
    raw: str | None = None
    distance_m: float | None = None
    confidence: float
    note: str = ""


class CounterReset(Record):
    """The counter jumped and went on from a new value."""

    time_s: float
    before_m: float
    after_m: float


class CounterTrack(Record):
    """All that was read of the counter in one film."""

    box: CounterBox | None = None
    unit: LengthUnit | None = None
    unit_because: str = ""
    resolution_m: float | None = None
    readings: tuple[CounterReading, ...] = ()
    resets: tuple[CounterReset, ...] = ()
    misreads: int = 0
    unread_because: str | None = None


class RollSample(Record):
    """Rotation of the picture against true up, degrees clockwise as seen on the screen.

    Roll +90 means that the pipe's soffit (12 o'clock) shows at the right of the screen.
    """

    time_s: float
    roll_deg: Estimate


class WaterState(StrEnum):
    """Water as seen."""

    FLOWING = "flowing"
    STANDING = "standing"
    UNKNOWN = "unknown"


class WaterSample(Record):
    """Depth of water as a share of the pipe's diameter (0 dry, 1 full)."""

    time_s: float
    depth_share: Estimate
    state: WaterState = WaterState.UNKNOWN


class MotionKind(StrEnum):
    """What the camera does."""

    ADVANCING = "advancing"
    HOLDING = "holding"
    BACKING = "backing"
    TURNING_HEAD = "turning_head"
    UNKNOWN = "unknown"


class MotionStretch(Record):
    """A stretch of time with one kind of motion; speed in pipe diameters and metres a second."""

    start_s: float
    end_s: float
    kind: MotionKind
    speed_diameters_s: Estimate | None = None
    speed_m_s: Estimate | None = None
    too_fast_to_judge: bool = False


class JointPassage(Record):
    """A joint ring passed the lens at this time; ``forwards`` false while backing up."""

    time_s: float
    strength: float
    forwards: bool = True


class ViewState(StrEnum):
    """Whether a stretch can be judged, and why not."""

    CLEAR = "clear"
    DARK = "dark"
    FOULED = "fouled"
    FOGGED = "fogged"
    UNDER_WATER = "under_water"
    GLARE = "glare"
    OFF_AXIS = "off_axis"
    TOO_FAST = "too_fast"


class ViewStretch(Record):
    """A stretch of time with one view state."""

    start_s: float
    end_s: float
    state: ViewState


class Candidate(Record):
    """A place that looks unlike the clean wall around it: for a reviewer, not a finding.

    ``screen_clock_deg`` is degrees clockwise from the top of the screen;
    ``clock_deg`` the same in the pipe, ``None`` where roll is unknown.
    """

    time_s: float
    end_s: float
    look: str
    """dark_hole, fine_texture, ring_step, bright_patch: what it looks like, no class."""
    screen_clock_deg: float | None = None
    clock_deg: float | None = None
    strength: float


class SightTrack(Record):
    """All readings of one film, in time order."""

    run_id: str
    film: FilmFacts
    counter: CounterTrack
    self_levelling: bool | None = None
    roll: tuple[RollSample, ...] = ()
    water: tuple[WaterSample, ...] = ()
    motion: tuple[MotionStretch, ...] = ()
    joints: tuple[JointPassage, ...] = ()
    view: tuple[ViewStretch, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    sharpness: tuple[tuple[float, float], ...] = ()
    """(time_s, sharpness) of each sampled frame, to pick stills from."""
    notes: tuple[str, ...] = ()

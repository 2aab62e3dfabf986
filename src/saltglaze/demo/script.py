"""What a pipe film shows: a frozen script that the renderer and the truth both read."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.laws import BedLaw, CounterLaw, KnotLaw, Times, WaterLaw
from saltglaze.model.run import LengthUnit
from saltglaze.model.track import ViewState


class Look(StrEnum):
    """How a pipe wall looks."""

    CLAY = "clay"
    CAST_IRON = "cast_iron"
    PVC = "pvc"
    CONCRETE = "concrete"


class Defect(StrEnum):
    """What can be put on the wall."""

    FINE_ROOTS = "fine_roots"
    ROOT_MASS = "root_mass"
    TAP_ROOT = "tap_root"
    CRACK = "crack"
    FRACTURE = "fracture"
    HOLE = "hole"
    OFFSET_JOINT = "offset_joint"
    OPEN_JOINT = "open_joint"
    TAP = "tap"
    DEPOSITS = "deposits"
    GREASE = "grease"
    CHIPPED = "chipped"
    CLEAN_OUT = "clean_out"


@dataclass(frozen=True)
class PipeSegment:
    """A stretch of one wall and bore, with joints every ``section_m`` (0: none)."""

    start_m: float
    end_m: float
    look: Look
    diameter_m: float
    section_m: float = 0.0
    section_sd_m: float = 0.0
    tint: float = 0.0
    """-1 darker and browner .. +1 paler, within the look."""


@dataclass(frozen=True)
class WallDefect:
    """Something at a station and clock angle (degrees clockwise from 12, in the pipe).

    ``extent_deg`` is the arc it takes, ``length_m`` its length along the pipe from
    ``station_m`` on (cracks, deposits), ``strength`` 0..1 how marked it is. For an
    offset joint ``size_m`` is the step and ``clock_deg`` the way the far pipe moved.
    """

    kind: Defect
    station_m: float
    clock_deg: float = 0.0
    extent_deg: float = 30.0
    length_m: float = 0.05
    size_m: float = 0.0
    strength: float = 1.0
    id: str = ""


@dataclass(frozen=True)
class Bend:
    """A bend: the pipe turns by ``angle_deg`` over ``length_m`` towards ``clock_deg``."""

    start_m: float
    length_m: float
    angle_deg: float
    clock_deg: float


@dataclass(frozen=True)
class ViewEvent:
    """A stretch of film with a spoilt view. ``strength`` 0..1."""

    state: ViewState
    start_s: float
    end_s: float
    strength: float = 1.0


class Corner(StrEnum):
    """Where a line of text stands."""

    TOP_LEFT = "top_left"
    TOP_RIGHT = "top_right"
    BOTTOM_LEFT = "bottom_left"
    BOTTOM_RIGHT = "bottom_right"
    TOP = "top"
    BOTTOM = "bottom"


class TextStyle(StrEnum):
    """How text is set off from the picture."""

    PLAIN = "plain"
    OUTLINED = "outlined"
    BOXED = "boxed"
    SHADOWED = "shadowed"


@dataclass(frozen=True)
class Label:
    """A line of other text: ``{clock}`` is replaced by the time of day."""

    text: str
    corner: Corner
    line: int = 0


@dataclass(frozen=True)
class Overlay:
    """The burned-in counter and the text around it. ``size_px`` is the digits' height."""

    font: str = "mono"
    size_px: int = 26
    colour: tuple[int, int, int] = (255, 255, 255)
    ground: tuple[int, int, int] = (0, 0, 0)
    style: TextStyle = TextStyle.OUTLINED
    corner: Corner = Corner.BOTTOM_RIGHT
    margin_px: int = 24
    unit: LengthUnit = LengthUnit.FEET
    decimals: int = 1
    digits: int = 0
    """Digits before the point, filled with zeros; 0 for none."""
    unit_text: str = "ft"
    """As shown behind the number; may be empty, a quote mark, or capital."""
    space_before_unit: bool = True
    sign: bool = False
    """Whether a plus sign is shown."""
    prefix: str = ""
    labels: tuple[Label, ...] = ()
    shown: bool = True

    def text(self, counter_m: float) -> str:
        """Return the counter as shown for ``counter_m`` metres of counter."""
        value = counter_m / 0.3048 if self.unit is LengthUnit.FEET else counter_m
        rounded = round(value, self.decimals) + 0.0
        mark = "-" if rounded < 0 else ("+" if self.sign else "")
        width = self.digits + (self.decimals + 1 if self.decimals else 0)
        number = f"{abs(rounded):0{width}.{self.decimals}f}"
        gap = " " if self.unit_text and self.space_before_unit else ""
        return f"{self.prefix}{mark}{number}{gap}{self.unit_text}"

    def shown_m(self, counter_m: float) -> float:
        """Return the shown value (after display rounding) in metres of counter."""
        per = 0.3048 if self.unit is LengthUnit.FEET else 1.0
        return (round(counter_m / per, self.decimals) + 0.0) * per


@dataclass(frozen=True)
class Recorder:
    """The look of an analogue recorder; all zero is a clean digital one."""

    chroma_shift_px: float = 0.0
    ghost: float = 0.0
    bleed_px: float = 0.0
    interlaced: bool = False
    line_noise: float = 0.0
    dropouts_per_s: float = 0.0


@dataclass(frozen=True)
class Picture:
    """Lens, light, noise and compression."""

    focal_share: float = 0.5
    """Focal length over the picture's width (0.5: 90 degrees across)."""
    light: float = 1.0
    reach_diameters: float = 6.0
    """Distance at which the light has fallen to about a third."""
    vignette: float = 0.35
    noise: float = 3.0
    blur_px: float = 0.0
    motion_blur: bool = True
    warmth: float = 0.0
    """-1 bluish .. +1 reddish light."""


@dataclass(frozen=True)
class FilmScript:
    """Everything a pipe film shows and the truth behind it. Station 0 is the start access."""

    duration_s: float
    station: KnotLaw
    segments: tuple[PipeSegment, ...]
    fps: float = 25.0
    width_px: int = 1280
    height_px: int = 720
    stored_width_px: int | None = None
    """Width in the file where a recorder squeezes the picture (720 for 768 x 576 seen)."""
    seed: int = 1
    roll_deg: KnotLaw = field(default_factory=lambda: KnotLaw.constant(0.0))
    yaw_deg: KnotLaw = field(default_factory=lambda: KnotLaw.constant(0.0))
    """Head turned to the right of the screen, degrees."""
    pitch_deg: KnotLaw = field(default_factory=lambda: KnotLaw.constant(0.0))
    """Head turned to the top of the screen, degrees."""
    lens_height_m: float | None = None
    """Lens above the invert; ``None`` keeps it on the axis."""
    lens_side_m: float = 0.0
    water: WaterLaw = field(default_factory=WaterLaw)
    bed: BedLaw = field(default_factory=BedLaw)
    defects: tuple[WallDefect, ...] = ()
    bends: tuple[Bend, ...] = ()
    counter: CounterLaw = field(default_factory=CounterLaw)
    overlay: Overlay = Overlay()
    recorder: Recorder = Recorder()
    ends_in_main: bool = False
    """Whether the last segment opens into a main, whose far wall is seen across it."""
    picture: Picture = Picture()
    events: tuple[ViewEvent, ...] = ()
    bitrate: int = 2_500_000
    started: str = "10:12:00"
    """Time of day at which the film starts, for overlays."""

    @property
    def frame_times_s(self) -> NDArray[np.float64]:
        """Presentation times of all frames."""
        return np.arange(round(self.duration_s * self.fps)) / self.fps

    def segment_at(self, station_m: float) -> PipeSegment:
        """Return the segment a station lies in (the nearest one outside all)."""
        for segment in self.segments:
            if station_m < segment.end_m:
                return segment
        return self.segments[-1]

    def water_share_at(self, stations_m: Times) -> NDArray[np.float64]:
        """Return the depth of water over the diameter where it stands above the bed, else 0."""
        share = self.water.share_at(stations_m)
        return np.where(share > self.bed.share_at(stations_m), share, 0.0)

    def lens_offset_m(self, station_m: float) -> tuple[float, float]:
        """Return the lens's place in the bore, metres right of and above the axis."""
        if self.lens_height_m is None:
            return (self.lens_side_m, 0.0)
        radius = self.segment_at(station_m).diameter_m / 2
        return (self.lens_side_m, min(self.lens_height_m, 1.9 * radius) - radius)


def joint_stations(script: FilmScript) -> tuple[float, ...]:
    """Return the stations of all joints, segment by segment, with their laying jitter.

    A segment boundary is a joint too. The jitter is drawn from the script's seed.
    """
    draw = np.random.default_rng([script.seed, 77])
    stations: list[float] = []
    for number, segment in enumerate(script.segments):
        if number:
            stations.append(segment.start_m)
        if segment.section_m <= 0:
            continue
        at = segment.start_m + segment.section_m
        while at < segment.end_m - 0.25 * segment.section_m:
            stations.append(at)
            at += segment.section_m + float(draw.normal(0.0, segment.section_sd_m))
    return tuple(stations)

"""Film a script: one picture for each moment, with nothing in it that the truth does not know."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.bed import Bed, lay_bed, lay_tide
from saltglaze.demo.beyond import Beyond, look_beyond
from saltglaze.demo.lens import Pose, ScreenMap, screen_map
from saltglaze.demo.overlay import burn
from saltglaze.demo.recorder import DROPOUT_S, drop_out, dropout_times, recorded
from saltglaze.demo.roots import hanging_roots
from saltglaze.demo.rows import Rows
from saltglaze.demo.script import FilmScript
from saltglaze.demo.spoil import fogged, fouled_mask, glare_at, murk_lens
from saltglaze.demo.strip import light_at, light_on_wall, lit, pose_at, wall_strip
from saltglaze.demo.wall import COLUMNS, Wall, seamless
from saltglaze.demo.water import Surface, lay_water
from saltglaze.model.track import ViewState

Picture = NDArray[np.uint8]

ROLL_HOLD_DEG = 0.4
"""Roll changes below this reuse the look-up table: only the lens's offset lags, the wall
itself turns exactly."""
SHUTTER_S = 0.012
FLOW_M_S = 0.35
"""Speed of the ripple on running water (invented)."""
MURK_RGB = (74.0, 62.0, 40.0)


def render(script: FilmScript) -> Iterator[tuple[float, Picture]]:
    """Yield ``(time_s, picture)`` for each frame; pictures are (height, width, 3) uint8 RGB."""
    renderer = Renderer(script)
    for time_s in script.frame_times_s:
        picture = renderer.picture(float(time_s))
        if script.recorder.interlaced:  # the second field is half a frame later
            picture[1::2] = renderer.picture(float(time_s) + 0.5 / script.fps)[1::2]
        yield float(time_s), picture


@dataclass
class Renderer:
    """Renders moments of a script. Exposure follows the scene when moments come in order."""

    script: FilmScript
    _map: ScreenMap | None = field(default=None, init=False)
    _rows: Rows | None = field(default=None, init=False)
    _light: NDArray[np.float32] | None = field(default=None, init=False)
    _gain: float | None = field(default=None, init=False)
    _last_s: float = field(default=0.0, init=False)

    def __post_init__(self) -> None:
        script = self.script
        self.wall = Wall(script)
        draw = np.random.default_rng([script.seed, 21])
        self._ripple = seamless(draw, 512, 512, 1.3)
        shape = (script.height_px + 64, script.width_px + 64)
        self._grain = [
            _noise(draw, shape, script.picture.noise)
            for _ in range(4 if script.picture.noise else 0)
        ]
        self._vignette = _vignette(script)
        self._hanging = hanging_roots(script)
        self._foul = fouled_mask(script)
        self._dropouts = dropout_times(script.recorder, script.duration_s, script.seed)

    def picture(self, time_s: float) -> Picture:
        """Return the picture at a time, (height, width, 3) uint8 RGB."""
        script = self.script
        draw = np.random.default_rng([script.seed, 31, round(time_s * 1000)])
        pose = pose_at(script, time_s)
        strip = self._strip(pose, time_s)
        picture = self._projected(strip, pose)
        picture = self._lensed(picture, time_s, draw)
        if script.overlay.shown or script.overlay.labels:
            burn(picture, script, float(script.counter.at(time_s, script.station)), time_s)
        picture = recorded(picture, script.recorder, draw)
        if np.any((self._dropouts <= time_s) & (time_s < self._dropouts + DROPOUT_S)):
            drop_out(picture, 1.0, draw)
        return picture

    def _strip(self, pose: Pose, time_s: float) -> Picture:
        script = self.script
        station = float(script.station.at(time_s))
        speed = abs(float(script.station.rate_at(time_s)))
        travel = speed * SHUTTER_S if script.picture.motion_blur else 0.0
        rows, light = self._viewed(pose)
        beyond = look_beyond(script, station, pose, rows)
        bare = wall_strip(self.wall, station, rows, travel, beyond)
        if beyond is not None:
            light = _light_beyond(light, beyond, pose, script.picture.reach_diameters)
        light = self._spoilt_light(light, time_s)
        gain = self._exposed(bare, light, rows, time_s)
        warm = script.picture.warmth
        tone = (gain * (1 + 0.18 * warm), gain, gain * (1 - 0.22 * warm))
        strip = lay_tide(lit(bare, light, tone), script.bed)
        stations = station + rows.ahead_m
        bed_share = self._in_the_line(script.bed.share_at(stations), stations)
        bed = Bed(
            script.bed, bed_share, station, self._ripple, script.picture.reach_diameters, gain
        )
        strip = lay_bed(strip, pose, rows, bed)
        for hanging in self._hanging:
            hanging.draw(strip, rows, station, pose.radius_m, gain, script.picture.reach_diameters)
        if float(script.water.share_at(station)) * 2 * pose.radius_m > pose.up_m + pose.radius_m:
            return murk_lens(strip, rows, MURK_RGB, gain)
        still = bool(script.water.stands_at(station + 2 * pose.radius_m))
        surface = Surface(
            share=self._in_the_line(script.water_share_at(stations), stations),
            ripple=0.0 if still else 1.0,
            phase_m=station - (0.0 if still else FLOW_M_S * time_s),
            grain=self._ripple,
            murk_rgb=MURK_RGB,
        )
        glow = light.mean(axis=1, keepdims=True) * np.float32(gain)
        return lay_water(strip, pose, rows, surface, glow)

    def _in_the_line(
        self, share: NDArray[np.float64], stations_m: NDArray[np.float32]
    ) -> NDArray[np.float32]:
        """Return shares with nothing beyond the line's end."""
        return np.where(stations_m < self.script.segments[-1].end_m, share, 0.0).astype(np.float32)

    def _viewed(self, pose: Pose) -> tuple[Rows, NDArray[np.float32]]:
        """Return rows and light for a pose, renewing the look-up table where it moved."""
        held = self._map
        if held is None or self._rows is None or self._light is None or _moved(held.pose, pose):
            script = self.script
            focal = script.picture.focal_share * script.width_px
            self._map = screen_map(pose, script.width_px, script.height_px, focal)
            straight = pose.yaw_deg == 0 and pose.pitch_deg == 0
            count = min(int(self._map.inverse_z_max * pose.radius_m * focal * 0.6) + 8, 1600)
            self._rows = Rows.covering(self._map.inverse_z_max, max(count, 64 if straight else 128))
            self._light = light_on_wall(pose, self._rows, script.picture.reach_diameters)
        return self._rows, self._light

    def _exposed(
        self, bare: Picture, light: NDArray[np.float32], rows: Rows, time_s: float
    ) -> float:
        """Return the exposure's gain: a camera that aims at a middling picture, with a lag."""
        near = slice(len(bare) // 4, None)
        seen = float(bare[near, ::32].mean()) * float(light[near].mean())
        wanted = float(np.clip(95.0 / max(seen, 1.0), 0.4, 3.0)) ** 0.8
        if self._gain is None or time_s < self._last_s or time_s - self._last_s > 1.0:
            self._gain = wanted
        else:
            self._gain += (wanted - self._gain) * min((time_s - self._last_s) * 2.5, 1.0)
        self._last_s = time_s
        return self._gain * self.script.picture.light

    def _projected(self, strip: Picture, pose: Pose) -> Picture:
        """Look every pixel up on the strip, turned by the roll: whole columns, then the rest."""
        if self._map is None or self._rows is None:
            raise RuntimeError("the strip comes before the projection")
        per_radian = np.float32(COLUMNS / (2 * np.pi))
        shift = float(-np.deg2rad(pose.roll_deg) % (2 * np.pi)) * float(per_radian)
        whole = int(shift)
        turned = np.concatenate(
            [strip[:, whole - 1 :], strip[:, : whole + 2]]
            if whole
            else [strip[:, -1:], strip, strip[:, :2]],
            axis=1,
        )
        # One column of margin on the left.
        columns = self._map.angle_rad * per_radian + np.float32(shift - whole + 1.0)
        down = self._map.inverse_z * np.float32(1.0 / self._rows.inverse_step)
        return np.asarray(cv2.remap(turned, columns, down, cv2.INTER_LINEAR))

    def _spoilt_light(self, light: NDArray[np.float32], time_s: float) -> NDArray[np.float32]:
        for event in self.script.events:
            if event.state is ViewState.DARK and event.start_s <= time_s < event.end_s:
                return light * np.float32(1.0 - 0.97 * event.strength)
        return light

    def _lensed(self, picture: Picture, time_s: float, draw: np.random.Generator) -> Picture:
        """Add what lens, lamps and sensor do: spoilt views, vignette, blur, noise."""
        script = self.script
        for event in script.events:
            if event.start_s <= time_s < event.end_s:
                if event.state is ViewState.FOGGED:
                    picture = fogged(picture, event.strength)
                elif event.state is ViewState.FOULED:
                    picture = self._foul.over(picture, event.strength)
                elif event.state is ViewState.GLARE:
                    picture = glare_at(picture, event.strength, time_s)
        if self._vignette is not None:
            picture = np.asarray(cv2.multiply(picture, self._vignette, scale=1 / 255.0))
        if script.picture.blur_px > 0:
            picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), script.picture.blur_px))
        if self._grain:
            grain = self._grain[int(draw.integers(len(self._grain)))]
            r, c = (int(v) for v in draw.integers(0, 64, 2))
            part = grain[r : r + script.height_px, c : c + script.width_px]
            picture = np.asarray(cv2.add(picture, part, dtype=cv2.CV_8U))
        return picture


def _moved(held: Pose, pose: Pose) -> bool:
    """Whether a pose needs a new look-up table; the roll alone seldom does."""
    centred = pose.right_m == 0 and pose.up_m == 0 and pose.yaw_deg == 0 and pose.pitch_deg == 0
    if replace(held, roll_deg=0.0) != replace(pose, roll_deg=0.0):
        return True
    return not centred and abs(held.roll_deg - pose.roll_deg) > ROLL_HOLD_DEG


def _light_beyond(
    light: NDArray[np.float32], beyond: Beyond, pose: Pose, reach_diameters: float
) -> NDArray[np.float32]:
    """Return the light with the far rows lit by where they really look to."""
    far = beyond.ahead_m.shape[0]
    narrow = cv2.resize(beyond.ahead_m, (light.shape[1], far), interpolation=cv2.INTER_AREA)
    lit_far = light.copy()
    lit_far[:far] = light_at(narrow, pose.radius_m, reach_diameters)
    return lit_far


def _noise(draw: np.random.Generator, shape: tuple[int, int], sd: float) -> NDArray[np.int16]:
    """Return sensor noise, mostly alike in the three colours, (rows, columns, 3) int16."""
    shared = draw.normal(0, sd, (*shape, 1))
    own = draw.normal(0, 0.5 * sd, (*shape, 3))
    return np.asarray(np.round(shared + own), dtype=np.int16)


def _vignette(script: FilmScript) -> Picture | None:
    if script.picture.vignette <= 0:
        return None
    x = np.linspace(-1, 1, script.width_px, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, script.height_px, dtype=np.float32)[:, None]
    fall = 1.0 - script.picture.vignette * np.clip(x * x * 0.75 + y * y * 0.35, 0, 1) ** 1.3
    level = np.clip(fall * 255, 0, 255).astype(np.uint8)
    return np.ascontiguousarray(np.repeat(level[..., None], 3, axis=2))

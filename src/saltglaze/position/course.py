"""The centreline as a course: heading against station, integrated to a plan position.

Bearings are clockwise from north, so the unit step is (sin, cos) in (east, north). The
heading is constant between *jumps*: small ones on a regular grid, which let the pipe
wander as its material allows, and bends. The course is hung on a reference station in
the middle of the evidence and integrated both ways from there.

A jump ``b`` at station ``u`` turns all that lies beyond it about the point ``p(u)``, so
``dp(s)/db = perp(p(s) - p(u))`` with ``perp(e, n) = (n, -e)``; a jump moved along the
line shifts what lies beyond by the difference of the headings before and after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from saltglaze.position.adjust import Floats, Ints


@dataclass(frozen=True)
class Course:
    """A course: reference point and heading, and heading jumps by station (ascending)."""

    reference_m: float
    point: Floats
    """(2,) east, north at the reference."""
    heading: float
    """Bearing just beyond the reference, radians."""
    jump_m: Floats
    jump: Floats

    @cached_property
    def headings(self) -> Floats:
        """Heading of each piece, (jumps + 1,): before the first jump, between, after the last."""
        total = np.concatenate([[0.0], np.cumsum(self.jump)])
        at = int(np.searchsorted(self.jump_m, self.reference_m, "right"))
        return np.asarray(self.heading + total - total[at])

    @cached_property
    def joints(self) -> Floats:
        """Plan positions of the jumps, (jumps, 2)."""
        step = _unit(self.headings)
        at = int(np.searchsorted(self.jump_m, self.reference_m, "right"))
        length = np.diff(self.jump_m)
        inner = np.concatenate([np.zeros((1, 2)), np.cumsum(length[:, None] * step[1:-1], axis=0)])
        if self.jump_m.size == 0:
            return np.zeros((0, 2))
        if at == 0:
            shift = self.point + (self.jump_m[0] - self.reference_m) * step[0]
            return np.asarray(inner + shift)
        shift = self.point - (self.reference_m - self.jump_m[at - 1]) * step[at]
        return np.asarray(inner - inner[at - 1] + shift)

    def at(self, stations: Floats) -> tuple[Floats, Floats]:
        """Plan positions and unit directions at stations, each (count, 2)."""
        piece = np.searchsorted(self.jump_m, stations, "right")
        step = _unit(self.headings)[piece]
        if self.jump_m.size == 0:
            return self.point + (stations - self.reference_m)[:, None] * step, step
        joints = self.joints
        base = np.maximum(piece - 1, 0)
        away = stations - self.jump_m[base]
        return joints[base] + away[:, None] * step, step

    def beyond(self, stations: Floats, jump_m: Floats) -> Floats:
        """How a jump reaches a station, (stations, jumps).

        +1 where the jump lies between the reference and a station ahead of it, -1 where
        it lies between the reference and a station behind it, else 0.
        """
        ahead = (jump_m[None, :] >= self.reference_m) & (stations[:, None] > jump_m[None, :])
        behind = (jump_m[None, :] < self.reference_m) & (stations[:, None] < jump_m[None, :])
        return np.asarray(ahead.astype(float) - behind.astype(float))

    def by_jump(self, stations: Floats, positions: Floats) -> Floats:
        """Derivative of positions to the jumps, (count, 2, jumps)."""
        arm = positions[:, None, :] - self.joints[None, :, :]
        reach = self.beyond(stations, self.jump_m)
        return np.stack([reach * arm[:, :, 1], -reach * arm[:, :, 0]], axis=1)

    def by_jump_station(self, stations: Floats, which: Ints) -> Floats:
        """Derivative of positions to the stations of chosen jumps, (count, 2, chosen)."""
        step = _unit(self.headings)
        change = step[which] - step[which + 1]
        reach = self.beyond(stations, self.jump_m[which])
        return np.asarray(reach[:, None, :] * change.T[None, :, :])

    def by_heading(self, positions: Floats) -> Floats:
        """Derivative of positions to the reference heading, (count, 2)."""
        arm = positions - self.point
        return np.column_stack([arm[:, 1], -arm[:, 0]])


def _unit(heading: Floats) -> Floats:
    return np.column_stack([np.sin(heading), np.cos(heading)])

"""Station of the lens against time: one robust estimate over a whole run.

Unknowns at knots in time (about one a second): the station ``s`` of the lens and the
slip ``z`` of the counter, with the counter's scale ``k`` shared by the whole run. A
counter value ``c`` (continued across resets) at time ``t`` says

    s(t) = start + sign * (k * c + z(t)) + reading error.

``z`` starts at the zero error and wanders with the square root of the length run;
``s`` wanders with time unless the picture stands still. Spoken distances are counter
values with a heavier error; known stations bear on ``s`` directly; a joint passed twice
or a section of known length ties two moments together. All rows are solved at once by
:func:`saltglaze.position.adjust.adjust`; cost is linear in frames.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import median_filter

from saltglaze.model.track import MotionKind
from saltglaze.position import priors
from saltglaze.position.adjust import Adjustment, EquationBook, Floats, Ints, adjust
from saltglaze.position.evidence import CounterSays, KnownStation, RunEvidence

KNOT_S = 1.0
MOST_KNOTS = 4000
MEDIAN_READINGS = 9
BORDER_TIE_M = 1e-3
NEAR_ZERO_M = 2.0
"""A counter that starts within this of zero is taken, at first, as zeroed off the mark
rather than as a film that starts late."""


@dataclass(frozen=True)
class Link:
    """Two moments tied by a length along the line.

    ``s(late) - s(early) = sign * sections * (laying length of the stretch)``; with no
    sections the two moments are at the same place.
    """

    early_s: float
    late_s: float
    sd_m: float
    out_share: float
    out_sd_m: float
    sections: int = 0
    stretch: int = 0


@dataclass(frozen=True)
class Laying:
    """The laying length of the sections over a stretch, joint to joint, before the run.

    ``told`` is false where only the joints themselves tell it, in counter's metres.
    """

    length_m: float
    sd_m: float
    told: bool


@dataclass(frozen=True)
class Knots:
    """Moments at which station and slip are estimated."""

    time_s: Floats

    def span(self, times: Floats) -> tuple[Ints, Floats]:
        """Index of the knot before each time, and how far on to the next (0..1)."""
        inside = np.clip(times, self.time_s[0], self.time_s[-1])
        index = np.clip(np.searchsorted(self.time_s, inside, "right") - 1, 0, self.count - 2)
        step = self.time_s[index + 1] - self.time_s[index]
        return index.astype(np.int64), (inside - self.time_s[index]) / step

    @property
    def count(self) -> int:
        """Number of knots."""
        return int(self.time_s.size)


@dataclass(frozen=True)
class RunStations:
    """The solved stationing of one run: stations at any moments, jointly."""

    evidence: RunEvidence
    knots: Knots
    solved: Adjustment
    counter_path_m: Floats
    """Counter at the knots, continued across resets, misreads taken out."""
    known: tuple[KnownStation, ...] = ()
    known_good: Floats = field(default_factory=lambda: np.zeros(0))
    """Probability that each known station is not a gross error."""
    misread_share: float = 0.0
    misspoken: int = 0
    links: tuple[Link, ...] = ()
    layings: tuple[Laying, ...] = ()

    @property
    def scale_at(self) -> int:
        """Where the counter's scale stands among the unknowns."""
        return 2 * self.knots.count

    def rows(self, times: Floats) -> Floats:
        """Linear combinations of the unknowns that give the station at moments."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        matrix = np.zeros((index.size, self.solved.unknowns.size))
        each = np.arange(index.size)
        matrix[each, 2 * index] = 1.0 - share
        matrix[each, 2 * index + 2] = share
        return matrix

    def at(self, times: Floats) -> Floats:
        """Stations at moments, metres."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        station = self.solved.unknowns[0 : 2 * self.knots.count : 2]
        return np.asarray(station[index] * (1.0 - share) + station[index + 1] * share)

    def sd(self, times: Floats) -> Floats:
        """Standard deviation of the station at moments."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        near = self.solved.chain_covariance
        variance = (
            (1.0 - share) ** 2 * near[0, 2 * index]
            + share**2 * near[0, 2 * index + 2]
            + 2.0 * share * (1.0 - share) * near[2, 2 * index]
        )
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def joint(self, times: Floats) -> tuple[Floats, Floats]:
        """Stations at moments and their full covariance."""
        rows = self.rows(times)
        return self.at(times), self.solved.covariance(rows)

    def counted(self) -> tuple[int, float, float]:
        """Sections counted whose length is told, their length, and the counter's for it."""
        sections, length, counter = 0, 0.0, 0.0
        for link in self.links:
            if link.sections and self.layings[link.stretch].told:
                ends = np.interp(
                    [link.early_s, link.late_s], self.knots.time_s, self.counter_path_m
                )
                sections += link.sections
                length += link.sections * self.layings[link.stretch].length_m
                counter += abs(float(ends[1] - ends[0]))
        return sections, length, counter

    def moment_of_counter(self, counter_m: float) -> float:
        """First moment at which the counter stood at a value (nearest where it never did)."""
        path = self.counter_path_m
        reached = np.flatnonzero(path >= counter_m - 0.02)
        if reached.size == 0:
            return float(self.knots.time_s[int(np.argmax(path))])
        first = int(reached[0])
        if first == 0 or path[first] <= path[first - 1]:
            return float(self.knots.time_s[first])
        share = (counter_m - path[first - 1]) / (path[first] - path[first - 1])
        step = self.knots.time_s[first] - self.knots.time_s[first - 1]
        return float(self.knots.time_s[first - 1] + np.clip(share, 0.0, 1.0) * step)


def solve_run(
    evidence: RunEvidence,
    links: tuple[Link, ...] = (),
    layings: tuple[Laying, ...] = (),
    known: tuple[KnownStation, ...] = (),
) -> RunStations:
    """Solve station against time for one run.

    ``known`` and ``links`` come on top of the evidence: landmarks recognised from a
    record, joints counted or passed twice; ``layings`` are the laying lengths, one for
    each stretch that links name.
    """
    knots = _knots(evidence)
    counter = continued(evidence.counter, evidence.resets)
    spoken = continued(evidence.spoken, evidence.resets)
    path = _guide(evidence, counter, spoken, knots)
    book = EquationBook(2 * knots.count + 1 + len(layings) + 2 * len(links))
    _add_movement(book, evidence, knots, path)
    _add_slip(book, evidence, knots, path)
    read = _add_counter(book, evidence, knots, counter, path)
    said = _add_counter(book, evidence, knots, spoken, path)
    told = (*evidence.known, *known)
    given = _add_known(book, knots, told)
    _add_links(book, evidence, knots, links, layings, path)
    start = _first_guess(book.unknowns, evidence, knots, path, links, layings)
    solved = adjust(book.close(), chain=2 * knots.count, band=3, start=start)
    return RunStations(
        evidence,
        knots,
        solved,
        path,
        told,
        solved.good[given],
        float(np.mean(solved.good[read] < 0.5)) if counter.time_s.size else 0.0,
        int(np.sum(solved.good[said] < 0.5)),
        links,
        layings,
    )


def continued(says: CounterSays, resets: tuple[tuple[float, float], ...]) -> CounterSays:
    """Continue counter values across resets, as though the counter had never jumped."""
    order = np.argsort(says.time_s, kind="stable")
    time, value = says.time_s[order], says.value_m[order].copy()
    for moment, jump in resets:
        value[time >= moment] += jump
    return CounterSays(time, value, says.sd_m[order], says.gross[order], says.gross_sd_m)


def _knots(evidence: RunEvidence) -> Knots:
    length = max(evidence.end_s - evidence.begin_s, 1.0)
    count = int(np.clip(np.ceil(length / KNOT_S) + 1, 3, MOST_KNOTS))
    return Knots(np.linspace(evidence.begin_s, evidence.begin_s + length, count))


def _guide(
    evidence: RunEvidence, counter: CounterSays, spoken: CounterSays, knots: Knots
) -> Floats:
    """The path that the wander is about: the counter, else the talk, else known stations."""
    if counter.time_s.size:
        return _counter_path(counter, knots)
    if spoken.time_s.size:
        return _counter_path(spoken, knots)
    told = sorted((one.time_s, one.station_m) for one in evidence.known)
    time, station = np.array(told).T
    guide = np.interp(knots.time_s, time, station) - evidence.start_m
    return np.asarray(evidence.sign * guide)


def _counter_path(counter: CounterSays, knots: Knots) -> Floats:
    """Counter at the knots, by a running median and linear interpolation."""
    if counter.time_s.size == 0:
        return np.zeros(knots.count)
    value = counter.value_m
    if value.size > MEDIAN_READINGS:
        value = median_filter(value, MEDIAN_READINGS, mode="nearest")
    return np.asarray(np.interp(knots.time_s, counter.time_s, value))


def _add_movement(book: EquationBook, evidence: RunEvidence, knots: Knots, path: Floats) -> None:
    """Start at the access; wander about the counter; stand still where the picture does.

    The wander is about ``scale * counter``, not about rest: a pull towards rest would
    shorten every run.
    """
    share, spread = priors.FILM_LATE_GROSS
    start_sd = evidence.start_sd_m
    book.add([[0]], 1.0, evidence.start_m, start_sd, share, np.hypot(spread, start_sd))
    step = np.diff(knots.time_s)
    rate = np.full(step.size, priors.WANDER_M2_PER_S)
    follows = np.diff(path)
    moved = np.zeros(step.size)
    middle = knots.time_s[:-1] + 0.5 * step
    for stretch in evidence.motion:
        inside = (middle >= stretch.start_s) & (middle <= stretch.end_s)
        if stretch.kind in (MotionKind.HOLDING, MotionKind.TURNING_HEAD):
            rate[inside], follows[inside] = priors.HOLD_M2_PER_S, 0.0
        elif stretch.speed_m_s is not None and stretch.speed_m_s.value is not None:
            way = -1.0 if stretch.kind is MotionKind.BACKING else 1.0
            moved[inside] = way * evidence.sign * abs(stretch.speed_m_s.value) * step[inside]
            follows[inside] = 0.0
    first = 2 * np.arange(step.size)
    scale = np.full(step.size, 2 * knots.count)
    book.add(
        np.column_stack([first, first + 2, scale]),
        np.column_stack([-np.ones(step.size), np.ones(step.size), -evidence.sign * follows]),
        moved,
        np.sqrt(rate * step),
    )


def _add_slip(book: EquationBook, evidence: RunEvidence, knots: Knots, path: Floats) -> None:
    """The counter's zero, scale and wandering slip."""
    share, spread = priors.COUNTER_ZERO_GROSS
    book.add([[1]], 1.0, 0.0, priors.COUNTER_ZERO_M, share, spread)
    book.add([[2 * knots.count]], 1.0, 1.0, priors.COUNTER_SCALE)
    run = np.abs(np.diff(path))
    variance = priors.SLIP_M_PER_SQRT_M**2 * run + 1e-8
    variance[_turns(path)] += priors.BUNCHING_M**2
    index, _ = knots.span(np.array([moment for moment, _ in evidence.resets]))
    variance[index] += priors.RESET_M**2
    share, spread = priors.SLIP_GROSS
    first = 2 * np.arange(run.size) + 1
    book.add(
        np.column_stack([first, first + 2]), [-1.0, 1.0], 0.0, np.sqrt(variance), share, spread
    )


def _turns(path: Floats) -> Ints:
    """Steps just after the counter turns round (by more than its own jitter)."""
    turns: list[int] = []
    way, extreme = 0, path[0]
    for index, value in enumerate(path):
        if (way >= 0 and value > extreme) or (way <= 0 and value < extreme):
            way = way or (1 if value > extreme else -1)
            extreme = value
        elif abs(value - extreme) > 0.1:
            turns.append(max(index - 1, 0))
            way, extreme = (-way if way else 0), value
    return np.array(turns, dtype=np.int64)


def _add_counter(
    book: EquationBook, evidence: RunEvidence, knots: Knots, says: CounterSays, path: Floats
) -> slice:
    """Counter values, ``s = start + sign * (k * path + z + (c - path))``.

    The scale multiplies the smoothed counter, not the single reading: with the reading's
    noise under the scale, least squares would shrink the scale to quieten the noise.
    """
    if says.time_s.size == 0:
        return slice(0, 0)
    smooth = np.interp(says.time_s, knots.time_s, path)
    index, share = knots.span(says.time_s)
    scale = np.full(index.size, 2 * knots.count)
    columns = np.column_stack([2 * index, 2 * index + 2, 2 * index + 1, 2 * index + 3, scale])
    slip = -evidence.sign
    factors = np.column_stack(
        [1.0 - share, share, slip * (1.0 - share), slip * share, slip * smooth]
    )
    value = evidence.start_m + evidence.sign * (says.value_m - smooth)
    return book.add(columns, factors, value, says.sd_m, says.gross, says.gross_sd_m)


def _add_known(book: EquationBook, knots: Knots, known: tuple[KnownStation, ...]) -> slice:
    if not known:
        return slice(0, 0)
    index, share = knots.span(np.array([one.time_s for one in known]))
    sd = np.array([one.sd_m for one in known])
    gross, spread = priors.KNOWN_GROSS
    return book.add(
        np.column_stack([2 * index, 2 * index + 2]),
        np.column_stack([1.0 - share, share]),
        np.array([one.station_m for one in known]),
        sd,
        gross,
        np.hypot(sd, spread),
    )


def _add_links(
    book: EquationBook,
    evidence: RunEvidence,
    knots: Knots,
    links: tuple[Link, ...],
    layings: tuple[Laying, ...],
    path: Floats,
) -> None:
    """Tie moments through border unknowns, so that the chain stays banded.

    Where the laying length is not told, sections only say that the gaps are alike: the
    row reads ``s(late) - s(early) - sign * (scale * gap + (n * laying - gap))`` with
    ``gap`` the counter's own, so that the scale cannot shrink to quieten the joints.
    """
    first = 2 * knots.count + 1
    for place, laying in enumerate(layings):
        book.add([[first + place]], 1.0, laying.length_m, laying.sd_m)
    if not links:
        return
    ends = np.array([(link.early_s, link.late_s) for link in links]).ravel()
    index, share = knots.span(ends)
    border = first + len(layings) + np.arange(ends.size)
    book.add(
        np.column_stack([2 * index, 2 * index + 2, border]),
        np.column_stack([1.0 - share, share, -np.ones(ends.size)]),
        0.0,
        BORDER_TIE_M,
    )
    gap = np.diff(np.interp(ends, knots.time_s, path).reshape(-1, 2), axis=1)[:, 0]
    for place, link in enumerate(links):
        early = int(border[2 * place])
        columns, factors, value = [early, early + 1], [-1.0, 1.0], 0.0
        if link.sections:
            columns.append(first + link.stretch)
            factors.append(-evidence.sign * link.sections)
        if link.sections and not layings[link.stretch].told:
            columns.append(first - 1)
            factors.append(-evidence.sign * gap[place])
            value = -evidence.sign * gap[place]
        book.add([columns], [factors], value, link.sd_m, link.out_share, link.out_sd_m)


def _first_guess(
    size: int,
    evidence: RunEvidence,
    knots: Knots,
    path: Floats,
    links: tuple[Link, ...],
    layings: tuple[Laying, ...],
) -> Floats:
    guess = np.zeros(size)
    guess[2 * knots.count] = 1.0
    for place, laying in enumerate(layings):
        guess[2 * knots.count + 1 + place] = laying.length_m
    zero = -path[0] if abs(path[0]) < NEAR_ZERO_M else 0.0
    guess[0 : 2 * knots.count : 2] = evidence.start_m + evidence.sign * (path + zero)
    guess[1 : 2 * knots.count : 2] = zero
    if links:
        ends = np.array([(link.early_s, link.late_s) for link in links]).ravel()
        index, share = knots.span(ends)
        at = guess[2 * index] * (1.0 - share) + guess[2 * index + 2] * share
        guess[2 * knots.count + 1 + len(layings) :] = at
    return guess

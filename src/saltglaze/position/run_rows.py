"""The observation rows of one run: what each piece of evidence says of stations.

Unknowns at knots in time (about one a second): the station ``s`` of the lens and the
slip ``z`` of the counter; for the whole run the counter's scale ``k`` and the station
``start`` it set out from; then laying lengths and the two ends of each link. A counter
value ``c`` (continued across resets) at time ``t`` says

    s(t) = start + sign * (k * c + z(t)) + reading error.

``z`` starts at the zero error and wanders with the square root of the length run; ``s``
wanders with time unless the picture stands still. Spoken distances are counter values
with a heavier error; known stations bear on ``s`` directly; a joint passed twice or
sections counted tie two moments together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from saltglaze.model.track import MotionKind
from saltglaze.position import priors
from saltglaze.position.adjust import EquationBook, Equations, Floats, Ints
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

    @property
    def scale_at(self) -> int:
        """Where the counter's scale stands among the unknowns."""
        return 2 * self.count

    @property
    def origin_at(self) -> int:
        """Where the station of the run's start stands among the unknowns."""
        return 2 * self.count + 1

    @property
    def first_free(self) -> int:
        """Where laying lengths, then the ends of links, begin among the unknowns."""
        return 2 * self.count + 2


@dataclass(frozen=True)
class RunProblem:
    """All rows of a run, where to start, and where its kinds of rows stand."""

    evidence: RunEvidence
    knots: Knots
    path: Floats
    """Counter at the knots, continued across resets, misreads taken out."""
    equations: Equations
    start: Floats
    slips: slice
    slip_m2: Floats
    """Variance of the plain slip of each step, without what turning round and resets hide."""
    read: slice
    said: slice
    given: slice
    known: tuple[KnownStation, ...]
    links: tuple[Link, ...]
    layings: tuple[Laying, ...]


def pose_run(
    evidence: RunEvidence,
    links: tuple[Link, ...] = (),
    layings: tuple[Laying, ...] = (),
    known: tuple[KnownStation, ...] = (),
) -> RunProblem:
    """Write down the rows of one run.

    ``known`` and ``links`` come on top of the evidence: landmarks recognised from a
    record, joints counted or passed twice; ``layings`` are the laying lengths, one for
    each stretch that links name.
    """
    knots = _knots(evidence)
    stale = stale_zero(evidence.counter, evidence.resets)
    counter = continued(evidence.counter, evidence.resets, stale)
    spoken = continued(evidence.spoken, evidence.resets, stale)
    path = _guide(evidence, counter, spoken, knots)
    ends = _ends(links)[0]
    book = EquationBook(knots.first_free + len(layings) + ends.size)
    _add_movement(book, evidence, knots, path)
    slips, slip_m2 = _add_slip(book, evidence, knots, path)
    read = _add_counter(book, evidence, knots, counter, path)
    said = _add_counter(book, evidence, knots, spoken, path)
    told = (*evidence.known, *known)
    given = _add_known(book, knots, told)
    _add_links(book, evidence, knots, links, layings, path)
    start = _first_guess(book.unknowns, evidence, knots, path, links, layings)
    return RunProblem(
        evidence=evidence,
        knots=knots,
        path=path,
        equations=book.close(),
        start=start,
        slips=slips,
        slip_m2=slip_m2,
        read=read,
        said=said,
        given=given,
        known=told,
        links=links,
        layings=layings,
    )


def continued(
    says: CounterSays, resets: tuple[tuple[float, float], ...], stale_m: float = 0.0
) -> CounterSays:
    """Continue counter values across resets, as though the counter had never jumped.

    ``stale_m`` is taken off all of them: see :func:`stale_zero`.
    """
    order = np.argsort(says.time_s, kind="stable")
    time, value = says.time_s[order], says.value_m[order] - stale_m
    for moment, jump in resets:
        value[time >= moment] += jump
    return CounterSays(time, value, says.sd_m[order], says.gross[order], says.gross_sd_m)


def stale_zero(says: CounterSays, resets: tuple[tuple[float, float], ...]) -> float:
    """Return the jumps up to the reset that zeroed the counter for this run.

    A film may begin with what the counter kept from a former run; the zero is then the
    one taken by the first reset to about nothing. A counter that begins near zero, or
    is never zeroed, keeps its own (0).
    """
    order = np.argsort(says.time_s, kind="stable")
    time, value = says.time_s[order], says.value_m[order]
    if not value.size or abs(np.median(value[:MEDIAN_READINGS])) < NEAR_ZERO_M:
        return 0.0
    jumped = 0.0
    for moment, jump in resets:
        jumped += jump
        after = value[time >= moment][:MEDIAN_READINGS]
        if after.size and abs(np.median(after)) < NEAR_ZERO_M:
            return jumped
    return 0.0


def _knots(evidence: RunEvidence) -> Knots:
    length = max(evidence.end_s - evidence.begin_s, 1.0)
    count = int(np.clip(np.ceil(length / KNOT_S) + 1, 3, MOST_KNOTS))
    return Knots(np.linspace(evidence.begin_s, evidence.begin_s + length, count))


def _called_out_path(spoken: CounterSays, knots: Knots) -> Floats:
    """Distances called out, single mis-hearings taken out by a running median of three."""
    value = spoken.value_m
    if value.size >= 3:
        value = median_filter(value, 3, mode="nearest")
    return np.asarray(np.interp(knots.time_s, spoken.time_s, value))


def _guide(
    evidence: RunEvidence, counter: CounterSays, spoken: CounterSays, knots: Knots
) -> Floats:
    """The path that the wander is about: the counter, else the talk, else known stations."""
    if counter.time_s.size:
        return _counter_path(counter, knots)
    if spoken.time_s.size:
        return _called_out_path(spoken, knots)
    told = sorted((one.time_s, one.station_m) for one in evidence.known)
    time, station = np.array(told).T
    guide = np.interp(knots.time_s, time, station) - evidence.start_m
    return np.asarray(evidence.sign * guide)


def _counter_path(counter: CounterSays, knots: Knots) -> Floats:
    """Counter at the knots, by a running median and linear interpolation."""
    if counter.time_s.size == 0:
        return np.zeros(knots.count)
    value = counter.value_m
    window = MEDIAN_READINGS if value.size > MEDIAN_READINGS else 3
    if value.size >= 3:
        value = median_filter(value, window, mode="nearest")
    return np.asarray(np.interp(knots.time_s, counter.time_s, value))


def _add_movement(book: EquationBook, evidence: RunEvidence, knots: Knots, path: Floats) -> None:
    """Start at the access; wander about the counter; stand still where the picture does.

    The wander is about ``scale * counter``, not about rest: a pull towards rest would
    shorten every run.
    """
    share, spread = priors.FILM_LATE_GROSS
    book.add([[knots.origin_at]], 1.0, evidence.start_m, evidence.start_sd_m)
    book.add([[0, knots.origin_at]], [1.0, -1.0], 0.0, priors.FILM_START_M, share, spread)
    step = np.diff(knots.time_s)
    follows = np.diff(path)
    moved = np.zeros(step.size)
    middle = knots.time_s[:-1] + 0.5 * step
    watched = _since_reading(evidence.counter, middle) < priors.UNREAD_S
    rate = np.where(watched, priors.WANDER_M2_PER_S, priors.BLIND_WANDER_M2_PER_S)
    for stretch in evidence.motion:
        inside = (middle >= stretch.start_s) & (middle <= stretch.end_s)
        if stretch.kind in (MotionKind.HOLDING, MotionKind.TURNING_HEAD):
            rate[inside], follows[inside] = priors.HOLD_M2_PER_S, 0.0
        elif stretch.speed_m_s is not None and stretch.speed_m_s.value is not None:
            way = -1.0 if stretch.kind is MotionKind.BACKING else 1.0
            moved[inside] = way * evidence.sign * abs(stretch.speed_m_s.value) * step[inside]
            follows[inside] = 0.0
    first = 2 * np.arange(step.size)
    scale = np.full(step.size, knots.scale_at)
    book.add(
        np.column_stack([first, first + 2, scale]),
        np.column_stack([-np.ones(step.size), np.ones(step.size), -evidence.sign * follows]),
        moved,
        np.sqrt(rate * step),
    )


def _since_reading(counter: CounterSays, times: Floats) -> Floats:
    """Seconds from moments to the nearest counter reading."""
    if counter.time_s.size == 0:
        return np.full(times.size, np.inf)
    read = np.sort(counter.time_s)
    after = np.clip(np.searchsorted(read, times), 0, read.size - 1)
    before = np.maximum(after - 1, 0)
    return np.asarray(np.minimum(np.abs(read[after] - times), np.abs(read[before] - times)))


def _add_slip(
    book: EquationBook, evidence: RunEvidence, knots: Knots, path: Floats
) -> tuple[slice, Floats]:
    """The counter's zero, scale and wandering slip."""
    share, spread = priors.COUNTER_ZERO_GROSS
    book.add([[1]], 1.0, 0.0, priors.COUNTER_ZERO_M, share, spread)
    book.add([[knots.scale_at]], 1.0, 1.0, priors.COUNTER_SCALE)
    run = np.abs(np.diff(path))
    plain = priors.SLIP_M_PER_SQRT_M**2 * run
    variance = plain + 1e-8
    variance[_turns(path)] += priors.BUNCHING_M**2
    index, _ = knots.span(np.array([moment for moment, _ in evidence.resets]))
    variance[index] += priors.RESET_M**2
    share, spread = priors.SLIP_GROSS
    first = 2 * np.arange(run.size) + 1
    where = book.add(
        np.column_stack([first, first + 2]), [-1.0, 1.0], 0.0, np.sqrt(variance), share, spread
    )
    return where, plain


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
    scale = np.full(index.size, knots.scale_at)
    origin = np.full(index.size, knots.origin_at)
    columns = np.column_stack(
        [2 * index, 2 * index + 2, 2 * index + 1, 2 * index + 3, scale, origin]
    )
    slip, one = -evidence.sign, np.ones(index.size)
    factors = np.column_stack(
        [1.0 - share, share, slip * (1.0 - share), slip * share, slip * smooth, -one]
    )
    value = evidence.sign * (says.value_m - smooth)
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
    first = knots.first_free
    for place, laying in enumerate(layings):
        book.add([[first + place]], 1.0, laying.length_m, laying.sd_m)
    if not links:
        return
    ends, which = _ends(links)
    index, share = knots.span(ends)
    border = first + len(layings) + np.arange(ends.size)
    book.add(
        np.column_stack([2 * index, 2 * index + 2, border]),
        np.column_stack([1.0 - share, share, -np.ones(ends.size)]),
        0.0,
        BORDER_TIE_M,
    )
    gap = np.diff(np.interp(ends, knots.time_s, path)[which], axis=1)[:, 0]
    for place, link in enumerate(links):
        columns, factors, value = border[which[place]].tolist(), [-1.0, 1.0], 0.0
        if link.sections:
            columns.append(first + link.stretch)
            factors.append(-evidence.sign * link.sections)
        if link.sections and not layings[link.stretch].told:
            columns.append(knots.scale_at)
            factors.append(-evidence.sign * gap[place])
            value = -evidence.sign * gap[place]
        book.add([columns], [factors], value, link.sd_m, link.out_share, link.out_sd_m)


def _ends(links: tuple[Link, ...]) -> tuple[Floats, Ints]:
    """Moments that links tie, each once, and which two of them each link ties."""
    every = np.array([(link.early_s, link.late_s) for link in links]).reshape(-1, 2)
    ends, which = np.unique(every, return_inverse=True)
    return ends, which.reshape(-1, 2).astype(np.int64)


def _first_guess(
    size: int,
    evidence: RunEvidence,
    knots: Knots,
    path: Floats,
    links: tuple[Link, ...],
    layings: tuple[Laying, ...],
) -> Floats:
    guess = np.zeros(size)
    guess[knots.scale_at], guess[knots.origin_at] = 1.0, evidence.start_m
    for place, laying in enumerate(layings):
        guess[knots.first_free + place] = laying.length_m
    zero = -path[0] if abs(path[0]) < NEAR_ZERO_M else 0.0
    guess[0 : 2 * knots.count : 2] = evidence.start_m + evidence.sign * (path + zero)
    guess[1 : 2 * knots.count : 2] = zero
    if links:
        index, share = knots.span(_ends(links)[0])
        at = guess[2 * index] * (1.0 - share) + guess[2 * index + 2] * share
        guess[knots.first_free + len(layings) :] = at
    return guess

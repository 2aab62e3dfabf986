"""How rare slips shape the error of a station: a narrow middle and long tails.

A counter's slip is no steady wander but now and then a jump (a wheel that skids, a cable
that springs): a compound Poisson process. Its variance, and so the standard deviation of a
station, is that of the random walk that the adjustment uses; but most stretches hold no
jump at all, so that errors lie nearer to nothing than the normal law of the same variance
says. An adjusted station's error is a sum ``sum_i g_i e_i`` over the rows' errors ``e_i``,
with ``g = N^-1 A' W`` its share in each; cumulants of sums of independent errors add, so

    excess = sum_i g_i^4 k4_i / var^2,   k4 = rate * E[J^4] = rate * 24 b^4

over the slip rows, for jumps ``J`` of mean size ``b`` either way (double exponential,
``E[J^2] = 2 b^2``, from memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from saltglaze.model.base import Z68
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.station import RunStations

MOST_MOMENTS: Final = 40
MOST_EXCESS: Final = 3.0
"""Excess of the double exponential law; beyond it the jumps are too few for cumulants."""
NARROWER: Final = (Z68 * np.sqrt(2.0) / np.log(1.0 / 0.32) - 1.0) / MOST_EXCESS
"""68 % of a law with this excess lie within ``Z68 / (1 + NARROWER * excess)`` sd: exact for
the normal (0) and the double exponential (3), whose half interval is ln(1 / 0.32) b."""


def half68(stations: RunStations, times: Floats, sd: Floats) -> Floats:
    """Return half the 68 % interval of the station at ascending moments, metres.

    ``sd`` is what is left once the ground has taught the run; the shape of the law is taken
    from the run alone.
    """
    if not times.size:
        return sd
    few = times[np.linspace(0, times.size - 1, min(times.size, MOST_MOMENTS)).astype(int)]
    excess = np.interp(times, few, np.minimum(_excess(stations, few), MOST_EXCESS))
    return np.asarray(sd * Z68 / (1.0 + NARROWER * excess))


def _excess(stations: RunStations, times: Floats) -> Floats:
    """Excess kurtosis of the station's error at moments."""
    problem, solved = stations.problem, stations.solved
    slips = problem.slips
    good = solved.good[slips]
    law = problem.equations
    weight = good / law.sd[slips] ** 2 + (1.0 - good) / law.out_sd[slips] ** 2
    reach = solved.factor.solve(np.ascontiguousarray(stations.rows(times).T))
    share = (law.matrix[slips] @ reach) * weight[:, None]
    # Of one step: rate * E[J^2] = slip_m2, so rate * E[J^4] = slip_m2 * 12 b^2.
    fourth = 12.0 * priors.SLIP_JUMP_M**2 * (problem.slip_m2 @ share**4)
    return np.asarray(fourth / np.maximum(stations.sd(times) ** 4, 1e-16))

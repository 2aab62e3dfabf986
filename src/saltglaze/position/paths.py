"""Fitted hypotheses as path records, sampled along the stations."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from saltglaze.model.appraisal import Path, PathPoint, SurfacePoint
from saltglaze.model.ground import PlanPoint
from saltglaze.position import priors
from saltglaze.position.anchors import record
from saltglaze.position.doubts import UNSAID
from saltglaze.position.hypotheses import Hypothesis
from saltglaze.position.keys import Keys
from saltglaze.position.plan import PlanFit

SAMPLE_M: Final = 0.5
LEAST_SAMPLES: Final = 3


def path(hypothesis: Hypothesis, name: str, length_m: float, because: str) -> Path:
    """Sample one hypothesis from station zero to the end of the line."""
    count = max(LEAST_SAMPLES, math.ceil(max(length_m, 0.0) / SAMPLE_M) + 1)
    stations = np.linspace(0.0, max(length_m, 0.0), count)
    positions, spread = hypothesis.fit.at(stations)
    return Path(
        name=name,
        weight=hypothesis.weight,
        points=tuple(
            PathPoint(
                station_m=float(station),
                point=PlanPoint(east_m=float(at[0]), north_m=float(at[1])),
                covariance=record(cov),
            )
            for station, at, cov in zip(stations, positions, spread, strict=True)
        ),
        because=because,
    )


def because(fit: PlanFit, best: PlanFit, names: Mapping[str, str]) -> str:
    """Say what sets a hypothesis apart from the likeliest.

    ``names`` is what each finding is called in a sentence, by id.
    """
    first, said = _said(best, names), []
    for name, word in _said(fit, names).items():
        if fit is best or first.get(name) != word:
            said.append(word)
    return "; ".join(said)


def _said(fit: PlanFit, names: Mapping[str, str]) -> dict[str, str]:
    """How each bend turns and which tie solution holds, in words."""
    said = {}
    for bend, way in zip(fit.problem.bends, fit.start.turns, strict=True):
        hand = "right" if way > 0.0 else "left"
        said[bend.finding_id] = f"{names.get(bend.finding_id, 'a bend')} turns {hand}"
        if bend.finding_id.startswith(UNSAID):
            said[bend.finding_id] = f"a bend to the {hand} that nobody mentioned"
    for anchor, choice in zip(fit.problem.anchors, fit.start.choice, strict=True):
        if len(anchor.points) > 1 and not anchor.weak:
            which = "second" if choice else "first"
            said[anchor.name] = f"{anchor.name} at its {which} tie solution"
    for anchor, good in zip(fit.problem.anchors, fit.good, strict=True):
        if good < 0.5:
            said[f"{anchor.name} aside"] = f"{anchor.name} left aside"
    return said


def with_misfits(
    surface: Sequence[SurfacePoint], best: PlanFit | None, keys: Keys
) -> tuple[SurfacePoint, ...]:
    """Surface points with their adjusted station, their misfit and whether they were used."""
    told = []
    for point in surface:
        found = None
        if best is not None:
            name = f"locate {point.locate_id}"
            found = next((i for i, a in enumerate(best.problem.anchors) if a.name == name), None)
        if best is None or found is None:
            told.append(point)
            continue
        told.append(_with_misfit(point, best, keys, found))
    return tuple(told)


def _with_misfit(point: SurfacePoint, best: PlanFit, keys: Keys, number: int) -> SurfacePoint:
    anchor = best.problem.anchors[number]
    positions, spread = best.at_keys([anchor.key])
    chosen = best.start.choice[number]
    miss = anchor.points[chosen] - positions[0]
    expected = anchor.covariances[chosen] + spread[0]
    ratio = math.sqrt(float(miss @ np.linalg.solve(expected, miss)) / 2.0)
    update: dict[str, object] = {
        "station_m": point.station_m.model_copy(
            update={
                "value": float(keys.mean_m[anchor.key]),
                "sd": float(keys.sd_m()[anchor.key]),
                "low95": None,
                "high95": None,
                "unknown_because": None,
            }
        ),
        "misfit_m": float(np.hypot(*miss)),
        "misfit_ratio": ratio,
        "used": bool(best.good[number] >= 0.5),
    }
    if chosen == 1 and point.mirror is not None:
        own = anchor.covariances[1] - np.eye(2) * priors.SONDE_SPOT_M**2
        update |= {"point": point.mirror, "mirror": point.point, "covariance": record(own)}
    return point.model_copy(update=update)

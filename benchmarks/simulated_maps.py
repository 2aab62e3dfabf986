"""Gives a simulated line a map: the house it leaves, the main it reaches, as drawn.

The house is a rectangle that holds the start or stands up to a metre from it; the main is a
straight line through the end, drawn up to its stated margin off it. One map in ten shows
another house, one in ten another main.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.ground import KnownMain, Parcel, ParcelKind, PlanPoint
from saltglaze.model.job import Job

Floats = NDArray[np.float64]

WRONG = 0.1
MAIN_SD_M = 1.0


def with_map(
    rng: np.random.Generator, job: Job, points: Floats, last_s: float
) -> tuple[Job, Finding]:
    """Return the job with outlines and main, and the finding that the run ends."""
    start, end = points[0], points[-1]
    house = start + (rng.normal(0.0, 20.0, 2) if rng.random() < WRONG else 0.0)
    across = end + (rng.normal(0.0, 20.0, 2) if rng.random() < WRONG else 0.0)
    run = job.runs[0].model_copy(update={"start_access": "basement clean-out"})
    charted = job.model_copy(
        update={
            "runs": (run,),
            "parcels": (_house(rng, house),),
            "mains": (_main(rng, across),),
        }
    )
    evidence = Evidence(drafted_by=DraftedBy.NARRATION, run_id=run.id)
    facts = Facts(feature=Feature.END)
    return charted, Finding(id="end", draft=facts, evidence=evidence, start_s=last_s)


def _house(rng: np.random.Generator, start: Floats) -> Parcel:
    size = rng.uniform(7.0, 14.0, 2)
    corner = start - rng.uniform(-1.0, size + 1.0)
    ring = corner + size * np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    return Parcel(
        id="house", kind=ParcelKind.BUILDING, ring=tuple(_point(one) for one in ring), sd_m=0.3
    )


def _main(rng: np.random.Generator, end: Floats) -> KnownMain:
    way = rng.uniform(0.0, 2.0 * np.pi)
    along, across = np.array([np.sin(way), np.cos(way)]), np.array([np.cos(way), -np.sin(way)])
    middle = end + along * rng.uniform(-25.0, 25.0) + across * rng.normal(0.0, MAIN_SD_M)
    ends = (middle - 30.0 * along, middle + 30.0 * along)
    return KnownMain(id="main", points=tuple(_point(one) for one in ends), sd_m=MAIN_SD_M)


def _point(at: Floats) -> PlanPoint:
    return PlanPoint(east_m=float(at[0]), north_m=float(at[1]))

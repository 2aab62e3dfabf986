"""How well the findings of two visits are told apart and together.

Made-up pairs of visits with slipping counters; prints the share of true pairs found,
and of pairs made that are wrong, by how far the counter slips. Run:
python benchmarks/visit_matching.py
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from saltglaze.condition.change import compare
from saltglaze.model.appraisal import AppraisedFinding, Code, FindingGrade, FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.job import History, PriorVisit

FEATURES = (Feature.ROOTS, Feature.CRACK, Feature.OPEN_JOINT, Feature.TAP, Feature.SAG)
FAULTS = 8
PAIRS = 400
CALL_SD_M = 0.15


def finding(name, station_m, feature):
    """Return a finding at a station."""
    return Finding(
        id=name,
        draft=Facts(feature=feature),
        evidence=Evidence(drafted_by=DraftedBy.TYPED),
        station_m=Estimate.of(station_m, 0.2),
    )


def appraised(name, station_m, feature):
    """Return the same as the main job would hand it on."""
    made = finding(name, station_m, feature)
    place = FindingPlace(finding_id=name, station_m=made.station_m)
    return AppraisedFinding(
        finding=made, place=place, code=Code(main=None), grade=FindingGrade(), plain=""
    )


def one_pair(rng, shift_sd_m, scale_sd):
    """Return (right, wrong, missed) pairs of one simulated pair of visits."""
    stations = np.cumsum(rng.uniform(1.2, 5.0, FAULTS))
    names = [FEATURES[int(i)] for i in rng.integers(0, len(FEATURES), FAULTS)]
    shift, scale = rng.normal(0.0, shift_sd_m), rng.normal(1.0, scale_sd)
    gone, new = (set(rng.choice(FAULTS, 2, replace=False)) for _ in range(2))
    kept = [i for i in range(FAULTS) if i not in new]
    seen = [i for i in range(FAULTS) if i not in gone]
    noise = rng.normal(0.0, CALL_SD_M, (2, FAULTS))
    before = [finding(f"{i}", float(stations[i] + noise[0, i]), names[i]) for i in kept]
    today = [
        appraised(f"{i}", float(shift + scale * stations[i] + noise[1, i]), names[i]) for i in seen
    ]
    visit = PriorVisit(date=dt.date(2025, 1, 1), findings=tuple(before))
    changes = compare(today, History(visits=(visit,)))
    pairs = {c.finding_id: c.prior_id for c in changes if c.finding_id and c.prior_id}
    truly = {str(i) for i in kept if i in seen}
    right = sum(pairs.get(name) == name for name in truly)
    wrong = sum(a != b for a, b in pairs.items())
    return right, wrong, len(truly) - right


def main():
    """Print the table."""
    print("shift sd m  scale sd  true pairs found  pairs wrong")
    for shift_sd_m, scale_sd in ((0.0, 0.0), (0.3, 0.01), (0.5, 0.02), (1.0, 0.03), (2.0, 0.05)):
        rng = np.random.default_rng(5)
        total = np.sum([one_pair(rng, shift_sd_m, scale_sd) for _ in range(PAIRS)], axis=0)
        right, wrong, missed = total
        found, false = right / (right + missed), wrong / (right + wrong)
        print(f"{shift_sd_m:10.1f} {scale_sd:9.2f} {found:17.3f} {false:12.3f}")


if __name__ == "__main__":
    main()

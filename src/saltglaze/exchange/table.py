"""The findings as one CSV table, for spreadsheets."""

from __future__ import annotations

import csv
import io

from saltglaze.exchange.layers import Value, finding_properties
from saltglaze.exchange.plain_text import cell, clean
from saltglaze.model.appraisal import Appraisal, AppraisedFinding
from saltglaze.position.frame import LocalFrame


def findings_csv(appraisal: Appraisal) -> str:
    """Return every finding, one row each, rejected ones marked; metres, hours, degrees."""
    frame = LocalFrame(appraisal.job.origin) if appraisal.job.origin else None
    rows = [_row(found, frame) for found in appraisal.findings]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        writer.writerow([_text(row.get(name)) for name in _COLUMNS])
    return out.getvalue()


_COLUMNS = (
    *("id", "feature", "kind", "certainty", "rejected", "run", "film_time_s", "film_end_s"),
    *(
        "station_m",
        "station_sd_m",
        "end_station_m",
        "end_station_sd_m",
        "clock_from_h",
        "clock_to_h",
        "clock_view",
        "other_view_from_h",
        "other_view_to_h",
        "all_round",
    ),
    *("east_m", "north_m", "sd_east_m", "sd_north_m", "lon_deg", "lat_deg"),
    *("depth_m", "depth_sd_m", "code", "structure", "service", "tightness", "owner", "plain"),
    *("unknown_because", "drafted_by", "words"),
)


def _row(found: AppraisedFinding, frame: LocalFrame | None) -> dict[str, Value]:
    finding, point = found.finding, found.place.point
    row: dict[str, Value] = {
        **finding_properties(found),
        "rejected": None if finding.stands else "yes",
        "run": finding.evidence.run_id,
        "film_time_s": finding.start_s,
        "film_end_s": finding.end_s,
        "drafted_by": finding.evidence.drafted_by.value,
        "words": " / ".join(finding.evidence.words) or None,
    }
    if point is not None:
        row |= {"east_m": round(point.east_m, 3), "north_m": round(point.north_m, 3)}
    if point is not None and frame is not None:
        lon, lat = frame.to_lonlat(point)
        row |= {"lon_deg": round(lon, 8), "lat_deg": round(lat, 8)}
    return row


def _text(value: Value) -> str:
    if value is None:
        return ""
    return cell(clean(value)) if isinstance(value, str) else f"{value:.12g}"

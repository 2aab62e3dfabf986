"""Dig sheets: one page for the crew at each place to dig."""

from __future__ import annotations

import math

from saltglaze.model.appraisal import Dig, LineSegment
from saltglaze.report.blocks import Block, Bullets, Facts, Figures, Note, Paper, Section, Table
from saltglaze.report.frame import Frame
from saltglaze.report.sheet.dig_plan import dig_plan
from saltglaze.report.sheet.plan import dig_letter

_SHORING_M = 1.524
"""Five feet: depth from which US law asks for a protected trench (29 CFR 1926.652(a)(1),
from memory); said as a reminder, never as clearance above it."""


def dig_sheets(frame: Frame) -> Paper | None:
    """Return the dig sheets, or ``None`` where nothing is to be dug."""
    digs = frame.appraisal.position.digs
    if not digs:
        return None
    words = frame.words
    sections = tuple(_dig(frame, dig, index) for index, dig in enumerate(digs))
    return Paper(
        language=words.language,
        title="",
        subtitle="",
        foot=frame.foot,
        size="dense",
        document_title=words("dig.document", site=frame.short_site),
        author=frame.appraisal.job.firm.name if frame.appraisal.job.firm else "",
        sections=sections,
    )


def _dig(frame: Frame, dig: Dig, index: int) -> Section:
    words, measures, job = frame.words, frame.measures, frame.appraisal.job
    finding = frame.by_id.get(dig.finding_id)
    name = frame.name(finding) if finding is not None else words("dig.spot")
    blocks: list[Block] = [*frame.invented]
    blocks.append(
        Note(
            words("dig.one_call", number=job.place.one_call), "caution", words("dig.one_call_title")
        )
    )
    plan = frame.drawing(dig_plan(frame.appraisal, dig, measures), f"dig{index}")
    blocks.append(Figures((plan,), caption=words("dig.key")))
    if dig.ties:
        head = (words("head.from_mark"), words("head.distance"))
        rows = tuple((t.mark_name, measures.tape(t.distance_m)) for t in dig.ties)
        blocks.append(Table(words("dig.tapes"), head, rows, numeric=(1,), widths=(3, 1)))
    blocks.append(Facts(tuple(_facts(frame, dig))))
    cautions = [words.sentence(c) for c in dig.cautions]
    cautions += _standing_cautions(frame, dig)
    blocks.append(Bullets(tuple(dict.fromkeys(cautions)), boxes=True))
    title = words("dig.title", letter=dig_letter(index), name=name, site=frame.short_site)
    return Section(f"dig-{index + 1}", title, tuple(blocks), new_page=index > 0)


def _facts(frame: Frame, dig: Dig) -> list[tuple[str, str]]:
    words, measures, job = frame.words, frame.measures, frame.appraisal.job
    finding = frame.by_id.get(dig.finding_id)
    e = dig.ellipse95
    across = [measures.bare_length(2 * v, 1) for v in (e.semi_major_m, e.semi_minor_m)]
    pairs = [
        (words("dig.ground"), dig.ground or words("number.unknown")),
        (words("dig.coordinates"), measures.lonlat(dig.point, job.origin)),
        (
            words("dig.local"),
            _from_zero(frame, dig),
        ),
        (
            words("dig.margin"),
            words(
                "dig.ellipse",
                long=across[0],
                short=across[1],
                bearing=round(e.bearing_deg) % 180,
            ),
        ),
        (words("dig.depth"), words.sentence(measures.depth(dig.depth_m))),
        (
            words("dig.trench"),
            words(
                "dig.trench_value",
                length=measures.at_least(dig.trench_length_m),
                bearing=str(round(dig.trench_bearing_deg) % 180),
            ),
        ),
    ]
    if finding is not None:
        plain = frame.plain_here(finding)
        pairs.append(
            (
                words("dig.find"),
                f"{words('dig.find_value', tagged=frame.tagged(dig.finding_id))} {plain}".strip(),
            )
        )
        pairs.append((words("dig.along"), words.sentence(frame.where(finding))))
        if segment := _segment(frame, finding.station_m):
            material = (
                words(f"material.{segment.material}")
                if segment.material
                else words("sheet.material_unknown")
            )
            pairs.append((words("dig.pipe"), f"{material}, {measures.bore(segment.diameter_m)}"))
    if job.line.soil:
        pairs.append((words("dig.soil"), words("dig.soil_class", soil=job.line.soil)))
    if dig.alternatives:
        far = max(
            math.dist((p.east_m, p.north_m), (dig.point.east_m, dig.point.north_m))
            for p in dig.alternatives
        )
        pairs.append(
            (words("dig.else"), words("dig.else_value", distance=measures.bare_length(far, 0)))
        )
    return pairs


def _from_zero(frame: Frame, dig: Dig) -> str:
    """Return the spot's place from the zero point that the job's tapes and files count from."""
    east, north = dig.point.east_m, dig.point.north_m
    sides = "_".join(s for s, back in (("south", north < 0), ("west", east < 0)) if back)
    return frame.words(
        f"dig.local_{sides or 'value'}",
        east=frame.measures.bare_length(abs(east), 1),
        north=frame.measures.bare_length(abs(north), 1),
    )


def _segment(frame: Frame, station_m: float | None) -> LineSegment | None:
    if station_m is None:
        return None
    for segment in frame.appraisal.segments:
        start, end = segment.start_m.value, segment.end_m.value
        if (start or 0.0) <= station_m and (end is None or station_m <= end):
            return segment
    return None


def _standing_cautions(frame: Frame, dig: Dig) -> list[str]:
    """Return what every crew must read: services near by, depth, soil, when to stop.

    Depth and soil are left to the record's own cautions where it has any.
    """
    words, measures = frame.words, frame.measures
    kinds = sorted({u.kind for u in frame.appraisal.job.utilities})
    utilities = (
        words("dig.utilities", kinds=words.listed(kinds)) if kinds else words("dig.no_utilities")
    )
    if dig.cautions:
        return [utilities, *_while_open(frame)]
    cautions = [utilities]
    high = dig.depth_m.interval95[1]
    if not math.isfinite(high):
        cautions.append(words("dig.depth_unknown"))
    elif high >= _SHORING_M:
        depth = measures.bare_length(_SHORING_M, 0 if measures.us else 1)
        cautions.append(words("dig.shoring", depth=depth))
    if not frame.appraisal.job.line.soil:
        cautions.append(words("dig.soil_unknown"))
    return [*cautions, *_while_open(frame)]


def _while_open(frame: Frame) -> list[str]:
    """Return what holds as long as the trench is open (common practice, no source)."""
    return [frame.words(f"dig.{key}") for key in ("stop", "gas", "sewage", "jetting")]

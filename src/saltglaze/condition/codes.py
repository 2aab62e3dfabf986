"""A finding in the words of EN 13508-2, from a data table that says how sure it is.

The table is ``codes.toml``. A letter that we could not confirm is marked "from
memory"; where even that fails the letter stays ``None`` and the remark says why.
Clock positions are whole hours, 12 at the soffit, read clockwise in the direction
of inspection (from memory). Soil, void and other pairs are separate observations
beside the finding that causes them (confirmed, German association's catalogue).
"""

from __future__ import annotations

from functools import cache

from saltglaze.condition.tables import read_table
from saltglaze.model.appraisal import Code
from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Certainty, Clock, Facts, Feature, Turn

STANDARD = "EN 13508-2:2003+A1:2011"

BEND_ANGLE_DEG = {"1/16": 22.5, "1/8": 45.0, "1/6": 60.0, "1/4": 90.0}
"""Angle of a named bend: a fraction of a whole turn (common practice)."""

_TURN_LETTER = {Turn.LEFT: "A", Turn.RIGHT: "B", Turn.UP: "A", Turn.DOWN: "B"}


class CodeRow(Record):
    """One row of the code book."""

    feature: Feature
    kind: str | None = None
    main: str | None = None
    ch1: str | None = None
    ch2: str | None = None
    q1: str | None = None
    q1_unit: str = ""
    status: str
    gap: str = ""


@cache
def code_book() -> dict[tuple[Feature, str | None], CodeRow]:
    """Return the rows of the code book by feature and kind."""
    rows = [CodeRow(**row) for row in read_table("saltglaze.condition", "codes.toml")["code"]]
    return {(row.feature, row.kind): row for row in rows}


def code(facts: Facts, clock: Clock | None = None, *, continuous: bool = False) -> Code:
    """Return the EN 13508-2 code of one finding.

    ``clock`` is the position in the pipe (the finding's place knows it better than
    its facts). ``continuous`` marks a finding that runs over a stretch.
    """
    row = _row(facts)
    ch1, ch2 = _letters(facts, row)
    q1, q1_unit = _quantity(facts, row)
    clock1_h, clock2_h = clock_hours(clock if clock is not None else facts.clock)
    return Code(
        main=row.main,
        ch1=ch1,
        ch2=ch2,
        q1=q1,
        q1_unit=q1_unit,
        clock1_h=clock1_h,
        clock2_h=clock2_h,
        joint=bool(facts.at_joint) or facts.feature in _JOINT_FEATURES,
        continuous=continuous or facts.feature is Feature.SAG,
        status=row.status,
        remark=_remark(facts, row, q1),
    )


def companions(facts: Facts, clock: Clock | None = None) -> tuple[Code, ...]:
    """Return the extra observations that go beside a finding: soil or a void seen."""
    clock1_h, clock2_h = clock_hours(clock if clock is not None else facts.clock)
    seen = [("BAO", facts.soil_visible, "soil seen"), ("BAP", facts.void_visible, "void seen")]
    return tuple(
        Code(main=main, clock1_h=clock1_h, clock2_h=clock2_h, status="confirmed", remark=remark)
        for main, is_seen, remark in seen
        if is_seen
    )


def clock_hours(clock: Clock | None) -> tuple[int | None, int | None]:
    """Return whole hours 1..12 (first, second); (12, 12) for the whole circumference."""
    if clock is None:
        return None, None
    if clock.all_round:
        return 12, 12
    first = _whole_hour(clock.from_h)
    return first, None if clock.to_h is None else _whole_hour(clock.to_h)


_JOINT_FEATURES = {Feature.OFFSET_JOINT, Feature.OPEN_JOINT, Feature.ANGLED_JOINT}


def _whole_hour(hours: float) -> int:
    return (int(hours + 0.5) - 1) % 12 + 1


def _row(facts: Facts) -> CodeRow:
    book = code_book()
    return book.get((facts.feature, facts.kind)) or book[facts.feature, None]


def _letters(facts: Facts, row: CodeRow) -> tuple[str | None, str | None]:
    if facts.feature is Feature.BEND:
        sideways = facts.turn if facts.turn in {Turn.LEFT, Turn.RIGHT} else None
        upright = facts.turn if facts.turn in {Turn.UP, Turn.DOWN} else None
        return (
            _TURN_LETTER[sideways] if sideways else None,
            _TURN_LETTER[upright] if upright else None,
        )
    if facts.feature is Feature.TAP and facts.capped is not None:
        return row.ch1, "B" if facts.capped else "A"
    return row.ch1, row.ch2


def _quantity(facts: Facts, row: CodeRow) -> tuple[float | None, str]:
    if facts.feature is Feature.BEND and facts.angle_deg is None:
        angle = BEND_ANGLE_DEG.get(facts.kind or "")
        return (angle, "deg") if angle is not None else (None, "")
    raw = getattr(facts, row.q1) if row.q1 else None
    value = raw.value if isinstance(raw, Estimate) else raw
    if value is None:
        return None, ""
    scale = {"mm": 1000.0, "%": 100.0}.get(row.q1_unit, 1.0)
    return round(float(value) * scale, 1), row.q1_unit


def _remark(facts: Facts, row: CodeRow, q1: float | None) -> str:
    parts = [facts.remark] if facts.remark else []
    if row.gap:
        parts.append(row.gap)
    if row.q1 and q1 is None:
        parts.append("size not stated")
    if facts.certainty is Certainty.SUPPOSED:
        parts.append("supposed, not certain")
    if row.status == "memory":
        parts.append("letters from memory")
    if facts.feature is Feature.BEND and facts.turn is None:
        parts.append("which way it turns was not stated")
    return "; ".join(parts)

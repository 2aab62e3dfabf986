"""One number for each finding, the same in every paper: along the line, then unplaced."""

from __future__ import annotations

from typing import NamedTuple

from saltglaze.model.appraisal import Appraisal, AppraisedFinding


class Numbered(NamedTuple):
    """A finding under its number."""

    number: int
    item: AppraisedFinding

    @property
    def station_m(self) -> float | None:
        """Best station, or ``None`` where it is not known."""
        return self.item.place.station_m.value

    @property
    def end_m(self) -> float | None:
        """End of the stretch, or ``None`` for a point or an unknown end."""
        end = self.item.place.end_station_m
        return None if end is None else end.value

    @property
    def grade(self) -> int | None:
        """Worst of its grades."""
        return self.item.grade.worst


def numbered(appraisal: Appraisal) -> tuple[Numbered, ...]:
    """Return the findings that stand, numbered by station; unplaced ones come last by time."""
    standing = [item for item in appraisal.findings if item.finding.stands]
    ordered = sorted(
        standing,
        key=lambda item: (
            item.place.station_m.value is None,
            item.place.station_m.value or 0.0,
            item.finding.start_s or 0.0,
            item.finding.id,
        ),
    )
    return tuple(Numbered(number, item) for number, item in enumerate(ordered, start=1))


def runs_of_numbers(numbers: list[int]) -> str:
    """Return numbers with runs closed up: "1–4, 7, 9–11"."""
    parts: list[str] = []
    last = None
    for number in sorted(numbers):
        if parts and last is not None and number == last + 1:
            parts[-1] = f"{parts[-1].partition('–')[0]}–{number}"
        else:
            parts.append(str(number))
        last = number
    return ", ".join(parts)

"""CSV tables of a job folder: declared columns in, typed cells out, each fault named.

A column that holds a quantity carries its unit in the header (``depth_ft``,
``depth_m``); any unit of its dimension will do.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, TypeVar

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.store import quantity
from saltglaze.store.folder import decode, read_bytes

Kind = Literal[
    "text", "number", "whole", "yes", "length", "bore", "pressure", "flow", "angle", "time", "share"
]
System = Literal["us", "metric"]
Cell = str | float | int | bool | None

_DIMENSION: Final[dict[str, str]] = {
    "length": "length",
    "bore": "length",
    "pressure": "pressure",
    "flow": "flow",
    "angle": "angle",
    "time": "time",
    "share": "share",
}
_WRITTEN: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "us": {
        "length": ("ft", "ft"),
        "bore": ("in", "in"),
        "pressure": ("psi", "psi"),
        "flow": ("gpm", "gpm"),
    },
    "metric": {
        "length": ("m", "m"),
        "bore": ("mm", "mm"),
        "pressure": ("bar", "bar"),
        "flow": ("l_min", "l/min"),
    },
}
_ALWAYS: Final = {"angle": ("deg", "deg"), "time": ("s", "s"), "share": ("percent", "%")}
_YES: Final = {"yes": True, "y": True, "true": True, "1": True}
_NO: Final = {"no": False, "n": False, "false": False, "0": False}
MAX_ROWS: Final = 100_000

Choice = TypeVar("Choice", bound=str)


@dataclass(frozen=True)
class Table:
    """A table's file name, its columns by kind, and those that must be there."""

    file: str
    columns: Mapping[str, Kind]
    required: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One row, cells by column name without the unit; quantities already in SI."""

    file: str
    line: int
    cells: Mapping[str, str]
    factors: Mapping[str, float]

    def at(self, column: str) -> str:
        """Return where a cell stands, for an error."""
        return f"{self.file}, line {self.line}, column {column}"

    def text(self, column: str) -> str:
        """Return a cell's text; empty where there is none."""
        return self.cells.get(column, "")

    def need(self, column: str) -> str:
        """Return a cell's text; InputError where it is empty."""
        text = self.text(column)
        if not text:
            raise InputError("this cell is empty", where=self.at(column), expected="a value")
        return text

    def number(self, column: str) -> float | None:
        """Return a number in SI, or None for an empty cell; InputError for what is no number."""
        text = self.text(column)
        if not text:
            return None
        try:
            value = float(text) * self.factors.get(column, 1.0)
        except ValueError:
            raise InputError(
                f"{text!r} is not a number",
                where=self.at(column),
                expected="a plain number, with the unit in the column's name",
            ) from None
        if not math.isfinite(value):
            raise InputError(f"{text!r} is not finite", where=self.at(column))
        return value

    def distance(self, column: str) -> float | None:
        """Return a distance above nought, or None for an empty cell; else InputError."""
        value = self.number(column)
        if value is not None and value <= 0.0:
            raise InputError(
                f"{self.text(column)!r} is no distance",
                where=self.at(column),
                expected="a number above 0, or an empty cell where nothing was measured",
            )
        return value

    def need_number(self, column: str) -> float:
        """Return a number; InputError where the cell is empty."""
        self.need(column)
        value = self.number(column)
        assert value is not None
        return value

    def whole(self, column: str) -> int | None:
        """Return a whole number or None."""
        value = self.number(column)
        if value is not None and value != int(value):
            raise InputError(f"{value} is not a whole number", where=self.at(column))
        return None if value is None else int(value)

    def yes(self, column: str) -> bool | None:
        """Return yes or no as a truth value; None for an empty cell."""
        text = self.text(column).lower()
        if not text:
            return None
        if text in _YES:
            return True
        if text in _NO:
            return False
        raise InputError(f"{text!r} is neither yes nor no", where=self.at(column))

    def estimate(self, column: str, default_sd: float) -> Estimate | None:
        """Return a number with the margin in ``<column>_sd``, or the default margin."""
        value = self.number(column)
        if value is None:
            return None
        sd = self.number(f"{column}_sd")
        if sd is not None and sd < 0:
            raise InputError("a margin cannot be negative", where=self.at(f"{column}_sd"))
        return Estimate.of(value, default_sd if sd is None else sd)

    def choice(self, column: str, choices: Iterable[Choice]) -> Choice | None:
        """Return the choice named in a cell; None for an empty cell."""
        text = self.text(column).strip().lower().replace(" ", "_").replace("-", "_")
        if not text:
            return None
        known = {str(c): c for c in choices}
        if text not in known:
            raise InputError(
                f"{self.text(column)!r} is not known here",
                where=self.at(column),
                expected=f"one of {', '.join(known)}",
            )
        return known[text]


def read_table(folder: Path, table: Table) -> tuple[Row, ...]:
    """Return the rows of a table; none where the file is absent or empty.

    Raises InputError for an unknown or repeated column, a missing one that is
    required, a row with too many cells, or a file that is no CSV.
    """
    path = folder / table.file
    if not path.exists():
        return ()
    text = decode(read_bytes(path), where=table.file)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        return tuple(_rows(reader, table))
    except csv.Error as error:
        raise InputError(
            f"this is not a CSV table ({error})", where=f"{table.file}, line {reader.line_num}"
        ) from error


def _rows(reader: Iterable[list[str]], table: Table) -> Iterable[Row]:
    lines = enumerate(reader, start=1)
    header: list[tuple[str, float]] | None = None
    for count, cells in lines:
        if not any(c.strip() for c in cells) or cells[0].lstrip().startswith("#"):
            continue
        if header is None:
            header = _header(cells, table, count)
            continue
        if count > MAX_ROWS:
            raise InputError(f"the table has over {MAX_ROWS:,} rows", where=table.file)
        if len(cells) > len(header):
            raise InputError(
                f"{len(cells)} cells stand under {len(header)} columns",
                where=f"{table.file}, line {count}",
                mend="put quotes around text that holds a comma",
            )
        names = [name for name, _ in header]
        filled = dict(zip(names, (c.strip() for c in cells), strict=False))
        yield Row(table.file, count, filled, dict(header))


def _header(cells: list[str], table: Table, line: int) -> list[tuple[str, float]]:
    header = [_column(cell.strip().lower(), table, line) for cell in cells]
    names = [name for name, _ in header]
    for name in names:
        if names.count(name) > 1:
            raise InputError(
                f"the column {name!r} stands twice", where=f"{table.file}, line {line}"
            )
    for name in table.required:
        if name not in names:
            raise InputError(
                f"the column {spelled(name, table, 'us')!r} is missing",
                where=f"{table.file}, line {line}",
            )
    return header


def _column(cell: str, table: Table, line: int) -> tuple[str, float]:
    kind = table.columns.get(cell)
    if kind is not None and kind not in _DIMENSION:
        return cell, 1.0
    for dimension in dict.fromkeys(_DIMENSION.values()):
        split = quantity.split_column(cell, dimension)
        if split and _DIMENSION.get(table.columns.get(split[0], "")) == dimension:
            return split
    if kind is not None:
        raise InputError(
            f"the column {cell!r} has no unit",
            where=f"{table.file}, line {line}",
            mend=f"name it {spelled(cell, table, 'us')!r} or {spelled(cell, table, 'metric')!r}",
        )
    known = ", ".join(spelled(name, table, "us") for name in table.columns)
    raise InputError(
        f"the column {cell!r} is not known",
        where=f"{table.file}, line {line}",
        expected=f"columns among {known}",
    )


def spelled(name: str, table: Table, system: System) -> str:
    """Return a column's name with the unit it is written in."""
    written = _ALWAYS.get(table.columns[name]) or _WRITTEN[system].get(table.columns[name])
    return f"{name}_{written[0]}" if written else name


def table_text(table: Table, rows: Iterable[Mapping[str, Cell]], system: System) -> str:
    """Return a table as CSV text; only columns that some row fills are written."""
    rows = list(rows)
    names = [n for n in table.columns if not rows or any(r.get(n) is not None for r in rows)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([spelled(name, table, system) for name in names])
    for row in rows:
        writer.writerow([_cell(row.get(name), table.columns[name], system) for name in names])
    return out.getvalue()


def _cell(value: Cell, kind: Kind, system: System) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)) and kind in _DIMENSION:
        unit = (_ALWAYS.get(kind) or _WRITTEN[system][kind])[1]
        return f"{value / quantity.UNITS[_DIMENSION[kind]][unit]:.9g}"
    return f"{value:.12g}" if isinstance(value, float) else str(value)

"""record.json: the whole answer, versioned, migrated when an older one is read."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from saltglaze import atomic
from saltglaze.errors import RecordError
from saltglaze.model.appraisal import SCHEMA_VERSION, Appraisal
from saltglaze.store.folder import decode, read_bytes

FILE: Final = "record.json"
MAX_BYTES: Final = 200_000_000

Raw = dict[str, Any]


Migrations = Mapping[int, Callable[[Raw], Raw]]

MIGRATIONS: Final[Migrations] = {}
"""What turns a record of a version into the next one. Version 1 is the first."""


def record_json(appraisal: Appraisal) -> str:
    """Return an appraisal as JSON text."""
    return appraisal.model_dump_json(indent=1, exclude_none=True) + "\n"


def save_record(appraisal: Appraisal, folder: Path) -> Path:
    """Write record.json in ``folder``, whole or not at all, and return its path."""
    path = folder / FILE
    atomic.write_text(path, record_json(appraisal))
    return path


def load_record(path: Path) -> Appraisal:
    """Return the appraisal in a record file. Raises RecordError or InputError."""
    return parse_record(decode(read_bytes(path, limit=MAX_BYTES), where=path.name), where=path.name)


def parse_record(text: str, *, where: str, migrations: Migrations = MIGRATIONS) -> Appraisal:
    """Return the appraisal in JSON text, migrated to this version.

    Raises RecordError for broken JSON, a newer version, or a field that cannot be.
    """
    try:
        raw = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise RecordError(f"this is not JSON ({error})", where=where) from error
    if not isinstance(raw, dict) or not isinstance(raw.get("schema_version"), int):
        raise RecordError("this is no record of saltglaze", where=f"{where}, field schema_version")
    try:
        return Appraisal.model_validate_json(json.dumps(_migrated(raw, where, migrations)))
    except ValidationError as error:
        fault = error.errors()[0]
        field = ".".join(str(part) for part in fault["loc"])
        raise RecordError(fault["msg"], where=f"{where}, field {field}") from error


def _migrated(raw: Raw, where: str, migrations: Migrations) -> Raw:
    version = raw["schema_version"]
    if version > SCHEMA_VERSION:
        raise RecordError(
            f"the record is of version {version}",
            where=where,
            expected=f"{SCHEMA_VERSION} or older",
            mend="update saltglaze",
        )
    while version < SCHEMA_VERSION:
        step = migrations.get(version)
        if step is None:
            raise RecordError(f"records of version {version} cannot be read", where=where)
        raw = step(raw) | {"schema_version": version + 1}
        version += 1
    return raw


def schema_text() -> str:
    """Return the JSON Schema of record.json."""
    return json.dumps(Appraisal.model_json_schema(), indent=1, sort_keys=True) + "\n"

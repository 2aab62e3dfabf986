"""The jetting pressure a pipe may be given, by material and condition.

Limits are published per material (``tables.toml``). They hold for sound pipe: in
worn pipe, or where its condition is not known, the lower of the material's limit
and that for worn pipe is used. The limit is at the nozzle, not at the pump.
"""

from __future__ import annotations

from saltglaze import units
from saltglaze.condition.tables import read_table
from saltglaze.model.appraisal import Reason
from saltglaze.model.base import Record
from saltglaze.model.line import Material

_SOUND_UP_TO = 2
_FRAGILE_FROM = 4
_STATUS_WORDS = {
    "confirmed": "told there (confirmed)",
    "memory": "from memory",
    "own": "our own judgement",
}


class JetLimit(Record):
    """A pressure limit at the nozzle, or none and why."""

    pressure_pa: float | None
    fragile: bool = False
    """Whether jetting at all is in question."""
    assumed: bool = False
    """Whether no limit is published for the material and a cautious one stands in."""
    reasons: tuple[Reason, ...] = ()


def jet_limit(material: Material | None, structure_grade: int | None) -> JetLimit:
    """Return the limit for a material and its worst structure grade (1 to 5).

    ``structure_grade`` is ``None`` where the stretch has not been seen.
    """
    table = read_table("saltglaze.cleaning", "tables.toml")["limits"]
    fragile = (structure_grade or 0) >= _FRAGILE_FROM
    if material is Material.BITUMINISED_FIBRE:
        because = "tar fibre pipe: no pressure limit is published; jet it only after a look, gently"
        return JetLimit(pressure_pa=None, fragile=True, reasons=(Reason(because=because),))
    if material is Material.ASBESTOS_CEMENT and fragile:
        because = "broken asbestos cement: do not jet it; ask the local authority"
        return JetLimit(pressure_pa=None, fragile=True, reasons=(Reason(because=because),))
    sound_psi, reason = _sound(material, table)
    assumed = material is None or material.value not in table["psi"]
    if structure_grade is not None and structure_grade <= _SOUND_UP_TO:
        pressure_pa = units.pa_from_psi(sound_psi)
        return JetLimit(pressure_pa=pressure_pa, assumed=assumed, reasons=(reason,))
    worn = Reason(
        because="its condition is not known"
        if structure_grade is None
        else f"its structure is graded {structure_grade}",
        rule="no better than worn pipe",
        source=str(table["worn_source"]),
    )
    limit_psi = min(sound_psi, float(table["worn_psi"]))
    return JetLimit(
        pressure_pa=units.pa_from_psi(limit_psi),
        fragile=fragile,
        assumed=assumed,
        reasons=(reason, worn),
    )


def _sound(material: Material | None, table: dict[str, object]) -> tuple[float, Reason]:
    limits, assumed = table["psi"], table["assumed"]
    if isinstance(limits, dict) and material is not None and material.value in limits:
        because = f"limit for sound {material.value.replace('_', ' ')}"
        return float(limits[material.value]), Reason(because=because, source=str(table["source"]))
    if isinstance(assumed, dict) and material is not None and material.value in assumed:
        row = assumed[material.value]
        return float(row["psi"]), Reason(
            because=row["because"], source=_STATUS_WORDS[row["status"]]
        )
    because = "the material is not known, so the limit for worn pipe is used"
    return float(str(table["worn_psi"])), Reason(because=because, source=str(table["worn_source"]))

"""Between stored medicines and the domain's: what a dose is worked out from."""

from collections.abc import Mapping, Sequence
from typing import Any

from health.domain.medicine import Band, Breeding, Form, Medicine, OtherActive, Stated, Supply
from health.domain.units import RATE_UNITS, FixedAmount, Rate, Strength

Row = Mapping[str, Any]


def medicine_of(row: Row) -> Medicine:
    """The domain's medicine of a stored row (or of checked input as a dictionary).

    Raises ValueError naming what does not fit together.
    """
    return Medicine(
        name=row["name"],
        active=row["active"],
        form=Form(row["form"]),
        strength=_strength(row["strength_value"], row["strength_unit"]),
        basis=_basis(row),
        dose_stated=Stated(_spaced(row["dose_stated"])),
        strength_stated=Stated(_spaced(row["strength_stated"])),
        base_per_salt=_number(row["base_per_salt"]),
        least_dose=bool(row["least_dose"]),
        other_actives=tuple(
            OtherActive(one["name"], Strength(float(one["strength_value"]), one["strength_unit"]))
            for one in row["other_actives"]
        ),
        minimum_age_days=row["minimum_age_days"],
        minimum_mass_kg=None if row["minimum_weight_g"] is None else float(row["minimum_weight_g"]) / 1000,
        course_days=int(row["course_days"]),
        dose_interval_h=float(row["dose_interval_h"]),
        repeat_after_days=_number(row["repeat_after_days"]),
        tablet_parts=int(row["tablet_parts"]),
        supply=Supply(_spaced(row["supply"])),
        prescriber=row["prescriber"],
        pregnancy=Breeding(_spaced(row["pregnancy"])),
        nursing=Breeding(_spaced(row["nursing"])),
        label_note=row["label_note"],
        source=row["source"],
    )


def body_of(medicine: Medicine) -> dict[str, Any]:
    """A medicine record's fields for a domain medicine, to copy a published label from."""
    body: dict[str, Any] = {
        "name": medicine.name,
        "purpose": "worming",
        "active": medicine.active,
        "form": medicine.form.value,
        "dose_stated": _joined(medicine.dose_stated.value),
        "strength_stated": _joined(medicine.strength_stated.value),
        "least_dose": medicine.least_dose,
        "other_actives": [
            {
                "name": one.name,
                "strength_value": one.strength.value,
                "strength_unit": one.strength.unit,
            }
            for one in medicine.other_actives
        ],
        "course_days": medicine.course_days,
        "dose_interval_h": medicine.dose_interval_h,
        "tablet_parts": medicine.tablet_parts,
        "supply": _joined(medicine.supply.value),
        "pregnancy": _joined(medicine.pregnancy.value),
        "nursing": _joined(medicine.nursing.value),
        "label_note": medicine.label_note,
        "source": medicine.source,
        "bands": _bands_json(medicine),
    }
    if medicine.strength is not None:
        body |= {"strength_value": medicine.strength.value, "strength_unit": medicine.strength.unit}
    if isinstance(medicine.basis, Rate):
        body |= {"dose_value": medicine.basis.value, "dose_unit": medicine.basis.unit}
    if medicine.base_per_salt is not None:
        body["base_per_salt"] = round(medicine.base_per_salt, 6)
    if medicine.minimum_age_days is not None:
        body["minimum_age_days"] = medicine.minimum_age_days
    if medicine.minimum_mass_kg is not None:
        body["minimum_weight_g"] = round(medicine.minimum_mass_kg * 1000, 1)
    if medicine.repeat_after_days is not None:
        body["repeat_after_days"] = medicine.repeat_after_days
    return body


def _bands_json(medicine: Medicine) -> list[dict[str, Any]]:
    if not isinstance(medicine.basis, tuple):
        return []
    return [
        {"from_kg": band.from_kg, "to_kg": band.to_kg, "value": band.give.value, "unit": band.give.unit}
        for band in medicine.basis
    ]


def _basis(row: Row) -> Rate | tuple[Band, ...] | None:
    if row["bands"]:
        if row["dose_value"] is not None:
            raise ValueError("a dose is one rate for all weights, or bands, not both")
        return bands_of(row["bands"])
    if row["dose_value"] is None:
        return None
    return Rate(float(row["dose_value"]), row["dose_unit"])


def bands_of(rows: Sequence[Row]) -> tuple[Band, ...]:
    """Weight bands of plain values."""
    return tuple(
        Band(
            float(one["from_kg"]),
            _number(one["to_kg"]),
            Rate(float(one["value"]), one["unit"])
            if one["unit"] in RATE_UNITS
            else FixedAmount(float(one["value"]), one["unit"]),
        )
        for one in rows
    )


def _strength(value: Any, unit: str) -> Strength | None:
    return None if value is None else Strength(float(value), unit)


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _spaced(value: str) -> str:
    return str(value).replace("_", " ")


def _joined(value: str) -> str:
    return value.replace(" ", "_")

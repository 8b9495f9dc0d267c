"""Fetal ultrasound: which published formula fits a dam, and what a scan says about the due day.

Measure at least two fetuses and average (Kutzler et al. 2003 as quoted).  Dam weights are those before
pregnancy.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from litters.domain.fetal_formulas import (
    LENGTH_FROM_LH_DAYS,
    MEDIUM_DAM_KG,
    SMALL_DAM_KG,
    centimetres_from_millimetres,
    checked_dam_mass_kg,
    days_before_parturition_bp_medium,
    days_before_parturition_bp_small,
    days_before_parturition_bpd_chihuahua,
    days_before_parturition_bpd_german_shepherd,
    days_before_parturition_icc_german_shepherd,
    days_before_parturition_icc_medium,
    days_before_parturition_icc_small,
    days_left_from_gestational_age,
    gestational_age_from_head_days,
    gestational_age_from_sac_days,
)
from litters.domain.gestation_evidence import FormulaBreed, LengthUnit, Scan, ScanStructure
from litters.domain.gestation_figures import (
    AGE_FORMULA_ACCURACY,
    BECCAGLIA_2012,
    CECCHETTO_2017,
    FROM_MEMORY,
    GERMAN_SHEPHERD_ACCURACY,
    KUTZLER_QUOTED,
    QUOTED,
    VERIFIED,
    scan_sd_days,
)
from litters.domain.units import length_mm

LUVONI_2000 = "Luvoni & Grioni 2000, J Small Anim Pract 41:292-294"
VIEIRA_2020 = "de Albuquerque Vieira et al. 2020, Anim Reprod, doi 10.1590/1984-3143-AR2020-0037"
NYLAND = "textbook formula (Nyland & Mattoon), imaging-education page"

SLIP_RATIO = 2.0
"""Readings of one visit further apart than this hold a slip; fetuses of one litter do not differ twofold."""
OUTSIDE_BEST_FACTOR = 1.5
"""Widening of a formula used outside the weeks its authors call best; ours, no source."""


class ScanUnusable(ValueError):
    """A scan that cannot date the pregnancy; `key` names the reason, the text says it in words."""

    def __init__(self, key: str, text: str) -> None:
        super().__init__(text)
        self.key = key


@dataclass(frozen=True, slots=True)
class ScanFormula:
    """One published formula: structure, unit, source, and where it is at its best."""

    key: str
    structure: ScanStructure
    unit: LengthUnit
    days_left: Callable[[float, float | None], float]
    source: str
    status: str
    best_above_days_left: float | None = None
    caution: str = ""


def _left_from_sac(sac_cm: float, dam_mass_kg: float | None) -> float:
    return days_left_from_gestational_age(gestational_age_from_sac_days(sac_cm, dam_mass_kg=dam_mass_kg))


def _left_from_head(head_cm: float, dam_mass_kg: float | None) -> float:
    return days_left_from_gestational_age(gestational_age_from_head_days(head_cm, dam_mass_kg=dam_mass_kg))


_ICC, _BP = ScanStructure.INNER_CHORIONIC_CAVITY, ScanStructure.BIPARIETAL
_MM, _CM = LengthUnit.MM, LengthUnit.CM

FORMULAS: Mapping[str, ScanFormula] = {
    formula.key: formula
    for formula in (
        ScanFormula(
            "dbp_icc_small",
            _ICC,
            _MM,
            lambda value, mass: days_before_parturition_icc_small(value, dam_mass_kg=mass),
            LUVONI_2000,
            FROM_MEMORY,
        ),
        ScanFormula(
            "dbp_icc_medium",
            _ICC,
            _MM,
            lambda value, mass: days_before_parturition_icc_medium(value, dam_mass_kg=mass),
            LUVONI_2000,
            FROM_MEMORY,
        ),
        ScanFormula(
            "dbp_bp_small",
            _BP,
            _MM,
            lambda value, mass: days_before_parturition_bp_small(value, dam_mass_kg=mass),
            LUVONI_2000,
            FROM_MEMORY,
        ),
        ScanFormula(
            "dbp_bp_medium",
            _BP,
            _MM,
            lambda value, mass: days_before_parturition_bp_medium(value, dam_mass_kg=mass),
            LUVONI_2000,
            FROM_MEMORY,
        ),
        ScanFormula(
            "dbp_icc_gsd",
            _ICC,
            _CM,
            lambda value, _mass: days_before_parturition_icc_german_shepherd(value),
            CECCHETTO_2017,
            VERIFIED,
            best_above_days_left=35,
        ),
        ScanFormula(
            "dbp_bpd_gsd",
            _BP,
            _CM,
            lambda value, _mass: days_before_parturition_bpd_german_shepherd(value),
            CECCHETTO_2017,
            VERIFIED,
            best_above_days_left=15,
        ),
        ScanFormula(
            "dbp_bpd_chihuahua",
            _BP,
            _CM,
            lambda value, _mass: days_before_parturition_bpd_chihuahua(value),
            VIEIRA_2020,
            VERIFIED,
            caution="The formula's unit, centimetres, is assumed.",
        ),
        ScanFormula("ga_from_sac", ScanStructure.GESTATIONAL_SAC, _CM, _left_from_sac, NYLAND, QUOTED),
        ScanFormula("ga_from_head", ScanStructure.HEAD, _CM, _left_from_head, NYLAND, QUOTED),
    )
}


def formula_for(
    structure: ScanStructure, *, dam_mass_kg: float | None, breed: FormulaBreed | None = None
) -> ScanFormula:
    """The published formula for a structure in a dam of this size and breed.

    dam_mass_kg: weight before pregnancy.  Raises ScanUnusable when no formula covers her.
    """
    if structure == ScanStructure.GESTATIONAL_SAC:
        return FORMULAS["ga_from_sac"]
    if structure == ScanStructure.HEAD:
        return FORMULAS["ga_from_head"]
    if breed == FormulaBreed.GERMAN_SHEPHERD:
        return FORMULAS["dbp_icc_gsd" if structure == _ICC else "dbp_bpd_gsd"]
    if breed == FormulaBreed.CHIHUAHUA and structure == _BP:
        return FORMULAS["dbp_bpd_chihuahua"]
    return FORMULAS[f"dbp_{structure.value}_{_size_class(dam_mass_kg)}"]


def _size_class(dam_mass_kg: float | None) -> str:
    if dam_mass_kg is None:
        raise ScanUnusable(
            "dam_weight_missing", "The formula depends on the dam's size: enter her weight before pregnancy."
        )
    mass_kg = checked_dam_mass_kg(dam_mass_kg)
    if mass_kg > MEDIUM_DAM_KG:
        raise ScanUnusable(
            "dam_outside_formula",
            f"A dam of {mass_kg:g} kg is outside the range of the formula (up to {MEDIUM_DAM_KG:g} kg). "
            "Ask the vet for the sac or head diameter, or for the vet's own date.",
        )
    return "small" if mass_kg <= SMALL_DAM_KG else "medium"


@dataclass(frozen=True, slots=True)
class ScanReading:
    """What one scan says: days left on the day of the scan, its published spread, and the formula used."""

    formula: ScanFormula
    mean_reading: float
    days_left: float
    week: int
    sd_days: float
    accuracy_source: str
    cautions: tuple[str, ...]


def read_scan(scan: Scan, *, dam_mass_kg: float | None, breed: FormulaBreed | None = None) -> ScanReading:
    """The days left that a scan shows, with the spread published for that structure and week.

    Raises ScanUnusable, with the reason in words, when it cannot date the pregnancy.
    """
    formula = formula_for(scan.structure, dam_mass_kg=dam_mass_kg, breed=breed)
    mean = _mean_reading(scan, formula.unit)
    try:
        days_left = formula.days_left(mean, dam_mass_kg)
    except ValueError as impossible:
        raise ScanUnusable(
            "scan_impossible", _impossible_text(scan, formula, dam_mass_kg, impossible)
        ) from None
    age_days = LENGTH_FROM_LH_DAYS - days_left
    _require_use_range(formula, age_days)
    week = int(age_days // 7) + 1
    sd_days, accuracy_source = _spread(formula, week)
    cautions = _cautions(scan, formula, dam_mass_kg)
    if formula.best_above_days_left is not None and days_left <= formula.best_above_days_left:
        sd_days *= OUTSIDE_BEST_FACTOR
        cautions.append(
            f"Best while more than {formula.best_above_days_left:g} days remain: counted as less sure."
        )
    return ScanReading(formula, mean, days_left, week, sd_days, accuracy_source, tuple(cautions))


def _mean_reading(scan: Scan, unit: LengthUnit) -> float:
    try:
        readings_mm = [length_mm(value, scan.unit.value) for value in scan.readings]
    except ValueError:
        readings_mm = []
    if not readings_mm or min(readings_mm) <= 0:
        raise ScanUnusable("scan_impossible", "A scan needs at least one reading, each a number above 0.")
    if max(readings_mm) > SLIP_RATIO * min(readings_mm):
        raise ScanUnusable(
            "readings_disagree",
            f"Readings from {min(scan.readings):g} to {max(scan.readings):g} {scan.unit.value} at one visit: "
            "one of them looks like a slip. Check the sheet and correct it.",
        )
    # Dividing before adding keeps an absurdly large reading from overflowing; it is refused by the formula.
    mean_mm = sum(value / len(readings_mm) for value in readings_mm)
    return mean_mm if unit == LengthUnit.MM else centimetres_from_millimetres(mean_mm)


def _impossible_text(
    scan: Scan, formula: ScanFormula, dam_mass_kg: float | None, impossible: ValueError
) -> str:
    other = LengthUnit.MM if scan.unit == LengthUnit.CM else LengthUnit.CM
    swapped = Scan(scan.on, scan.structure, scan.readings, other)
    try:
        fitting = formula.days_left(_mean_reading(swapped, formula.unit), dam_mass_kg)
    except ValueError:
        return f"This scan cannot be right: {impossible}."
    return (
        f"This scan cannot be right: {impossible}. In {other.value} it would mean {fitting:.0f} days left: "
        "which unit did the machine show?"
    )


def _require_use_range(formula: ScanFormula, age_days: float) -> None:
    if formula.key == "ga_from_sac" and age_days > 40:
        raise ScanUnusable(
            "outside_formula_weeks",
            f"The sac formula serves ages below day 40; this one gives day {age_days:.0f}.",
        )
    if formula.key == "ga_from_head" and age_days < 40:
        raise ScanUnusable(
            "outside_formula_weeks",
            f"The head formula serves ages above day 40; this one gives day {age_days:.0f}.",
        )


def _spread(formula: ScanFormula, week: int) -> tuple[float, str]:
    if formula.key in ("ga_from_sac", "ga_from_head"):
        return AGE_FORMULA_ACCURACY[formula.structure.value].sd_days, KUTZLER_QUOTED
    if formula.key in ("dbp_icc_gsd", "dbp_bpd_gsd"):
        return GERMAN_SHEPHERD_ACCURACY[formula.structure.value].sd_days, CECCHETTO_2017
    return scan_sd_days(formula.structure.value, week), BECCAGLIA_2012


def _cautions(scan: Scan, formula: ScanFormula, dam_mass_kg: float | None) -> list[str]:
    cautions = [formula.caution] if formula.caution else []
    if len(scan.readings) < 2:
        cautions.append("One fetus measured: measure at least two and average.")
    if formula.key in ("ga_from_sac", "ga_from_head") and dam_mass_kg is None:
        cautions.append("Not corrected for the dam's size: her weight is missing.")
    if formula.status == FROM_MEMORY:
        cautions.append(
            "The formula's coefficients are quoted from memory: let the vet's machine have the last word."
        )
    return cautions

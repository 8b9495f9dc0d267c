"""Worming and vaccination keys: label minimums, volumes, courses, scheme dates, series and intervals."""

from collections.abc import Callable

from health.domain import label_minimums, treatment_plans, vaccination
from health.domain.units import Rate
from kennel.clock.wall_clock import completed_days
from tests.reference.inputs import Inputs

Adapter = Callable[[Inputs, str], object]


def _one(output_name: str, reckon: Callable[[Inputs], object]) -> Adapter:
    """An adapter with a single output."""

    def adapter(inputs: Inputs, output: str) -> object:
        if output != output_name:
            raise ValueError(f"unknown output {output!r}")
        return reckon(inputs)

    return adapter


def _bw(inputs: Inputs) -> float:
    return inputs.mass_kg("bw")


def _rate_mg_per_kg(inputs: Inputs) -> float:
    """The rate as the label prints it, for the kilogram or for the pound."""
    units = {"mg_per_kg": "mg/kg", "mg_per_lb": "mg/lb", "mcg_per_kg": "mcg/kg", "mcg_per_lb": "mcg/lb"}
    name = inputs.name_of(*units)
    return Rate(inputs.number(name), units[name]).per_kg


def _dose(inputs: Inputs) -> float:
    return label_minimums.dose_for_mass_mg(_bw(inputs), _rate_mg_per_kg(inputs))


def _course(inputs: Inputs) -> float:
    return label_minimums.course_mg(_bw(inputs), _rate_mg_per_kg(inputs), inputs.integer("days"))


def _age_days(inputs: Inputs) -> int:
    if "age_days" in inputs:
        return inputs.integer("age_days")
    return completed_days(inputs.day("dob"), inputs.day(inputs.name_of("on", "today")))


def _doses(inputs: Inputs) -> bool:
    doses_on = inputs.days("doses") if inputs["doses"] else []
    return vaccination.core_series_complete(inputs.day("dob"), doses_on)


FORMULAS: dict[str, Adapter] = {
    "pyrantel_min_mg": _one("mg_base", lambda row: label_minimums.pyrantel_min_mg(_bw(row))),
    "volume_ml": _one("ml", lambda row: label_minimums.volume_ml(row.number("mg"), row.number("mg_per_ml"))),
    "fenbendazole_mg_per_day": _one("mg_per_day", _dose),
    "fenbendazole_course_mg": _one("mg_total", _course),
    "fenbendazole_granules_g": _one(
        "g_per_day", lambda row: label_minimums.product_g(_dose(row), row.number("mg_per_g"))
    ),
    "milbemycin_min_mg": _one(
        "mg", lambda row: label_minimums.milbemycin_min_mg(_bw(row), _rate_mg_per_kg(row))
    ),
    "milbemycin_allowed": _one(
        "allowed", lambda row: label_minimums.milbemycin_allowed(_age_days(row), _bw(row))
    ),
    "milbemycin_praziquantel_allowed": _one(
        "allowed", lambda row: label_minimums.milbemycin_praziquantel_allowed(_age_days(row), _bw(row))
    ),
    "us_label_pyrantel_dates": _one(
        "dates", lambda row: treatment_plans.us_label_pyrantel_dates(row.day("dob"))
    ),
    "esccap_fortnightly_dates": _one(
        "dates", lambda row: treatment_plans.esccap_fortnightly_dates(row.day("dob"), row.day("weaned"))
    ),
    "capc_dates": _one("dates", lambda row: treatment_plans.capc_dates(row.day("dob"))),
    "core_series_complete": _one("complete", _doses),
    "core_last_dose_not_before": _one(
        "date", lambda row: vaccination.core_last_dose_not_before(row.day("dob"))
    ),
    "booster_26wk_due": _one("date", lambda row: vaccination.booster_26_weeks_on(row.day("dob"))),
    "rabies_not_before": _one("date", lambda row: vaccination.rabies_not_before(row.day("dob"))),
    "interval_ok": _one("ok", lambda row: vaccination.interval_ok(row.day("previous"), row.day("next"))),
}

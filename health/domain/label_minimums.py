"""Single figures of published labels: least doses, volumes, course totals, who may have them.

Each asks the same records and the same arithmetic a dose goes through; there is no second formula.
"""

from __future__ import annotations

from dataclasses import replace

from health.domain.dose_amount import band_for
from health.domain.dosing import minimums_not_met
from health.domain.medicine import Medicine
from health.domain.patient import Patient
from health.domain.published_labels import PUBLISHED_LABELS
from health.domain.units import Rate, Strength, amount_holding, positive


def pyrantel_min_mg(mass_kg: float) -> float:
    """Least pyrantel, in mg of base, for a body mass in kg (0.001 to 120).

    4.54 mg/lb up to and including 5 lb, 2.27 mg/lb over it: the least dose halves as a pup passes 5 lb.
    Source: 21 CFR 520.2042 (read in the text). Raises ValueError outside the range.
    """
    return band_for(PUBLISHED_LABELS["pyrantel_us_suspension"], mass_kg).amount_at(mass_kg)


def volume_ml(dose_mg: float, strength_mg_per_ml: float) -> float:
    """mL of a liquid that hold `dose_mg`; both above zero, otherwise ValueError."""
    return amount_holding(dose_mg, Strength(strength_mg_per_ml, "mg/mL"))


def product_g(dose_mg: float, strength_mg_per_g: float) -> float:
    """Grams of granules or paste that hold `dose_mg`; both above zero, otherwise ValueError."""
    return amount_holding(dose_mg, Strength(strength_mg_per_g, "mg/g"))


def dose_for_mass_mg(mass_kg: float, rate_mg_per_kg: float) -> float:
    """mg for a body mass in kg (0.001 to 120) at a label's rate in mg/kg; ValueError outside."""
    return Rate(rate_mg_per_kg, "mg/kg").amount_for(mass_kg)


def course_mg(mass_kg: float, rate_mg_per_kg: float, days: int) -> float:
    """mg over a course of one dose a day on `days` (1 to 120) days; ValueError outside."""
    if not 1 <= days <= 120:
        raise ValueError(f"a course has 1 to 120 days, not {days!r}")
    return positive(dose_for_mass_mg(mass_kg, rate_mg_per_kg) * days, "course in mg", 1e9)


def label_allows(medicine: Medicine, age_days: int, mass_kg: float) -> bool:
    """Whether an animal has reached a product's least age (completed days) and weight (kg), both included.

    Raises ValueError for an impossible age or mass.
    """
    return not minimums_not_met(medicine, Patient("the animal", mass_kg=mass_kg, age_days=age_days))


def milbemycin_allowed(age_days: int, mass_kg: float) -> bool:
    """Milbemycin oxime: from 4 weeks and 2 lb (907 g). Source: 21 CFR 520.1441 (read in the text)."""
    return label_allows(PUBLISHED_LABELS["milbemycin_oxime"], age_days, mass_kg)


def milbemycin_praziquantel_allowed(age_days: int, mass_kg: float) -> bool:
    """Milbemycin with praziquantel: from 6 weeks and 2 lb (907 g). Source: 21 CFR 520.1445 (in the text)."""
    return label_allows(PUBLISHED_LABELS["milbemycin_praziquantel"], age_days, mass_kg)


def milbemycin_min_mg(mass_kg: float, rate_mg_per_kg: float | None = None) -> float:
    """Least milbemycin oxime in mg for a body mass in kg: 0.5 mg/kg unless another rate is given.

    Source: 21 CFR 520.1441 (read in the text); 0.1 mg/kg is the rate against heartworm alone.
    """
    label = PUBLISHED_LABELS["milbemycin_oxime"]
    if rate_mg_per_kg is not None:
        label = replace(label, basis=Rate(rate_mg_per_kg, "mg/kg"))
    return band_for(label, mass_kg).amount_at(mass_kg)

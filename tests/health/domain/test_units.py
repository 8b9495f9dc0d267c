"""Label units against pint, an independent unit library."""

from __future__ import annotations

import math
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from health.domain.units import (
    RATE_UNITS,
    FixedAmount,
    Rate,
    Strength,
    amount_holding,
    body_mass_kg,
    plain,
)

registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
PINT_RATE = {"mg/kg": "mg/kg", "mcg/kg": "microgram/kg", "mg/lb": "mg/lb", "mcg/lb": "microgram/lb"}
PINT_STRENGTH = {
    "mg/mL": ("mg/mL", "mg/mL", 1),
    "mcg/mL": ("microgram/mL", "mg/mL", 1),
    "g/L": ("g/L", "mg/mL", 1),
    "% w/v": ("g/(100 mL)", "mg/mL", 1),
    "mg/g": ("mg/g", "mg/g", 1),
    "mcg/g": ("microgram/g", "mg/g", 1),
    "g/kg": ("g/kg", "mg/g", 1),
    "% w/w": ("g/(100 g)", "mg/g", 1),
}


@pytest.mark.parametrize("unit", PINT_RATE)
@given(value=st.floats(0.001, 500))
def test_a_rate_per_kilogram_agrees_with_pint(unit: str, value: float) -> None:
    expected = (value * registry(PINT_RATE[unit])).to("mg/kg").magnitude
    assert math.isclose(Rate(value, unit).per_kg, expected, rel_tol=1e-12)


@pytest.mark.parametrize("unit", PINT_STRENGTH)
def test_a_strength_in_milligrams_agrees_with_pint(unit: str) -> None:
    printed, wanted, _ = PINT_STRENGTH[unit]
    expected = (7.5 * registry(printed)).to(wanted).magnitude
    assert math.isclose(Strength(7.5, unit).mg_per_part, expected, rel_tol=1e-12)


def test_volumes_and_tablets_for_body_mass_follow_the_pound_too() -> None:
    assert Rate(0.5, "mL/kg").amount_for(4) == 2
    assert math.isclose(Rate(1, "tablet/lb").amount_for(4.5359237), 10)
    assert Rate(0.5, "mL/kg").counts == "mL"
    assert Rate(5, "mcg/lb").counts == "mg"


def test_a_rate_says_its_unit_and_the_other_one_in_words() -> None:
    # 2.27 mg/lb is 5.00 mg/kg: 21 CFR 520.2042 prints both.
    assert Rate(2.27, "mg/lb").in_words == (
        "2.27 milligrams for each pound of body weight (that is 5 for each kilogram)"
    )
    assert Rate(5, "mg/kg").in_words.startswith("5 milligrams for each kilogram of body weight (that is 2.27")
    assert Rate(6, "mcg/kg").in_words.startswith("6 micrograms for each kilogram")
    assert FixedAmount(2, "g").in_words == "2 grams of the product for any weight in this band"
    assert Strength(22.2, "% w/w").in_words == "222 milligrams in each gram of product"


@pytest.mark.parametrize(
    "make",
    [
        lambda: Rate(5, "mg"),
        lambda: Rate(5, "kg/mg"),
        lambda: Rate(0, "mg/kg"),
        lambda: Rate(math.nan, "mg/kg"),
        lambda: Strength(5, "mg/kg"),
        lambda: Strength(-5, "mg/mL"),
        lambda: Strength(101, "% w/w"),
        lambda: FixedAmount(1, "kg"),
        lambda: FixedAmount(math.inf, "mL"),
        lambda: body_mass_kg(0.0005),
        lambda: body_mass_kg(120.1),
        lambda: amount_holding(0, Strength(5, "mg/mL")),
    ],
)
def test_impossible_units_and_values_are_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1.984, "1.98"),
        (160, "160"),
        (0.7207, "0.721"),
        (1234.5, "1230"),
        (0.000912, "0.000912"),
        (0, "0"),
        (100, "100"),
    ],
)
def test_numbers_for_people_have_three_figures_and_no_exponent(value: float, text: str) -> None:
    assert plain(value) == text


@given(mass=st.floats(), rate=st.floats(), unit=st.sampled_from(RATE_UNITS))
def test_any_float_gives_a_finite_amount_or_a_value_error(mass: float, rate: float, unit: str) -> None:
    try:
        amount = Rate(rate, unit).amount_for(mass)
    except ValueError:
        return
    assert math.isfinite(amount)
    assert amount > 0


@given(
    lighter=st.floats(0.001, 120),
    heavier=st.floats(0.001, 120),
    rate=st.floats(0.01, 500),
    unit=st.sampled_from(RATE_UNITS),
)
def test_at_one_rate_a_heavier_animal_never_gets_less(
    lighter: float, heavier: float, rate: float, unit: str
) -> None:
    low, high = sorted((lighter, heavier))
    assert Rate(rate, unit).amount_for(low) <= Rate(rate, unit).amount_for(high)

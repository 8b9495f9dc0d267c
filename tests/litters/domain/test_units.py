"""Unit conversions against pint, an independent library of units."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain import units

REGISTRY: pint.UnitRegistry = pint.UnitRegistry()
AMOUNTS = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)
ANY_FLOAT = st.floats()


@pytest.mark.parametrize("unit", units.MASS_UNITS)
@given(value=AMOUNTS)
def test_masses_agree_with_pint(unit: str, value: float) -> None:
    quantity = REGISTRY.Quantity(value, unit)
    assert units.mass_g(value, unit) == pytest.approx(quantity.to("gram").magnitude, rel=1e-12, abs=1e-300)
    assert units.mass_kg(value, unit) == pytest.approx(quantity.to("kg").magnitude, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("unit", units.LENGTH_UNITS)
@given(value=AMOUNTS)
def test_lengths_agree_with_pint(unit: str, value: float) -> None:
    expected = REGISTRY.Quantity(value, {"in": "inch"}.get(unit, unit)).to("mm").magnitude
    assert units.length_mm(value, unit) == pytest.approx(expected, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("unit", "name"), [("kcal", "kilocalorie"), ("kj", "kilojoule"), ("mj", "megajoule")]
)
@given(value=AMOUNTS)
def test_energies_agree_with_pint(unit: str, name: str, value: float) -> None:
    # pint's calorie is the thermochemical one, 4.184 J.
    expected = REGISTRY.Quantity(value, name).to("kilocalorie").magnitude
    assert units.energy_kcal(value, unit) == pytest.approx(expected, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(("unit", "name"), [("c", "degC"), ("f", "degF")])
@given(value=st.floats(min_value=-100, max_value=200))
def test_temperatures_agree_with_pint(unit: str, name: str, value: float) -> None:
    expected = REGISTRY.Quantity(value, name).to("degC").magnitude
    assert units.temperature_c(value, unit) == pytest.approx(expected, abs=1e-9)


@given(value=AMOUNTS)
def test_volumes_agree_with_pint(value: float) -> None:
    assert units.volume_ml(value, "l") == pytest.approx(
        REGISTRY.Quantity(value, "litre").to("millilitre").magnitude, rel=1e-12, abs=1e-300
    )


@pytest.mark.parametrize("unit", units.MASS_UNITS)
@given(value=AMOUNTS)
def test_a_mass_comes_back_from_its_round_trip(unit: str, value: float) -> None:
    assert units.mass_in(units.mass_g(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("unit", units.ENERGY_UNITS)
@given(value=AMOUNTS)
def test_an_energy_comes_back_from_its_round_trip(unit: str, value: float) -> None:
    assert units.energy_in(units.energy_kcal(value, unit), unit) == pytest.approx(
        value, rel=1e-12, abs=1e-300
    )


@pytest.mark.parametrize("unit", units.TEMPERATURE_UNITS)
@given(value=st.floats(min_value=-100, max_value=200))
def test_a_temperature_comes_back_from_its_round_trip(unit: str, value: float) -> None:
    assert units.temperature_in(units.temperature_c(value, unit), unit) == pytest.approx(value, abs=1e-9)


@given(value=ANY_FLOAT)
def test_any_float_converts_to_a_finite_number_or_is_refused(value: float) -> None:
    for convert, unit in [
        (units.mass_g, "kg"),
        (units.mass_kg, "lb"),
        (units.mass_in, "mg"),
        (units.energy_kcal, "mj"),
        (units.energy_in, "kj"),
        (units.length_mm, "in"),
        (units.volume_ml, "l"),
        (units.temperature_c, "f"),
        (units.temperature_in, "f"),
    ]:
        try:
            assert math.isfinite(convert(value, unit))
        except ValueError:
            assert not math.isfinite(value) or abs(value) > 1e300


def test_an_unknown_unit_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="stone"):
        units.mass_g(1, "stone")
    with pytest.raises(ValueError, match="kelvin"):
        units.temperature_c(1, "kelvin")

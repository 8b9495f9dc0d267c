"""Milk output and pregnancy gain."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.dam_body import peak_milk_l_per_day, pregnancy_gain, total_milk_l


def test_the_published_example_comes_out() -> None:
    # Grandjean 1986 in Small Animal Clinical Nutrition Table 15-8: 30 kg, 8 pups give 72 L and 2.9 L a day.
    assert total_milk_l(30, 8) == pytest.approx(72)
    assert peak_milk_l_per_day(30, 8) == pytest.approx(2.9, rel=0.01)


@pytest.mark.parametrize(("mass_kg", "litres"), [(8, 12.8), (8.01, 14.418), (24.99, 44.982), (25, 50)])
def test_the_size_steps_lie_where_they_are_published(mass_kg: float, litres: float) -> None:
    # k = 1.6 to 8 kg, 1.8 between, 2.0 from 25 kg, four pups.
    assert total_milk_l(mass_kg, 4) == pytest.approx(litres)


@given(mass=st.floats(min_value=0.5, max_value=119), pups=st.integers(min_value=1, max_value=29))
def test_more_mass_or_pups_never_mean_less_milk(mass: float, pups: int) -> None:
    assert total_milk_l(mass + 1, pups) > total_milk_l(mass, pups) > 0
    assert total_milk_l(mass, pups + 1) > total_milk_l(mass, pups)


@given(mass=st.floats(), other=st.floats(), pups=st.integers())
def test_any_input_gives_finite_numbers_or_is_refused(mass: float, other: float, pups: int) -> None:
    for reckon in (lambda: total_milk_l(mass, pups), lambda: pregnancy_gain(mass, other).gain_pct):
        try:
            assert math.isfinite(reckon())
        except ValueError:
            continue


@pytest.mark.parametrize(("now_kg", "cautions"), [(23.75, 0), (24, 1), (18, 1), (19, 0)])
def test_a_gain_above_a_quarter_and_a_loss_are_said(now_kg: float, cautions: int) -> None:
    # About 25 % by term: Small Animal Clinical Nutrition, 5th ed., Table 15-2.
    gain = pregnancy_gain(19, now_kg)
    assert len(gain.cautions) == cautions
    assert (gain.at_term_low_kg, gain.at_term_high_kg) == pytest.approx((21.85, 23.75))

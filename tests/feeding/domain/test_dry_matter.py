"""Dry matter: round trips and limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.dry_matter import (
    as_fed_pct,
    dry_matter_pct,
    energy_kcal_per_g_dry_matter,
    grams_per_1000_kcal,
    on_dry_matter_pct,
)


@given(content=st.floats(min_value=0, max_value=100), moisture=st.floats(min_value=0, max_value=99))
def test_a_content_comes_back_from_as_fed_to_dry_matter(content: float, moisture: float) -> None:
    as_fed = as_fed_pct(content, moisture)
    assert on_dry_matter_pct(min(as_fed, 100 - moisture), moisture) == pytest.approx(
        content, rel=1e-9, abs=1e-12
    )


def test_the_limits_of_a_profile_convert_between_both_bases() -> None:
    # AAFCO 2016 profile: 1.2 % and 1.8 % calcium of dry matter are 3.0 and 4.5 g/1000 kcal at 4.0 kcal/g.
    assert grams_per_1000_kcal(1.2, 4.0) == pytest.approx(3.0)
    assert grams_per_1000_kcal(1.8, 4.0) == pytest.approx(4.5)
    assert grams_per_1000_kcal(2.5, 4.0) == pytest.approx(6.25)


def test_energy_of_dry_matter_leaves_the_water_out() -> None:
    assert energy_kcal_per_g_dry_matter(3600, 10) == pytest.approx(4.0)
    assert energy_kcal_per_g_dry_matter(1000, 75) == pytest.approx(4.0)


def test_water_alone_has_no_dry_matter_and_a_content_cannot_exceed_it() -> None:
    with pytest.raises(ValueError, match="no dry matter"):
        dry_matter_pct(100)
    with pytest.raises(ValueError, match="as fed"):
        on_dry_matter_pct(30, 77)


@given(first=st.floats(), second=st.floats())
def test_any_floats_give_a_finite_number_or_are_refused(first: float, second: float) -> None:
    for reckon in (on_dry_matter_pct, as_fed_pct, grams_per_1000_kcal, energy_kcal_per_g_dry_matter):
        try:
            value = reckon(first, second)
        except ValueError:
            continue
        assert math.isfinite(value)
        assert value >= 0

"""Published label minimums: figures printed in 21 CFR 520 and worked by hand from them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from health.domain import label_minimums as minimums
from health.domain.published_labels import FIVE_POUNDS_KG, PUBLISHED_LABELS, PYRANTEL_BASE_PER_PAMOATE
from health.domain.toxins import chocolate, theobromine_band, theobromine_mg_per_kg, xylitol, xylitol_band

# Standard atomic weights (IUPAC 2021, abridged): C 12.011, H 1.008, N 14.007, O 15.999, S 32.06.
ATOMIC_WEIGHT = {"C": 12.011, "H": 1.008, "N": 14.007, "O": 15.999, "S": 32.06}
PYRANTEL = {"C": 11, "H": 14, "N": 2, "S": 1}
PAMOIC_ACID = {"C": 23, "H": 16, "O": 6}


def molar_mass(formula: dict[str, int]) -> float:
    return sum(ATOMIC_WEIGHT[element] * number for element, number in formula.items())


def test_pyrantel_is_at_least_4_54_mg_per_lb_up_to_and_including_five_pounds() -> None:
    # 21 CFR 520.2042: at least 4.54 mg/lb at 5 lb or less, at least 2.27 mg/lb over 5 lb.
    assert minimums.pyrantel_min_mg(FIVE_POUNDS_KG) == pytest.approx(5 * 4.54)
    assert minimums.pyrantel_min_mg(FIVE_POUNDS_KG + 0.001) == pytest.approx(5 * 2.27, rel=1e-3)
    assert minimums.pyrantel_min_mg(0.45359237) == pytest.approx(4.54)
    assert minimums.pyrantel_min_mg(4.5359237) == pytest.approx(22.7)


def test_the_share_of_base_in_pyrantel_pamoate_follows_from_the_formulas() -> None:
    share = molar_mass(PYRANTEL) / (molar_mass(PYRANTEL) + molar_mass(PAMOIC_ACID))
    assert pytest.approx(share, rel=1e-4) == PYRANTEL_BASE_PER_PAMOATE


def test_the_limit_of_two_pounds_is_907_grams() -> None:
    # 2 lb = 907.18 g; scales show whole grams, so 907 g passes and 906 g does not.
    assert minimums.milbemycin_allowed(28, 0.907)
    assert minimums.milbemycin_allowed(28, 907 * 0.001)
    assert not minimums.milbemycin_allowed(28, 0.906)
    assert not minimums.milbemycin_allowed(28, 0.9)


def test_the_limit_of_four_and_of_six_weeks_is_passed_on_that_day() -> None:
    assert [minimums.milbemycin_allowed(days, 2.0) for days in (27, 28)] == [False, True]
    assert [minimums.milbemycin_praziquantel_allowed(days, 2.0) for days in (41, 42)] == [False, True]


def test_course_and_volume_are_plain_multiples() -> None:
    assert minimums.course_mg(3.2, 50, 3) == pytest.approx(480)
    assert minimums.product_g(160, 222) == pytest.approx(0.7207, rel=1e-4)
    assert minimums.volume_ml(160, 100) == pytest.approx(1.6)
    assert minimums.milbemycin_min_mg(6.0) == pytest.approx(3)
    assert minimums.milbemycin_min_mg(6.0, 0.1) == pytest.approx(0.6)


@pytest.mark.parametrize(
    "make",
    [
        lambda: minimums.course_mg(3.2, 50, 0),
        lambda: minimums.pyrantel_min_mg(0),
        lambda: minimums.pyrantel_min_mg(math.nan),
        lambda: minimums.volume_ml(10, 0),
        lambda: minimums.milbemycin_allowed(-1, 1.0),
        lambda: theobromine_mg_per_kg(-1, 16, 10),
        lambda: theobromine_mg_per_kg(10, 1001, 10),
        lambda: theobromine_band(math.inf),
        lambda: xylitol_band(-0.1),
        lambda: xylitol(1, 0),
    ],
)
def test_impossible_values_are_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


def test_every_published_record_names_its_source_and_what_only_a_vet_doses_has_no_basis() -> None:
    for record in PUBLISHED_LABELS.values():
        assert record.source
        assert not (record.vet_only and record.basis)


@given(mass=st.floats())
def test_pyrantel_is_finite_or_refused_for_any_float(mass: float) -> None:
    try:
        dose_mg = minimums.pyrantel_min_mg(mass)
    except ValueError:
        assert not 0.001 <= mass <= 120
        return
    assert 0 < dose_mg < 1000


@given(light=st.floats(0.001, 120), heavy=st.floats(0.001, 120))
def test_pyrantel_rises_with_mass_on_each_side_of_five_pounds(light: float, heavy: float) -> None:
    low, high = sorted((light, heavy))
    if (low <= FIVE_POUNDS_KG) == (high <= FIVE_POUNDS_KG):
        assert minimums.pyrantel_min_mg(low) <= minimums.pyrantel_min_mg(high)


# --- chocolate and xylitol: thresholds as quoted from toxicology texts --------------------------------


@pytest.mark.parametrize(
    ("amount", "band"),
    [
        (0, "below_20"),
        (19.99, "below_20"),
        (20, "mild_20"),
        (39.99, "mild_20"),
        (40, "cardiac_40"),
        (59.99, "cardiac_40"),
        (60, "seizure_60"),
        (500, "seizure_60"),
    ],
)
def test_methylxanthine_bands_begin_at_their_threshold(amount: float, band: str) -> None:
    assert theobromine_band(amount) == band


@pytest.mark.parametrize(
    ("amount", "band"),
    [
        (0, "below_0.1"),
        (0.1, "below_0.1"),
        (0.1001, "hypoglycaemia"),
        (0.5, "hypoglycaemia"),
        (0.5001, "liver"),
    ],
)
def test_xylitol_bands_begin_above_their_threshold(amount: float, band: str) -> None:
    # Compend Contin Educ Vet 2010;32(2):E1-4: more than 0.1 g/kg, more than 0.5 g/kg.
    assert xylitol_band(amount) == band


def test_every_answer_about_a_poison_says_ring_whatever_the_band() -> None:
    answers = [chocolate(1, 2.3, 40), chocolate(50, 16, 10), xylitol(0.01, 30), xylitol(3, 5)]
    assert [one.band for one in answers] == ["below_20", "seizure_60", "below_0.1", "liver"]
    assert all(one.action.startswith("Ring the vet") and one.source for one in answers)


@given(eaten=st.floats(), content=st.floats(), mass=st.floats())
def test_a_poison_answer_is_finite_or_refused_for_any_floats(
    eaten: float, content: float, mass: float
) -> None:
    asked: list[Callable[[], float]] = [
        lambda: theobromine_mg_per_kg(eaten, content, mass),
        lambda: xylitol(eaten, mass).per_kg,
    ]
    for ask in asked:
        try:
            per_kg = ask()
        except ValueError:
            continue
        assert math.isfinite(per_kg)
        assert per_kg >= 0


@given(less=st.floats(0, 1000), more=st.floats(0, 1000))
def test_more_chocolate_never_lands_in_a_lower_band(less: float, more: float) -> None:
    order = ["below_20", "mild_20", "cardiac_40", "seizure_60"]
    low, high = sorted((less, more))
    assert order.index(theobromine_band(low)) <= order.index(theobromine_band(high))

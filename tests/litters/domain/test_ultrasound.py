"""Fetal ultrasound: the published formulas, the choice among them, and the spread of a scan."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from litters.domain import gestation
from litters.domain.gestation import FormulaBreed, LengthUnit, Scan, ScanStructure, ScanUnusable, read_scan
from litters.domain.gestation_figures import sd_from_share_within

ICC, BP = ScanStructure.INNER_CHORIONIC_CAVITY, ScanStructure.BIPARIETAL
SAC, HEAD = ScanStructure.GESTATIONAL_SAC, ScanStructure.HEAD
MM, CM = LengthUnit.MM, LengthUnit.CM
ON = date(2026, 3, 30)

FORMULAS = (
    gestation.days_before_parturition_icc_small,
    gestation.days_before_parturition_icc_medium,
    gestation.days_before_parturition_bp_small,
    gestation.days_before_parturition_bp_medium,
    gestation.days_before_parturition_icc_german_shepherd,
    gestation.days_before_parturition_bpd_german_shepherd,
    gestation.days_before_parturition_bpd_chihuahua,
)
AGES = (gestation.gestational_age_from_sac_days, gestation.gestational_age_from_head_days)


def scan(structure: ScanStructure, *readings: float, unit: LengthUnit = MM) -> Scan:
    return Scan(ON, structure, readings, unit)


@pytest.mark.parametrize("formula", [*FORMULAS, *AGES, gestation.days_left_from_gestational_age])
@given(value=st.floats())
def test_any_number_gives_a_finite_answer_or_is_refused(formula, value: float) -> None:
    try:
        answer = formula(value)
    except ValueError:
        return
    assert math.isfinite(answer)
    assert 0 <= answer <= 66


@pytest.mark.parametrize("formula", FORMULAS)
@given(value=st.floats(min_value=0.1, max_value=80), more=st.floats(min_value=0.01, max_value=20))
def test_a_larger_fetus_has_fewer_days_left(formula, value: float, more: float) -> None:
    try:
        smaller, larger = formula(value), formula(value + more)
    except ValueError:
        return
    assert larger < smaller


@pytest.mark.parametrize("formula", AGES)
@given(value=st.floats(min_value=0.1, max_value=2.5), more=st.floats(min_value=0.01, max_value=0.4))
def test_a_larger_fetus_is_older(formula, value: float, more: float) -> None:
    assert formula(value + more) > formula(value)


@given(st.floats(min_value=20, max_value=65))
def test_age_and_days_left_make_65_days(age: float) -> None:
    assert age + gestation.days_left_from_gestational_age(age) == pytest.approx(65)


def test_the_published_ranges_of_the_field_study_come_out() -> None:
    # Javeid et al., twenty bitches: sac 1.2-3.3 cm gives 27.2-39.8 days, head 1.5-2.4 cm gives 42.5-56 days.
    assert gestation.gestational_age_from_sac_days(1.2) == pytest.approx(27.2)
    assert gestation.gestational_age_from_sac_days(3.3) == pytest.approx(39.8)
    assert gestation.gestational_age_from_head_days(1.5) == pytest.approx(42.5)
    assert gestation.gestational_age_from_head_days(2.4) == pytest.approx(56.0)
    assert gestation.days_left_from_gestational_age(56.0) == pytest.approx(9.0)


@pytest.mark.parametrize(
    ("mass_kg", "days"), [(8.9, 1), (9.0, 0), (20.0, 0), (40.0, 0), (40.1, -2), (120.0, -2)]
)
def test_the_size_correction_holds_below_9_and_above_40_kg(mass_kg: float, days: int) -> None:
    # Kutzler et al. 2003 as quoted by an imaging-education page.
    assert gestation.size_correction_days(mass_kg) == days


@pytest.mark.parametrize("mass_kg", [0.0, -3.0, 121.0, math.nan, math.inf])
def test_an_impossible_dam_is_refused(mass_kg: float) -> None:
    with pytest.raises(ValueError):
        gestation.size_correction_days(mass_kg)


@pytest.mark.parametrize(
    ("structure", "mass_kg", "breed", "key"),
    [
        (ICC, 6.0, None, "dbp_icc_small"),
        (ICC, 10.0, None, "dbp_icc_small"),
        (ICC, 10.1, None, "dbp_icc_medium"),
        (BP, 25.0, None, "dbp_bp_medium"),
        (ICC, 32.0, FormulaBreed.GERMAN_SHEPHERD, "dbp_icc_gsd"),
        (BP, None, FormulaBreed.GERMAN_SHEPHERD, "dbp_bpd_gsd"),
        (BP, 2.4, FormulaBreed.CHIHUAHUA, "dbp_bpd_chihuahua"),
        (ICC, 2.4, FormulaBreed.CHIHUAHUA, "dbp_icc_small"),
        (SAC, None, None, "ga_from_sac"),
        (HEAD, 55.0, None, "ga_from_head"),
    ],
)
def test_the_formula_fits_the_dam(structure, mass_kg, breed, key: str) -> None:
    assert gestation.formula_for(structure, dam_mass_kg=mass_kg, breed=breed).key == key


def test_above_25_kg_the_small_and_medium_formulas_are_refused() -> None:
    # Socha & Janowski 2014: the formulas cover dams up to 25 kg.
    with pytest.raises(ScanUnusable, match="outside the range of the formula") as refused:
        read_scan(scan(ICC, 30, 31), dam_mass_kg=25.1)
    assert refused.value.key == "dam_outside_formula"


def test_a_formula_refuses_a_dam_of_another_size() -> None:
    with pytest.raises(ValueError, match="outside the range"):
        gestation.days_before_parturition_icc_small(30, dam_mass_kg=12)
    with pytest.raises(ValueError, match="outside the range"):
        gestation.days_before_parturition_bp_medium(20, dam_mass_kg=30)
    assert gestation.days_before_parturition_icc_small(30, dam_mass_kg=10) > 0
    assert gestation.days_before_parturition_icc_medium(30, dam_mass_kg=10) > 0


def test_without_her_weight_the_sized_formulas_wait_for_it() -> None:
    with pytest.raises(ScanUnusable, match="weight before pregnancy") as refused:
        read_scan(scan(ICC, 30, 31), dam_mass_kg=None)
    assert refused.value.key == "dam_weight_missing"


def test_millimetres_typed_as_centimetres_are_found_and_the_other_unit_is_offered() -> None:
    with pytest.raises(ScanUnusable, match="In mm it would mean 29 days left") as refused:
        read_scan(scan(ICC, 30, 30, unit=CM), dam_mass_kg=19)
    assert refused.value.key == "scan_impossible"


def test_a_scan_is_the_same_in_either_unit() -> None:
    one = read_scan(scan(BP, 18.0, 20.0), dam_mass_kg=19)
    other = read_scan(scan(BP, 1.8, 2.0, unit=CM), dam_mass_kg=19)
    assert one.days_left == pytest.approx(other.days_left)
    assert one.mean_reading == pytest.approx(19.0)


def test_readings_of_two_fetuses_are_averaged_and_one_alone_is_cautioned() -> None:
    both = read_scan(scan(ICC, 28, 32), dam_mass_kg=19)
    alone = read_scan(scan(ICC, 30), dam_mass_kg=19)
    assert both.days_left == pytest.approx(alone.days_left)
    assert any("at least two" in caution for caution in alone.cautions)
    assert not any("at least two" in caution for caution in both.cautions)


def test_readings_that_differ_more_than_twofold_hold_a_slip() -> None:
    with pytest.raises(ScanUnusable, match="slip") as refused:
        read_scan(scan(ICC, 3.0, 30.0), dam_mass_kg=19)
    assert refused.value.key == "readings_disagree"


@pytest.mark.parametrize("readings", [(), (0.0, 20.0), (-1.0,), (math.nan, 20.0), (math.inf,), (1.7e308,)])
def test_no_reading_or_an_impossible_one_is_unusable(readings: tuple[float, ...]) -> None:
    with pytest.raises(ScanUnusable):
        read_scan(scan(ICC, *readings), dam_mass_kg=19)


def test_sac_and_head_formulas_keep_to_their_side_of_day_40() -> None:
    assert read_scan(scan(SAC, 3.3, 3.3, unit=CM), dam_mass_kg=19).days_left == pytest.approx(25.2)
    with pytest.raises(ScanUnusable, match="below day 40"):
        read_scan(scan(SAC, 3.6, 3.6, unit=CM), dam_mass_kg=19)
    with pytest.raises(ScanUnusable, match="above day 40"):
        read_scan(scan(HEAD, 1.2, 1.2, unit=CM), dam_mass_kg=19)


@pytest.mark.parametrize(
    ("days", "share"), [(1, 0.81), (2, 0.931), (1, 0.677), (2, 0.859), (1, 0.95), (2, 0.5)]
)
def test_a_published_share_within_so_many_days_comes_back_from_its_spread(days: int, share: float) -> None:
    # scipy's normal curve as the outside check: whole days reach half a day further.
    sd = sd_from_share_within(days, share)
    assert norm(0, sd).cdf(days + 0.5) - norm(0, sd).cdf(-days - 0.5) == pytest.approx(share)


@pytest.mark.parametrize(("days", "share"), [(-1, 0.9), (1, 0.0), (1, 1.0), (1, math.nan)])
def test_a_share_that_is_none_is_refused(days: int, share: float) -> None:
    with pytest.raises(ValueError):
        sd_from_share_within(days, share)


def test_no_published_accuracy_is_overstated() -> None:
    # Beccaglia & Luvoni 2012: shares within +/-1 and +/-2 days; the spread used may only be wider.
    published = [
        (ICC, 24, 1, 0.81), (ICC, 24, 2, 0.931), (ICC, 31, 1, 0.677), (ICC, 31, 2, 0.859),
        (BP, 31, 1, 0.786), (BP, 31, 2, 0.952), (BP, 38, 1, 0.789), (BP, 60, 1, 0.509), (BP, 60, 2, 0.698),
    ]  # fmt: skip
    for structure, age, days, share in published:
        reading = read_scan(_medium_scan(structure, age), dam_mass_kg=19)
        spread = norm(0, reading.sd_days)
        assert spread.cdf(days + 0.5) - spread.cdf(-days - 0.5) <= share + 1e-9


def test_late_scans_are_less_sure_than_early_ones() -> None:
    early, middle, late = (read_scan(_medium_scan(BP, age), dam_mass_kg=19).sd_days for age in (38, 46, 60))
    assert early < middle < late


def test_a_breed_formula_past_its_best_counts_as_less_sure() -> None:
    # Cecchetto et al. 2017: ICC best while more than 35 days remain, BPD more than 15.
    gsd = FormulaBreed.GERMAN_SHEPHERD
    early = read_scan(scan(ICC, 2.0, 2.0, unit=CM), dam_mass_kg=32, breed=gsd)
    late = read_scan(scan(ICC, 3.4, 3.4, unit=CM), dam_mass_kg=32, breed=gsd)
    assert early.days_left > 35 > late.days_left
    assert late.sd_days > early.sd_days
    assert any("35 days" in caution for caution in late.cautions)


def _medium_scan(structure: ScanStructure, age_days: int) -> Scan:
    """A scan of a medium dam that gives this age since the surge, from Luvoni & Grioni's lines turned
    round."""
    left = 65 - age_days - 0.5
    reading = 82.13 - 1.8 * left if structure == ICC else 29.18 - 0.7 * left
    return scan(structure, reading, reading)

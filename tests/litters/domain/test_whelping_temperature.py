"""The temperature fall before whelping, held against the dam's own mean."""

import math
import random
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.whelping import FallRule, TemperatureReading, temperature_falls
from tests.litters.domain.labour_lines import at


def rounds(*values_c: float, every_h: int = 8) -> list[TemperatureReading]:
    """Readings eight hours apart from midnight on."""
    return [TemperatureReading(at(every_h * number), value) for number, value in enumerate(values_c)]


def test_below_37_2_is_a_fall_even_without_a_mean() -> None:
    report = temperature_falls(rounds(37.1))
    assert [fall.is_clear for fall in report.falls] == [True]
    assert report.falls[0].own_mean_c is None
    assert not temperature_falls(rounds(37.2)).falls


def test_a_dam_that_runs_warm_is_held_against_her_own_mean() -> None:
    # Common practice: 0.6 to 1.0 C under her own three-day mean.
    report = temperature_falls(rounds(38.4, 38.5, 38.3, 38.4, 37.8))
    assert len(report.falls) == 1
    fall = report.falls[0]
    assert fall.own_mean_c == pytest.approx(38.4)
    assert not fall.is_clear
    assert "under her own mean" in fall.reason


def test_the_limits_of_the_drop_are_exact_in_tenths() -> None:
    assert not temperature_falls(rounds(38.2, 38.2, 38.2, 37.7)).falls
    assert not temperature_falls(rounds(38.2, 38.2, 38.2, 37.6)).falls[0].is_clear
    assert temperature_falls(rounds(38.4, 38.4, 38.4, 37.4)).falls[0].is_clear


def test_labour_is_likely_8_to_24_hours_after_the_fall() -> None:
    # Merck Veterinary Manual, Whelping and Queening.
    fall = temperature_falls(rounds(38.2, 38.2, 38.2, 36.9)).falls[0]
    assert fall.labour_likely_from_at - fall.at == timedelta(hours=8)
    assert fall.labour_likely_until_at - fall.at == timedelta(hours=24)


def test_too_few_readings_make_no_mean() -> None:
    report = temperature_falls(rounds(38.6, 38.6, 37.9))
    assert not report.falls
    assert report.own_mean_c == pytest.approx((38.6 + 38.6 + 37.9) / 3)


def test_only_the_last_three_days_make_her_mean() -> None:
    warm, usual = [39.0] * 9, [38.0] * 9
    report = temperature_falls(rounds(*warm, *usual, 37.9))
    assert not [fall for fall in report.falls if fall.at == at(8 * 18)]


def test_a_low_reading_does_not_lower_the_mean_of_the_next_one() -> None:
    report = temperature_falls(rounds(38.3, 38.3, 38.3, 37.5, 37.6, 37.6))
    assert len(report.falls) == 1
    assert report.own_mean_c == pytest.approx(38.3)


def test_a_fall_that_recovers_says_when() -> None:
    fall = temperature_falls(rounds(38.3, 38.3, 38.3, 37.0, 38.2, 38.3)).falls[0]
    assert fall.at == at(24)
    assert fall.recovered_at == at(32)


def test_a_possible_fall_becomes_clear_when_it_deepens() -> None:
    falls = temperature_falls(rounds(38.3, 38.3, 38.3, 37.6, 37.0)).falls
    assert len(falls) == 1
    assert falls[0].is_clear
    assert falls[0].at == at(24)


def test_a_second_fall_after_a_recovery_is_a_second_fall() -> None:
    assert len(temperature_falls(rounds(38.3, 38.3, 38.3, 37.0, 38.3, 37.0)).falls) == 2


def test_missed_rounds_are_said_and_no_fall_is_never_reassurance() -> None:
    report = temperature_falls(rounds(38.3, 38.3, 38.2, every_h=20))
    assert len(report.gaps) == 2
    assert "20 h without a reading" in report.gaps[0]
    assert "never reassurance" in report.caution
    assert not temperature_falls(rounds(38.3, 38.3)).gaps


def test_a_vet_may_set_another_rule() -> None:
    assert not temperature_falls(rounds(37.1), FallRule(below_c=36.9)).falls


def test_no_reading_is_no_fall() -> None:
    report = temperature_falls([])
    assert (report.falls, report.own_mean_c, report.gaps) == ((), None, ())


@pytest.mark.parametrize("value_c", [29.9, 43.1, math.nan, math.inf, 98.6])
def test_an_impossible_temperature_or_fahrenheit_is_refused(value_c: float) -> None:
    with pytest.raises(ValueError):
        TemperatureReading(at(0), value_c)
    with pytest.raises(ValueError, match="offset"):
        TemperatureReading(datetime(2026, 5, 5), 38.0)


@given(
    st.lists(st.floats(min_value=35.0, max_value=40.0), min_size=1, max_size=20),
    st.randoms(use_true_random=False),
)
def test_the_order_of_entry_changes_nothing(values_c: list[float], source: random.Random) -> None:
    readings = rounds(*values_c)
    shuffled = readings[:]
    source.shuffle(shuffled)
    assert temperature_falls(shuffled) == temperature_falls(readings)


@given(st.lists(st.floats(min_value=38.0, max_value=38.5), min_size=1, max_size=20))
def test_a_steady_dam_has_no_fall(values_c: list[float]) -> None:
    assert not temperature_falls(rounds(*values_c)).falls


@given(
    st.lists(st.floats(min_value=37.3, max_value=38.5), min_size=4, max_size=12),
    st.floats(min_value=0.01, max_value=2),
)
def test_a_lower_last_reading_is_never_less_of_a_fall(values_c: list[float], lower_c: float) -> None:
    def last_is_low(values: list[float]) -> bool:
        falls = temperature_falls(rounds(*values)).falls
        return bool(falls) and falls[-1].recovered_at is None

    if last_is_low(values_c):
        assert last_is_low([*values_c[:-1], values_c[-1] - lower_c])

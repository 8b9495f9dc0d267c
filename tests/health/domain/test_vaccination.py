"""Vaccination: ages and gaps as quoted from WSAVA 2024 and AAHA 2017; dates by hand or by dateutil."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from health.domain import vaccination as vaccines
from health.domain.vaccination import CORE, LEPTOSPIROSIS, RABIES, RULES, series_state

BORN = date(2026, 3, 1)


def at_days(*days: int, born_on: date = BORN) -> list[date]:
    return [born_on + timedelta(days=one) for one in days]


@pytest.mark.parametrize(
    ("days", "complete"),
    [
        ((42, 70, 98, 119), True),
        ((42, 70, 98, 112), True),  # 16 weeks exactly, gap of 14 exactly
        ((42, 70, 98, 111), False),  # a day short of 16 weeks
        ((42, 70, 98), False),  # three doses are not enough when the last came early
        ((41, 69, 97, 119), False),  # a day short of 6 weeks
        ((42, 84, 126), True),  # gaps of 42 exactly
        ((42, 85, 127), False),  # a gap of 43
        ((42, 55, 83, 112), False),  # a gap of 13
        ((119, 98, 70, 42), True),  # any order
        ((), False),
        ((112,), True),  # complete by age, never by count
    ],
)
def test_the_core_series_is_complete_by_age_and_gaps(days: tuple[int, ...], complete: bool) -> None:
    # Ages 6-8 and 16 weeks, repeats: WSAVA 2024 (secondary quotation); 6 weeks longest gap: AAHA 2017.
    assert vaccines.core_series_complete(BORN, at_days(*days)) is complete


def test_every_reason_against_completeness_is_said() -> None:
    state = series_state(CORE, BORN, at_days(30, 80))
    assert not state.complete
    assert [
        any(word in reason for reason in state.reasons) for word in ("30 days of age", "50 days", "80 days")
    ] == [
        True,
        True,
        True,
    ]
    assert state.source
    assert state.caution


def test_a_booster_after_a_complete_series_does_not_undo_it() -> None:
    state = series_state(CORE, BORN, at_days(42, 70, 98, 119, 182))
    assert state.complete
    assert state.completed_on == at_days(119)[0]
    # Core no oftener than every 3 years (WSAVA, AAHA): 30 August 2026 + 3 years.
    assert state.booster_on == date(2029, 8, 30)


def test_the_booster_after_the_series_is_due_at_26_weeks() -> None:
    assert series_state(CORE, BORN, at_days(42, 70, 98, 119)).booster_on == date(2026, 8, 30)
    assert series_state(CORE, BORN, at_days(84, 112, 140, 160)).booster_on == at_days(182)[0]
    assert series_state(CORE, BORN, at_days(84, 112, 140, 167)).booster_on == at_days(182)[0]


def test_a_series_that_ends_at_26_weeks_or_later_has_its_booster_within_a_year() -> None:
    # AAHA: within 1 year of the last puppy dose (secondary quotation).
    assert series_state(CORE, BORN, at_days(200)).booster_on == at_days(200)[0].replace(year=2027)


def test_the_next_dose_of_a_running_series_has_its_window() -> None:
    first = series_state(CORE, BORN, []).next_dose
    assert first is not None
    assert [first.not_before_on, first.usual_until_on] == at_days(42, 56)
    second = series_state(CORE, BORN, at_days(42)).next_dose
    assert second is not None
    assert [second.not_before_on, second.usual_until_on, second.latest_on] == at_days(56, 70, 84)
    assert "further dose" in second.reason
    last = series_state(CORE, BORN, at_days(42, 70, 98)).next_dose
    assert last is not None
    assert [last.not_before_on, last.usual_until_on, last.latest_on] == at_days(112, 126, 140)
    assert "can be the last" in last.reason


def test_a_series_broken_by_a_long_gap_names_the_restart_rule_for_the_vet() -> None:
    # AAHA 2017, overdue pups: at least 2 doses 3-4 weeks apart ending at 16-20 weeks.
    restarted = series_state(CORE, BORN, at_days(42, 98, 119))
    assert not restarted.complete
    assert restarted.restart
    assert not series_state(CORE, BORN, at_days(42, 105, 119)).restart
    assert not series_state(CORE, BORN, at_days(42, 80, 101)).restart


def test_leptospirosis_needs_two_doses_two_to_four_weeks_apart() -> None:
    assert series_state(LEPTOSPIROSIS, BORN, at_days(56, 70)).complete
    assert series_state(LEPTOSPIROSIS, BORN, at_days(56, 84)).booster_on == at_days(84)[0].replace(year=2027)
    assert not series_state(LEPTOSPIROSIS, BORN, at_days(56)).complete
    assert not series_state(LEPTOSPIROSIS, BORN, at_days(56, 85)).complete
    assert not series_state(LEPTOSPIROSIS, BORN, at_days(55, 75)).complete


def test_kennel_cough_by_nose_needs_one_dose_a_week_before_the_risk_and_by_injection_two() -> None:
    assert series_state(vaccines.KENNEL_COUGH_NASAL, BORN, at_days(21)).complete
    assert not series_state(vaccines.KENNEL_COUGH_NASAL, BORN, at_days(20)).complete
    assert vaccines.nasal_dose_latest_on(date(2026, 8, 1)) == date(2026, 7, 25)
    assert not series_state(vaccines.KENNEL_COUGH_INJECTED, BORN, at_days(56)).complete
    assert series_state(vaccines.KENNEL_COUGH_INJECTED, BORN, at_days(56, 84)).complete


def test_rabies_is_one_dose_at_twelve_weeks_with_a_booster_within_a_year() -> None:
    assert vaccines.rabies_not_before(BORN) == date(2026, 5, 24)
    state = series_state(RABIES, BORN, [date(2026, 5, 24)])
    assert (state.complete, state.booster_on) == (True, date(2027, 5, 24))
    assert not series_state(RABIES, BORN, [date(2026, 5, 23)]).complete


def test_boosters_a_year_or_three_later_fall_on_the_same_calendar_day() -> None:
    assert vaccines.booster_by_on(date(2026, 6, 28)) == date(2027, 6, 28)
    assert vaccines.next_core_not_before(date(2026, 8, 30)) == date(2029, 8, 30)
    assert vaccines.booster_by_on(date(2028, 2, 29)) == date(2029, 3, 1)


@pytest.mark.parametrize(("days", "ok"), [(13, False), (14, True), (0, False), (400, True)])
def test_two_vaccines_lie_at_least_two_weeks_apart(days: int, ok: bool) -> None:
    assert vaccines.interval_ok(BORN, BORN + timedelta(days=days)) is ok


def test_impossible_dates_are_refused() -> None:
    with pytest.raises(ValueError, match="before birth"):
        series_state(CORE, BORN, [date(2026, 2, 28)])
    with pytest.raises(ValueError, match="before the previous"):
        vaccines.interval_ok(date(2026, 3, 2), date(2026, 3, 1))
    with pytest.raises(ValueError, match="years"):
        vaccines.rabies_not_before(date(1, 1, 1))
    with pytest.raises(ValueError, match="calendar date"):
        vaccines.core_series_complete(BORN, [datetime(2026, 5, 1)])


def test_every_rule_names_its_source_and_status() -> None:
    assert all(rule.source and rule.status for rule in RULES.values())


dates = st.dates(date(1990, 1, 1), date(2100, 1, 1))


@given(born_on=dates)
def test_ages_in_weeks_agree_with_dateutil(born_on: date) -> None:
    # Independent library: dateutil.relativedelta counts the weeks.
    assert vaccines.core_last_dose_not_before(born_on) == born_on + relativedelta(weeks=16)
    assert vaccines.booster_26_weeks_on(born_on) == born_on + relativedelta(weeks=26)
    assert vaccines.rabies_not_before(born_on) == born_on + relativedelta(weeks=12)


@given(days=st.lists(st.integers(0, 400), max_size=8), born_on=dates)
def test_complete_means_no_reason_and_incomplete_always_has_one_and_a_next_dose(
    days: list[int], born_on: date
) -> None:
    for rule in RULES.values():
        state = series_state(rule, born_on, at_days(*days, born_on=born_on))
        assert state.complete is (state.reasons == ())
        assert (state.next_dose is None) is state.complete
        assert (state.booster_on is not None) is state.complete
        if state.next_dose is not None:
            window = state.next_dose
            assert window.not_before_on <= window.usual_until_on <= window.latest_on


@given(first=st.integers(42, 56), gaps=st.lists(st.integers(14, 42), min_size=1, max_size=8))
def test_a_series_kept_within_its_gaps_completes_with_the_first_dose_from_sixteen_weeks_on(
    first: int, gaps: list[int]
) -> None:
    days = [first]
    for gap in gaps:
        days.append(days[-1] + gap)
        assert vaccines.core_series_complete(BORN, at_days(*days)) is (days[-1] >= 112)


@pytest.mark.parametrize(
    ("days", "restart"),
    [
        ((42, 91, 112), True),  # the last at 16 weeks exactly, 21 days apart
        ((42, 90, 111), False),
        ((42, 92, 112), False),  # 20 days apart
        ((42, 88, 116), True),  # 28 days apart
        ((42, 88, 117), False),  # 29 days apart
    ],
)
def test_the_restart_rule_holds_from_three_to_four_weeks_and_from_sixteen_weeks_on(
    days: tuple[int, ...], restart: bool
) -> None:
    # AAHA 2017, overdue pups: at least 2 doses 3-4 weeks apart ending at 16-20 weeks.
    assert series_state(CORE, BORN, at_days(*days)).restart is restart


@pytest.mark.parametrize(
    ("last_day", "words"),
    [(69, "further dose"), (70, "can be the last"), (98, "can be the last"), (99, "repeat")],
)
def test_the_reason_of_the_next_dose_tells_whether_it_can_be_the_last(last_day: int, words: str) -> None:
    # 112 days lie within 14 to 42 days of the last dose when that was on day 70 to 98.
    window = series_state(CORE, BORN, at_days(last_day)).next_dose
    assert window is not None
    assert words in window.reason


def test_a_series_without_a_least_age_at_its_end_is_simply_repeated() -> None:
    window = series_state(LEPTOSPIROSIS, BORN, at_days(60)).next_dose
    assert window is not None
    assert (window.reason, window.not_before_on) == ("repeat", at_days(74)[0])

"""Due dates from one event, and the milestones that hang on a window."""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from litters.domain.gestation import (
    DueDates,
    LhSurge,
    Mating,
    Milestone,
    due_from_diestrus_d1,
    due_from_lh,
    due_from_mating,
    due_from_ovulation,
    due_from_progesterone_rise,
    due_window,
    milestones,
    window_from_first_mating,
)

ANCHORS = (
    due_from_lh,
    due_from_progesterone_rise,
    due_from_ovulation,
    due_from_diestrus_d1,
    due_from_mating,
    window_from_first_mating,
)
ANY_DAY = st.dates(min_value=date(1900, 1, 1), max_value=date(2199, 12, 31))


def by_key(found: tuple[Milestone, ...]) -> dict[str, Milestone]:
    return {milestone.key: milestone for milestone in found}


def test_the_merck_lengths_are_64_to_66_days_after_the_surge_or_rise_and_56_to_58_after_d1() -> None:
    # Merck Veterinary Manual, Whelping and Queening in Small Animals.
    day = date(2026, 3, 1)
    for due in (due_from_lh(day), due_from_progesterone_rise(day)):
        assert (due.window_start_on - day).days == 64
        assert (due.window_end_on - day).days == 66
    d1 = due_from_diestrus_d1(day)
    assert [(on - day).days for on in (d1.window_start_on, d1.due_on, d1.window_end_on)] == [56, 57, 58]
    mated = window_from_first_mating(day)
    assert [(on - day).days for on in (mated.window_start_on, mated.window_end_on)] == [58, 72]


def test_lh_ovulation_two_days_later_and_d1_eight_days_later_agree_on_the_due_day() -> None:
    # The usual spacing of the three events (Concannon review page; D1 from memory).
    surge = date(2026, 3, 1)
    due = due_from_lh(surge).due_on
    assert due == date(2026, 5, 5)
    assert due_from_ovulation(surge + timedelta(days=2)).due_on == due
    assert due_from_diestrus_d1(surge + timedelta(days=8)).due_on == due


def test_the_leap_day_counts_as_a_day() -> None:
    assert due_from_lh(date(2028, 1, 1)).due_on == date(2028, 3, 6)
    assert due_from_lh(date(2027, 1, 1)).due_on == date(2027, 3, 7)
    assert due_from_ovulation(date(2028, 2, 29)).due_on == date(2028, 5, 2)


def test_the_ovulation_window_is_the_ninety_percent_of_the_published_spread() -> None:
    # Mir et al. 2011: mean 63.1 d, SD 2.1 d.  scipy's quantiles, taken to whole days, are the outside check.
    day = date(2026, 3, 3)
    low, high = norm(63.1, 2.1).ppf([0.05, 0.95])
    due = due_from_ovulation(day)
    first, last = ((on - day).days for on in (due.window_start_on, due.window_end_on))
    assert first - 0.5 <= low <= first + 0.5
    assert last - 0.5 <= high <= last + 0.5
    assert (last - first) / 2 == pytest.approx(3.5)


@pytest.mark.parametrize("rule", ANCHORS)
@given(day=ANY_DAY)
def test_every_due_day_lies_inside_its_window_and_moves_with_its_anchor(rule, day: date) -> None:
    due: DueDates = rule(day)
    assert day < due.window_start_on <= due.due_on <= due.window_end_on
    if day < date(2199, 12, 31):
        assert rule(day + timedelta(days=1)).due_on == due.due_on + timedelta(days=1)


@pytest.mark.parametrize("rule", ANCHORS)
@pytest.mark.parametrize("wrong", [datetime(2026, 3, 1, 12), date(26, 3, 1), date.max, "2026-03-01"])
def test_an_instant_a_text_or_a_year_out_of_range_is_refused(rule, wrong) -> None:
    with pytest.raises(ValueError):
        rule(wrong)


def test_every_due_date_names_its_method_source_and_caution() -> None:
    for rule in ANCHORS:
        due = rule(date(2026, 3, 1))
        assert due.method
        assert due.source
        assert due.status
        assert due.caution


def test_temperature_rounds_begin_five_days_before_the_window_opens() -> None:
    window = due_window([Mating(date(2026, 3, 4))])
    found = by_key(milestones(window))
    assert found["temperature_rounds"].starts_on == window.earliest_on - timedelta(days=5)
    assert found["temperature_rounds"].ends_on == window.latest_on


def test_milestones_move_when_a_better_date_moves_the_window() -> None:
    mated = due_window([Mating(date(2026, 3, 4))])
    better = due_window([Mating(date(2026, 3, 4)), LhSurge(date(2026, 3, 6))])
    before, after = by_key(milestones(mated)), by_key(milestones(better))
    assert after["window"].starts_on == better.earliest_on
    assert after["room_ready"].starts_on > before["room_ready"].starts_on


def test_the_late_pregnancy_ration_begins_between_day_30_and_35_and_warns_of_calcium() -> None:
    # NRC 2006 Table 15-6: from week 5, about day 30 to 35; Merck on calcium in pregnancy.
    window = due_window([LhSurge(date(2026, 3, 1))])
    ration = by_key(milestones(window))["late_gestation_ration"]
    day = 63 - (window.likeliest_on - ration.starts_on).days
    assert 30 <= day <= 35
    assert "calcium" in ration.caution.lower()


def test_the_x_ray_comes_after_day_45_in_the_last_ten_days_and_before_the_likeliest_day() -> None:
    # UC Davis leaflet: useful beyond day 45, best count in the last 7 to 10 days.
    for evidence in ([LhSurge(date(2026, 3, 1))], [Mating(date(2026, 3, 1))]):
        window = due_window(evidence)
        x_ray = by_key(milestones(window))["x_ray"]
        left = [(window.likeliest_on - on).days for on in (x_ray.starts_on, x_ray.ends_on)]
        assert left[0] <= 10
        assert left[1] >= 7
        assert 63 - left[0] > 45


def test_the_scan_falls_in_the_days_the_leaflets_name() -> None:
    # UC Davis leaflet: ultrasound d 21-30, heartbeat from d 23-25.
    window = due_window([LhSurge(date(2026, 3, 1))])
    scan = by_key(milestones(window))["scan"]
    days = [63 - (window.likeliest_on - on).days for on in (scan.starts_on, scan.ends_on)]
    assert 23 <= days[0] <= days[1] <= 30


def test_overdue_days_are_the_first_day_beyond_each_published_limit() -> None:
    # Jutkowitz 2005: more than 70 d from mating; Freshman 2002: more than 72 d from the last; 66 d from LH.
    first, last, surge = date(2026, 3, 1), date(2026, 3, 5), date(2026, 3, 2)
    window = due_window([Mating(first), Mating(last), LhSurge(surge)])
    found = by_key(milestones(window, first_mating_on=first, last_mating_on=last, lh_surge_on=surge))
    assert found["overdue_first_mating"].starts_on == first + timedelta(days=71)
    assert found["overdue_last_mating"].starts_on == last + timedelta(days=73)
    assert found["overdue_lh"].starts_on == surge + timedelta(days=67)
    assert found["window_passed"].starts_on == window.latest_on + timedelta(days=1)


def test_without_matings_only_the_window_says_when_she_is_overdue() -> None:
    keys = set(by_key(milestones(due_window([LhSurge(date(2026, 3, 1))]))))
    assert not keys & {"overdue_first_mating", "overdue_last_mating", "overdue_lh"}
    assert "window_passed" in keys


def test_milestones_come_in_order_and_each_carries_its_basis() -> None:
    found = milestones(due_window([LhSurge(date(2026, 3, 1))]))
    assert [item.starts_on for item in found] == sorted(item.starts_on for item in found)
    assert all(item.basis and item.status and item.starts_on <= item.ends_on for item in found)

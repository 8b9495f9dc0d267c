"""Rules by place: figures read in the named law texts (see each rule's source); dates against dateutil."""

from __future__ import annotations

import dataclasses
import json
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from litters.domain import law_checks as law
from litters.domain.place_rules import RuleSet, Topic
from litters.domain.rules_by_place import RULE_SETS, rule_set

dates = st.dates(date(1990, 1, 1), date(2100, 1, 1))
BORN = date(2026, 3, 1)


# --- rule sets ------------------------------------------------------------------------------------------


def test_every_rule_shows_its_place_source_status_and_day_of_reading() -> None:
    for rules in RULE_SETS.values():
        for rule in rules.rules:
            assert rule.place in rule.label
            assert rule.source in rule.label
            assert rule.status in rule.label
            assert rule.read_on.isoformat() in rule.label
        keys = [rule.key for rule in rules.rules]
        assert len(set(keys)) == len(keys)
        assert json.loads(json.dumps(dataclasses.asdict(rules), default=str))["name"] == rules.name


def test_no_chip_deadline_is_the_same_everywhere() -> None:
    # England once over 8 weeks, Ireland by 12 weeks, Netherlands within 7 weeks.
    deadlines = {
        place: rule_set(place).soonest(Topic.CHIP_AGE) for place in ("England", "Ireland", "Netherlands")
    }
    assert {place: rule.value for place, rule in deadlines.items() if rule} == {
        "England": 56,
        "Ireland": 84,
        "Netherlands": 49,
    }
    assert rule_set("New York").soonest(Topic.CHIP_AGE) is None


def test_a_rule_can_be_switched_off_and_on_again() -> None:
    england = rule_set("England")
    off = england.switched("england.leave_age", False)
    assert off.on(Topic.LEAVE_AGE) == ()
    assert off.strictest(Topic.LEAVE_AGE) is None
    assert off.switched("england.leave_age", True) == england
    assert england.on(Topic.LEAVE_AGE) != ()


def test_an_edited_rule_names_where_the_kennel_read_it() -> None:
    edited = rule_set("England").edited("england.leave_age", 63, "our council's licence", date(2026, 12, 1))
    rule = edited.strictest(Topic.LEAVE_AGE)
    assert rule is not None
    assert (rule.value, rule.status) == (63, "entered by the kennel")
    assert "our council's licence" in rule.label
    assert "2026-12-01" in rule.label


def test_of_two_places_the_stricter_rule_counts() -> None:
    both = rule_set("England").joined(rule_set("Netherlands"))
    soonest = both.soonest(Topic.CHIP_AGE)
    assert soonest is not None
    assert soonest.place == "Netherlands"


def test_an_unknown_place_or_key_is_refused_and_no_rules_is_a_choice() -> None:
    with pytest.raises(ValueError, match="Atlantis"):
        rule_set("Atlantis")
    with pytest.raises(ValueError, match="no rule"):
        rule_set("England").switched("england.nothing", False)
    with pytest.raises(ValueError, match="source"):
        rule_set("England").edited("england.leave_age", 63, " ", BORN)
    assert rule_set("none").rules == ()


# --- dates of the law -----------------------------------------------------------------------------------


@given(born_on=dates)
def test_ages_in_weeks_agree_with_dateutil(born_on: date) -> None:
    # Independent library: dateutil.relativedelta counts the weeks.
    assert law.earliest_leave_on(born_on) == born_on + relativedelta(weeks=8)
    assert law.pup_tag_due_on(born_on) == born_on + relativedelta(weeks=16)
    assert law.chip_by_on(born_on, 49) == born_on + relativedelta(weeks=7)


@given(born_on=dates, days=st.integers(0, 800))
def test_a_dam_of_a_year_is_old_enough_on_her_birthday(born_on: date, days: int) -> None:
    mated_on = born_on + timedelta(days=days)
    birthday = born_on + relativedelta(years=1)
    if (born_on.month, born_on.day) == (2, 29):
        birthday = date(born_on.year + 1, 3, 1)  # no 29 February: the year is over for certain on 1 March
    assert law.mating_age_ok(born_on, mated_on) is (mated_on >= birthday)


def test_twelve_months_are_over_on_the_same_calendar_day() -> None:
    assert not law.mating_age_ok(date(2025, 3, 10), date(2026, 3, 9))
    assert law.mating_age_ok(date(2025, 3, 10), date(2026, 3, 10))
    assert not law.mating_age_ok(date(2024, 2, 29), date(2025, 2, 28))
    assert law.mating_age_ok(date(2024, 2, 29), date(2025, 3, 1))
    assert not law.litter_interval_ok(date(2025, 6, 1), date(2026, 5, 31))
    assert law.litter_interval_ok(date(2025, 6, 1), date(2026, 6, 1))
    assert law.mating_age_ok(date(2025, 1, 31), date(2026, 7, 31), least_months=18)
    assert not law.mating_age_ok(date(2025, 1, 31), date(2026, 7, 30), least_months=18)


@pytest.mark.parametrize(("litters", "ok"), [(0, True), (5, True), (6, False), (7, False)])
def test_six_litters_are_the_most_in_a_life(litters: int, ok: bool) -> None:
    assert law.litter_count_ok(litters) is ok


def test_a_carrying_dam_travels_until_day_54_over_a_leap_day() -> None:
    assert law.last_transport_on(date(2026, 3, 1)) == date(2026, 4, 24)
    assert law.last_transport_on(date(2028, 1, 10)) == date(2028, 3, 4)


@pytest.mark.parametrize(
    ("chipped_on", "rabies_on", "valid"),
    [
        (date(2026, 4, 20), date(2026, 5, 23), False),  # 83 days old
        (date(2026, 4, 20), date(2026, 5, 24), True),  # 12 weeks
        (date(2026, 5, 24), date(2026, 5, 24), True),  # chip on the same day
        (date(2026, 5, 25), date(2026, 5, 24), False),  # chip a day later
    ],
)
def test_rabies_counts_for_eu_travel_at_twelve_weeks_and_not_before_the_chip(
    chipped_on: date, rabies_on: date, valid: bool
) -> None:
    assert law.eu_rabies_valid(BORN, chipped_on, rabies_on) is valid


def test_the_first_journey_is_21_days_after_a_vaccination_that_counts() -> None:
    assert law.eu_travel_earliest(BORN, date(2026, 5, 24)) == BORN + relativedelta(weeks=15)
    with pytest.raises(ValueError, match="does not count"):
        law.eu_travel_earliest(BORN, date(2026, 5, 23))
    with pytest.raises(ValueError, match="does not count"):
        law.eu_travel_earliest(BORN, date(2026, 5, 24), chipped_on=date(2026, 5, 25))


def test_three_litters_in_any_twelve_months_need_a_licence_unless_no_pup_was_sold() -> None:
    within = [date(2025, 6, 2), date(2026, 1, 10), date(2026, 6, 1)]
    over = [date(2025, 6, 1), date(2026, 1, 10), date(2026, 6, 1)]
    assert law.most_litters_in_12_months(within) == 3
    assert law.most_litters_in_12_months(over) == 2
    assert law.licence_needed(within, sold_any=True)
    assert not law.licence_needed(within, sold_any=False)
    assert not law.licence_needed(over, sold_any=True)
    assert law.most_litters_in_12_months([]) == 0


def test_a_mating_that_is_thought_of_is_held_against_every_rule_on_litters() -> None:
    dam = law.DamFacts("Bramble", date(2022, 5, 1), (date(2024, 6, 1), date(2026, 1, 5)), caesareans=2)
    findings = {
        one.rule.topic: one for one in law.mating_findings(rule_set("England"), dam, date(2026, 10, 1))
    }
    assert {topic: one.kept for topic, one in findings.items()} == {
        Topic.DAM_AGE_AT_MATING: True,
        Topic.LITTER_INTERVAL: False,  # expected about 3 December 2026, allowed from 5 January 2027
        Topic.LITTERS_IN_LIFE: True,
        Topic.CAESAREANS: False,
    }
    assert findings[Topic.LITTER_INTERVAL].kept_from_on == date(2026, 11, 3)
    assert all(one.text and one.rule.label for one in findings.values())
    assert law.mating_findings(rule_set("none"), dam, date(2026, 10, 1)) == ()
    young = law.DamFacts("Teasel", date(2026, 1, 5))
    (age, *_) = law.mating_findings(rule_set("England"), young, date(2027, 1, 4))
    assert (age.kept, age.kept_from_on) == (False, date(2027, 1, 5))


@pytest.mark.parametrize(
    "make",
    [
        lambda: law.earliest_leave_on(BORN, -1),
        lambda: law.earliest_leave_on(BORN, True),
        lambda: law.earliest_leave_on(date(1, 1, 1)),
        lambda: law.mating_age_ok(date(2026, 3, 2), BORN),
        lambda: law.litter_interval_ok(date(2026, 3, 2), BORN),
        lambda: law.litter_count_ok(-1),
        lambda: law.eu_rabies_valid(BORN, date(2026, 2, 1), date(2026, 5, 24)),
    ],
)
def test_impossible_dates_and_counts_are_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


@given(whelped_on=st.lists(st.dates(date(2015, 1, 1), date(2026, 1, 1)), max_size=12))
def test_the_count_in_twelve_months_agrees_with_counting_pair_by_pair(whelped_on: list[date]) -> None:
    def within(first: date, later: date) -> bool:
        last = first + relativedelta(years=1)
        if (first.month, first.day) == (2, 29):
            last = date(first.year + 1, 3, 1)
        return first <= later < last

    expected = max((sum(within(first, later) for later in whelped_on) for first in whelped_on), default=0)
    assert law.most_litters_in_12_months(whelped_on) == expected


def test_joined_rules_keep_every_rule_of_both() -> None:
    joined = rule_set("England").joined(rule_set("EU travel"))
    assert isinstance(joined, RuleSet)
    assert joined.rules == rule_set("England").rules + rule_set("EU travel").rules


def test_a_dam_of_unknown_birth_is_not_held_against_an_age() -> None:
    findings = law.mating_findings(rule_set("England"), law.DamFacts("Sorrel", None), date(2026, 10, 1))
    assert [one.rule.topic for one in findings] == [Topic.LITTERS_IN_LIFE, Topic.CAESAREANS]

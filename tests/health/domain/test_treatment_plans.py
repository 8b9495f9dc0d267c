"""Worming plans: dates counted by hand from the published schemes; months checked against dateutil."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from health.domain.scheme_steps import PlanFacts
from health.domain.treatment_plans import (
    EARLY_DAYS,
    Plan,
    State,
    capc_dates,
    esccap_fortnightly_dates,
    faecal_recheck_window,
    litter_plans,
    plan,
    scheme_dates,
    us_label_pyrantel_dates,
)
from health.domain.worming_schemes import SCHEMES, Anchor, End, Phase, Scheme, Subject

BORN, WEANED = date(2026, 3, 1), date(2026, 4, 19)
HORIZON = date(2026, 12, 31)
PUP = PlanFacts(HORIZON, BORN, WEANED)
ESCCAP, CAPC, US_LABEL = SCHEMES["esccap"], SCHEMES["capc"], SCHEMES["us_label_pyrantel"]


def after_birth(*days: int) -> list[date]:
    return [BORN + timedelta(days=one) for one in days]


def due(one: Plan) -> list[date]:
    return [step.due_on for step in one.dates if step.state is State.DUE]


def ages(dates: Sequence[date]) -> list[int]:
    return [(one - BORN).days for one in dates]


# --- the published lists --------------------------------------------------------------------------------


def test_the_us_label_lists_two_three_four_six_eight_and_ten_weeks() -> None:
    # 21 CFR 520.2042.
    assert us_label_pyrantel_dates(BORN) == tuple(BORN + relativedelta(weeks=n) for n in (2, 3, 4, 6, 8, 10))


def test_esccap_goes_on_fortnightly_until_two_weeks_after_weaning_that_day_included() -> None:
    assert ages(esccap_fortnightly_dates(BORN, BORN + timedelta(days=42))) == [14, 28, 42, 56]
    assert ages(esccap_fortnightly_dates(BORN, BORN + timedelta(days=41))) == [14, 28, 42]
    assert esccap_fortnightly_dates(date(2028, 2, 20), date(2028, 3, 1)) == (date(2028, 3, 5),)


def test_esccap_then_goes_on_monthly_to_six_months_of_age() -> None:
    dates = scheme_dates(ESCCAP, PUP)
    assert ages(dates[:4]) == [14, 28, 42, 56]
    assert list(dates[4:]) == [dates[3] + relativedelta(months=n) for n in (1, 2, 3, 4)]
    assert dates[-1] <= BORN + relativedelta(months=6) < dates[-1] + relativedelta(months=1)


def test_esccap_2021_runs_to_twelve_weeks_then_monthly_then_every_three_months() -> None:
    dates = scheme_dates(SCHEMES["esccap_2021"], PUP)
    assert ages(dates[:6]) == [14, 28, 42, 56, 70, 84]
    assert list(dates[6:9]) == [dates[5] + relativedelta(months=n) for n in (1, 2, 3)]
    assert dates[9] == dates[8] + relativedelta(months=3)


def test_capc_lists_eight_weeks_and_goes_on_monthly() -> None:
    assert ages(capc_dates(BORN)) == [14, 28, 42, 56]
    assert scheme_dates(CAPC, PUP)[4] == capc_dates(BORN)[-1] + relativedelta(months=1)


def test_months_do_not_drift_from_the_31st_to_the_28th() -> None:
    facts = PlanFacts(date(2027, 6, 30), plan_starts_on=date(2026, 12, 31))
    dates = scheme_dates(SCHEMES["kennel_monthly"], facts)
    assert [str(one) for one in dates] == [
        "2026-12-31", "2027-01-31", "2027-02-28", "2027-03-31", "2027-04-30", "2027-05-31", "2027-06-30",
    ]  # fmt: skip


def test_a_dam_is_treated_daily_from_day_forty_to_two_days_after_birth() -> None:
    mated_on, whelped_on = date(2026, 1, 10), date(2026, 3, 15)
    facts = PlanFacts(HORIZON, mated_on=mated_on, whelped_on=whelped_on)
    dates = scheme_dates(SCHEMES["dam_esccap_fenbendazole"], facts)
    assert (dates[0], dates[-1]) == (date(2026, 2, 19), date(2026, 3, 17))
    assert {later - earlier for earlier, later in pairwise(dates)} == {timedelta(days=1)}
    trial = scheme_dates(SCHEMES["dam_fenbendazole_trial"], facts)
    assert trial[-1] == whelped_on + timedelta(days=14)
    assert scheme_dates(SCHEMES["dam_esccap_lactone"], facts) == (date(2026, 2, 19), date(2026, 3, 6))


def test_a_nursing_dam_goes_with_the_pups_or_by_the_us_label() -> None:
    facts = PlanFacts(HORIZON, whelped_on=BORN, pups_first_dose_on=date(2026, 3, 17))
    assert scheme_dates(SCHEMES["dam_with_pups"], facts) == (date(2026, 3, 17),)
    assert scheme_dates(SCHEMES["dam_us_label_pyrantel"], facts) == (date(2026, 3, 15),)


def test_giardia_and_coccidia_have_no_dates_and_droppings_are_tested_again_after_two_to_four_weeks() -> None:
    assert plan(SCHEMES["giardia_coccidia"], PUP).dates == ()
    assert faecal_recheck_window(date(2026, 5, 10)) == (date(2026, 5, 24), date(2026, 6, 7))


def test_dates_that_rest_on_an_unknown_event_are_provisional() -> None:
    unweaned = plan(ESCCAP, PlanFacts(HORIZON, BORN))
    assert [one.provisional for one in unweaned.dates] == [False, False, False, True, True, True, True, True]
    assert not any(one.provisional for one in plan(ESCCAP, PUP).dates)
    carrying = plan(SCHEMES["dam_esccap_fenbendazole"], PlanFacts(HORIZON, mated_on=date(2026, 1, 10)))
    assert [one.provisional for one in carrying.dates].count(True) == 2
    waiting = plan(SCHEMES["dam_with_pups"], PlanFacts(HORIZON, whelped_on=BORN))
    assert [(one.due_on, one.provisional) for one in waiting.dates] == [(date(2026, 3, 15), True)]


def test_an_event_nobody_knows_is_asked_for() -> None:
    with pytest.raises(ValueError, match="birth"):
        plan(ESCCAP, PlanFacts(HORIZON))
    with pytest.raises(ValueError, match="mating"):
        plan(SCHEMES["dam_esccap_lactone"], PlanFacts(HORIZON, whelped_on=BORN))


# --- doses that come late, early or not at all ----------------------------------------------------------


def test_doses_on_their_days_change_nothing() -> None:
    given_on = after_birth(14, 21, 28)
    done = plan(US_LABEL, PUP, given_on)
    assert [one.state for one in done.dates] == [State.GIVEN] * 3 + [State.DUE] * 3
    assert [one.given_on for one in done.dates[:3]] == given_on
    assert ages(due(done)) == [42, 56, 70]
    assert done.next_due is not None
    assert done.next_due.gap_days == 14


def test_a_late_dose_moves_what_follows_by_its_delay_and_keeps_the_gaps() -> None:
    # Three days late, under the label's weight until then; the label's gaps are 7, 7, 14, 14 and 14 days.
    assert ages(due(plan(US_LABEL, PUP, after_birth(17)))) == [24, 31, 45, 59, 73]


def test_a_second_delay_adds_to_the_first() -> None:
    assert ages(due(plan(US_LABEL, PUP, after_birth(17, 26)))) == [33, 47, 61, 75]


def test_each_pup_of_a_litter_runs_on_its_own_dates() -> None:
    plans = litter_plans(US_LABEL, PUP, {"Blue": after_birth(14), "Moss": after_birth(17), "Rust": []})
    assert {pup: ages(due(one))[:2] for pup, one in plans.items()} == {
        "Blue": [21, 28],
        "Moss": [24, 31],
        "Rust": [14, 21],
    }


def test_a_date_that_was_missed_is_passed_over_and_not_made_up() -> None:
    late = plan(US_LABEL, PUP, after_birth(30))
    assert [one.state for one in late.dates[:4]] == [
        State.PASSED_OVER,
        State.PASSED_OVER,
        State.GIVEN,
        State.DUE,
    ]
    assert ages(due(late)) == [44, 58, 72]  # the dose counts for day 28 and comes two days late


def test_a_little_early_counts_for_the_coming_date_and_moves_nothing() -> None:
    early = plan(US_LABEL, PUP, after_birth(14, 19))
    assert [one.given_on for one in early.dates[:2]] == after_birth(14, 19)
    assert ages(due(early)) == [28, 42, 56, 70]


def test_a_dose_far_from_any_date_is_listed_as_extra() -> None:
    extra = plan(ESCCAP, PUP, after_birth(5, 14, 20))
    assert list(extra.extra_doses_on) == after_birth(5, 20)
    assert ages(due(extra))[:2] == [28, 42]


def test_an_end_bound_to_weaning_or_age_does_not_move_with_a_delay() -> None:
    # First dose 8 days late: 22, 36, 50, and 64 would lie after weaning + 14 (day 63), so monthly follows.
    dates = due(plan(ESCCAP, PUP, after_birth(22)))
    assert ages(dates[:2]) == [36, 50]
    assert dates[2] == dates[1] + relativedelta(months=1)
    assert dates[-1] <= BORN + relativedelta(months=6)


def test_what_is_overdue_today_can_be_given_today_at_the_earliest() -> None:
    today = BORN + timedelta(days=31)
    waiting = plan(US_LABEL, PUP, after_birth(14), today)
    assert [one.state for one in waiting.dates[:3]] == [State.GIVEN, State.PASSED_OVER, State.DUE]
    assert ages(due(waiting)) == [28, 45, 59, 73]
    assert waiting.next_due is not None
    assert waiting.next_due.due_on < today


def test_a_missed_day_of_a_daily_scheme_is_passed_over() -> None:
    mated_on = date(2026, 1, 10)
    facts = PlanFacts(HORIZON, mated_on=mated_on, whelped_on=date(2026, 3, 15))
    day = [mated_on + timedelta(days=n) for n in (40, 41, 43)]
    done = plan(SCHEMES["dam_esccap_fenbendazole"], facts, day)
    assert [one.state for one in done.dates[:5]] == [
        State.GIVEN, State.GIVEN, State.PASSED_OVER, State.GIVEN, State.DUE,
    ]  # fmt: skip
    assert done.dates[-1].due_on == date(2026, 3, 17)


def test_a_dose_before_birth_is_refused_and_one_after_the_last_date_is_extra() -> None:
    with pytest.raises(ValueError, match="before birth"):
        plan(US_LABEL, PUP, [BORN - timedelta(days=1)])
    done = plan(US_LABEL, PUP, after_birth(14, 21, 28, 42, 56, 70, 90))
    assert due(done) == []
    assert list(done.extra_doses_on) == after_birth(90)


# --- the data -------------------------------------------------------------------------------------------


def test_every_scheme_names_its_body_source_status_and_caution_and_is_plain_json() -> None:
    for key, scheme in SCHEMES.items():
        assert scheme.key == key
        assert all((scheme.name, scheme.body, scheme.source, scheme.status, scheme.caution))
        assert json.loads(json.dumps(dataclasses.asdict(scheme)))["key"] == key


def test_a_kennel_may_write_its_own_scheme() -> None:
    own = Scheme(
        "own", "Ours", "the vet at Hollin Bank", Subject.PUPS,
        (
            Phase(Anchor.BIRTH, days=(21, 35)),
            Phase(Anchor.PREVIOUS, first_days=21, every_days=21, end=End(Anchor.BIRTH, 90)),
        ),
        "vet's letter", "the vet's word",
    )  # fmt: skip
    assert ages(scheme_dates(own, PUP)) == [21, 35, 56, 77]


@pytest.mark.parametrize(
    "make",
    [
        lambda: Phase(Anchor.BIRTH),
        lambda: Phase(Anchor.BIRTH, days=(14,), every_days=7),
        lambda: Phase(Anchor.BIRTH, every_days=7, every_months=1),
        lambda: Phase(Anchor.BIRTH, every_days=0),
        lambda: Phase(Anchor.BIRTH, days=(28, 14)),
        lambda: Phase(Anchor.BIRTH, days=(14,), first_days=3),
        lambda: PlanFacts(date(2300, 1, 1)),
        lambda: PlanFacts(HORIZON, BORN, weaning_days=0),
        lambda: PlanFacts(HORIZON, BORN, gestation_days=30),
        lambda: esccap_fortnightly_dates(BORN, BORN - timedelta(days=1)),
        lambda: plan(SCHEMES["kennel_test"], PlanFacts(date(2199, 1, 1), plan_starts_on=BORN)),
        lambda: us_label_pyrantel_dates(date.max),
    ],
)
def test_what_contradicts_itself_is_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


given_days = st.lists(st.integers(0, 200), max_size=10, unique=True).map(sorted)


@given(
    days=given_days,
    key=st.sampled_from(["esccap", "esccap_2021", "capc", "us_label_pyrantel"]),
    today=st.integers(0, 220),
)
def test_every_dose_is_accounted_for_once_and_dates_never_crowd(
    days: list[int], key: str, today: int
) -> None:
    doses = after_birth(*days)
    one = plan(SCHEMES[key], PUP, doses, BORN + timedelta(days=today))
    used = [step.given_on for step in one.dates if step.given_on is not None]
    assert sorted([*used, *one.extra_doses_on]) == doses
    for step in one.dates:
        if step.given_on is not None:
            assert step.given_on >= step.due_on - timedelta(days=EARLY_DAYS)
    for earlier, later in pairwise(one.dates):
        assert later.due_on > earlier.due_on
        if later.state is State.DUE and earlier.given_on is not None:
            # What follows a dose keeps at least the scheme's gap to it: 7, 14 days or a month.
            assert (later.due_on - earlier.given_on).days >= (7 if key == "us_label_pyrantel" else 14)


@given(delay=st.integers(0, 6), born_on=st.dates(date(1990, 1, 1), date(2100, 1, 1)))
def test_a_delay_of_the_first_dose_moves_the_whole_label_list_by_itself(delay: int, born_on: date) -> None:
    facts = PlanFacts(born_on + timedelta(days=200), born_on)
    on_time = [one.due_on for one in plan(US_LABEL, facts).dates][1:]
    late = plan(US_LABEL, facts, [born_on + timedelta(days=14 + delay)])
    assert due(late) == [one + timedelta(days=delay) for one in on_time]


def test_a_phase_that_begins_on_or_before_the_last_date_goes_on_after_it_without_doubling() -> None:
    listed = Phase(Anchor.BIRTH, days=(14, 28))
    repeated = Scheme(
        "own", "Ours", "the vet", Subject.PUPS,
        (listed, Phase(Anchor.BIRTH, first_days=28, every_days=7, end=End(Anchor.BIRTH, days=42))),
        "vet's letter", "the vet's word",
    )  # fmt: skip
    assert ages(scheme_dates(repeated, PUP)) == [14, 28, 35, 42]
    two_lists = dataclasses.replace(repeated, phases=(listed, Phase(Anchor.BIRTH, days=(21, 28, 40))))
    assert ages(scheme_dates(two_lists, PUP)) == [14, 28, 40]

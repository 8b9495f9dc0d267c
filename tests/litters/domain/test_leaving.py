"""What keeps a pup and the visit that frees most: dates counted by hand from the rules named in each test."""

from __future__ import annotations

import dataclasses
import json
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from litters.domain.appointment import best_appointment
from litters.domain.leaving import (
    Clears,
    DueTreatment,
    Hold,
    Leaving,
    NeededVaccination,
    OpenWatch,
    PupFacts,
    RunningCourse,
    Travel,
    VetCheck,
    Waiver,
    leaving,
)
from litters.domain.rules_by_place import rule_set

ENGLAND = rule_set("England")
TO_THE_EU = ENGLAND.joined(rule_set("EU travel"))
BORN = date(2026, 3, 1)
EIGHT_WEEKS = date(2026, 4, 26)
READY = PupFacts(
    "Blue",
    BORN,
    weaned_on=date(2026, 4, 19),
    chip="826098106123456",
    chipped_on=date(2026, 4, 20),
    booked=True,
)


def ready(name: str = "Blue", **changes: object) -> PupFacts:
    return dataclasses.replace(READY, name=name, **changes)  # type: ignore[arg-type]


def keys(one: Leaving) -> list[str]:
    return [hold.key for hold in one.holds]


def hold(one: Leaving, key: str) -> Hold:
    return next(candidate for candidate in one.holds if candidate.key == key)


def test_nothing_keeps_a_pup_that_is_ready() -> None:
    free = leaving(READY, ENGLAND, EIGHT_WEEKS)
    assert (free.holds, free.free_on, free.earliest_on) == ((), EIGHT_WEEKS, EIGHT_WEEKS)


def test_age_keeps_a_pup_until_eight_weeks_in_england_with_the_rule_beside_it() -> None:
    # SI 2018/486 Schedule 6 para 1(5) and 2(9): 8 weeks = 56 days, allowed on that day.
    young = leaving(READY, ENGLAND, EIGHT_WEEKS - timedelta(days=1))
    assert keys(young) == ["leave_age", "transport_age"]
    assert young.free_on == EIGHT_WEEKS
    assert "SI 2018/486" in hold(young, "leave_age").rule
    assert "read on" in hold(young, "leave_age").rule


def test_a_rule_that_is_switched_off_keeps_nobody() -> None:
    off = ENGLAND.switched("england.leave_age", False).switched("england.transport_age", False)
    assert leaving(READY, off, BORN + timedelta(days=50)).holds == ()


def test_a_pup_not_weaned_has_the_planned_day_or_none() -> None:
    planned = leaving(ready(weaned_on=None, weaning_expected_on=date(2026, 5, 3)), ENGLAND, EIGHT_WEEKS)
    assert (planned.free_on, planned.earliest_on) == (None, date(2026, 5, 3))
    unplanned = leaving(ready(weaned_on=None), ENGLAND, EIGHT_WEEKS)
    assert (unplanned.free_on, unplanned.earliest_on) == (None, None)
    assert (
        "9 CFR 2.130"
        in hold(leaving(ready(weaned_on=None), rule_set("US federal"), EIGHT_WEEKS), "weaning").rule
    )


def test_a_missing_chip_has_the_deadline_of_the_place_and_says_when_it_is_past() -> None:
    at_seven_weeks = date(2026, 4, 19)
    in_england = leaving(ready(chip="", chipped_on=None), ENGLAND, at_seven_weeks)
    assert hold(in_england, "chip").due_by_on == EIGHT_WEEKS
    assert "overdue" not in hold(in_england, "chip").text
    dutch = rule_set("Netherlands")
    after = leaving(ready(chip="", chipped_on=None), dutch, at_seven_weeks + timedelta(days=1))
    assert hold(after, "chip").due_by_on == at_seven_weeks
    assert "overdue" in hold(after, "chip").text
    assert hold(after, "registration").due_by_on == EIGHT_WEEKS
    assert keys(leaving(ready(chip="", chipped_on=None), rule_set("New York"), EIGHT_WEEKS)) == []


def test_a_test_code_on_the_chip_keeps_the_pup_until_it_is_read_again() -> None:
    wrong = leaving(ready(chip="999000000000001"), ENGLAND, EIGHT_WEEKS)
    assert keys(wrong) == ["chip_code"]
    assert "tests only" in hold(wrong, "chip_code").text


def test_a_dose_that_was_due_keeps_a_pup_until_somebody_gives_it_or_the_label_allows_it() -> None:
    late = DueTreatment("Worming", date(2026, 4, 25), EIGHT_WEEKS)
    kept = leaving(ready(treatments=(late,)), ENGLAND, EIGHT_WEEKS)
    assert keys(kept) == ["treatment:Worming"]
    assert hold(kept, "treatment:Worming").clears is Clears.PERSON
    assert "due on 2026-04-25" in hold(kept, "treatment:Worming").text
    assert kept.earliest_on == EIGHT_WEEKS
    today = dataclasses.replace(late, due_on=EIGHT_WEEKS)
    assert "is due on" in leaving(ready(treatments=(today,)), ENGLAND, EIGHT_WEEKS).holds[0].text
    small = dataclasses.replace(late, possible_on=None, reason="The label begins at 907 g.")
    waiting = leaving(ready(treatments=(small,)), ENGLAND, EIGHT_WEEKS)
    assert waiting.earliest_on is None
    assert hold(waiting, "treatment:Worming").text.endswith("907 g.")


def test_a_vaccination_a_course_and_a_watch_keep_a_pup_each_with_its_date() -> None:
    pup = ready(
        vaccinations=(NeededVaccination("Core vaccine", date(2026, 4, 12), date(2026, 5, 24), wait_days=7),),
        courses=(RunningCourse("Fenbendazole", date(2026, 4, 28)),),
        watches=(OpenWatch("gains too little", date(2026, 4, 24)),),
    )
    kept = leaving(pup, ENGLAND, EIGHT_WEEKS)
    assert keys(kept) == ["vaccination:Core vaccine", "course:Fenbendazole", "watch:gains too little"]
    assert hold(kept, "vaccination:Core vaccine").on == EIGHT_WEEKS
    assert hold(kept, "course:Fenbendazole").on == date(2026, 4, 29)  # free the day after the last dose
    assert hold(kept, "watch:gains too little").on is None
    assert (kept.free_on, kept.earliest_on) == (None, None)
    cleared = leaving(dataclasses.replace(pup, watches=()), ENGLAND, EIGHT_WEEKS)
    assert cleared.earliest_on == date(2026, 5, 3)  # vaccinated today, a week's wait
    assert leaving(ready(courses=pup.courses), ENGLAND, date(2026, 4, 29)).holds == ()


def test_two_doses_still_to_come_need_their_gap() -> None:
    pup = ready(
        vaccinations=(NeededVaccination("Core vaccine", date(2026, 4, 26), doses_left=2, gap_days=14),)
    )
    assert leaving(pup, ENGLAND, EIGHT_WEEKS).earliest_on == date(2026, 5, 10)


def test_a_vaccination_whose_window_has_closed_is_left_to_the_vet() -> None:
    pup = ready(vaccinations=(NeededVaccination("Core vaccine", date(2026, 4, 1), date(2026, 4, 20)),))
    kept = leaving(pup, ENGLAND, EIGHT_WEEKS)
    assert "begin again" in hold(kept, "vaccination:Core vaccine").text
    assert kept.earliest_on is None


def test_a_journey_waits_21_days_after_a_rabies_vaccination_that_counts() -> None:
    # Regulation (EU) 576/2013 Annex III: 12 weeks (24 May) and 21 days (14 June).
    none_yet = leaving(ready(travel=Travel("Ireland")), TO_THE_EU, EIGHT_WEEKS)
    assert hold(none_yet, "travel_rabies").on == date(2026, 5, 24)
    assert none_yet.earliest_on == date(2026, 6, 14)
    given_in_time = leaving(ready(travel=Travel("Ireland", date(2026, 5, 24))), TO_THE_EU, date(2026, 6, 1))
    assert (keys(given_in_time), given_in_time.free_on) == (["travel_wait"], date(2026, 6, 14))
    too_young = leaving(ready(travel=Travel("Ireland", date(2026, 5, 23))), TO_THE_EU, date(2026, 6, 1))
    assert "does not count" in hold(too_young, "travel_rabies").text
    before_chip = ready(travel=Travel("Ireland", date(2026, 5, 24)), chipped_on=date(2026, 5, 25))
    assert "does not count" in hold(leaving(before_chip, TO_THE_EU, date(2026, 6, 1)), "travel_rabies").text
    at_home = leaving(ready(), TO_THE_EU, EIGHT_WEEKS)
    assert at_home.holds == ()


def test_without_a_place_that_asks_for_a_chip_the_journey_still_does() -> None:
    unchipped = ready(chip="", chipped_on=None, travel=Travel("Ireland"))
    assert keys(leaving(unchipped, rule_set("EU travel"), EIGHT_WEEKS)) == ["travel_chip", "travel_rabies"]


def test_booking_collection_and_keeping_back_are_said() -> None:
    assert keys(leaving(ready(booked=False), ENGLAND, EIGHT_WEEKS)) == ["booking"]
    later = leaving(ready(collect_from_on=date(2026, 5, 2)), ENGLAND, EIGHT_WEEKS)
    assert (keys(later), later.free_on) == (["collection"], date(2026, 5, 2))
    assert keys(leaving(ready(kept_back="for showing", booked=False), ENGLAND, EIGHT_WEEKS)) == ["kept_back"]


def test_a_vets_look_that_will_have_run_out_on_the_day_of_leaving_is_needed_again() -> None:
    done_on = date(2026, 4, 20)
    still_good = ready(vet_check=VetCheck(done_on, valid_days=7))
    assert leaving(still_good, ENGLAND, date(2026, 4, 21)).free_on == EIGHT_WEEKS
    waiting = ready(vet_check=VetCheck(done_on, valid_days=7), collect_from_on=date(2026, 5, 2))
    again = leaving(waiting, ENGLAND, date(2026, 4, 21))
    assert "vet_check" in keys(again)
    assert (again.free_on, again.earliest_on) == (None, date(2026, 5, 2))
    assert "vet_check" in keys(leaving(ready(vet_check=VetCheck()), ENGLAND, EIGHT_WEEKS))
    assert leaving(ready(vet_check=VetCheck(done_on)), ENGLAND, date(2026, 7, 1)).holds == ()


def test_a_hold_set_aside_stays_visible_with_reason_and_name_and_no_longer_counts() -> None:
    waiver = Waiver("leave_age", "vet's letter of 20 April", "Maud Ferrier")
    other = Waiver("transport_age", "vet's letter of 20 April", "Maud Ferrier")
    early = leaving(ready(waivers=(waiver, other)), ENGLAND, date(2026, 4, 21))
    assert keys(early) == ["leave_age", "transport_age"]
    assert all("Maud Ferrier" in one.waived for one in early.holds)
    assert (early.open_holds, early.free_on) == ((), date(2026, 4, 21))


def test_a_day_before_birth_is_refused_and_an_answer_is_plain_json() -> None:
    with pytest.raises(ValueError, match="before Blue was born"):
        leaving(READY, ENGLAND, BORN - timedelta(days=1))
    answer = leaving(ready(chip="", chipped_on=None), ENGLAND, date(2026, 4, 21))
    assert json.loads(json.dumps(dataclasses.asdict(answer), default=str))["holds"][0]["clears"] == "time"


# --- the one visit --------------------------------------------------------------------------------------

UNCHIPPED: dict[str, Any] = {"chip": "", "chipped_on": None}


def test_the_first_day_on_which_one_visit_frees_most_pups() -> None:
    on = date(2026, 4, 20)
    litter = [
        leaving(ready("Blue", **UNCHIPPED), ENGLAND, on),  # chip, any day
        leaving(
            ready("Moss", **UNCHIPPED, vaccinations=(NeededVaccination("Core", date(2026, 4, 22)),)),
            ENGLAND,
            on,
        ),
        leaving(ready("Rust", vaccinations=(NeededVaccination("Core", date(2026, 4, 24)),)), ENGLAND, on),
        leaving(ready("Plum", **UNCHIPPED, watches=(OpenWatch("gains too little", on),)), ENGLAND, on),
        leaving(ready("Gold"), ENGLAND, on),  # only too young
    ]
    visit = best_appointment(litter, on)
    assert visit is not None
    assert visit.on == date(2026, 4, 24)
    assert {one.pup: one.leaves_on for one in visit.frees} == dict.fromkeys(
        ("Blue", "Moss", "Rust"), EIGHT_WEEKS
    )
    assert [(one.on, one.pups) for one in visit.options] == [
        (date(2026, 4, 20), 1),
        (date(2026, 4, 22), 2),
        (date(2026, 4, 24), 3),
    ]
    kept = {one.pup: " ".join(one.why) for one in visit.still_kept}
    assert "gains too little" in kept["Plum"]
    assert kept["Gold"].startswith("Needs no visit")
    done = {one.pup: len(one.done_there) for one in visit.frees}
    assert done == {"Blue": 1, "Moss": 2, "Rust": 1}


def test_a_vets_look_must_still_hold_on_the_day_of_leaving() -> None:
    on = date(2026, 4, 10)
    pup = leaving(ready(vet_check=VetCheck(valid_days=3)), ENGLAND, on)
    visit = best_appointment([pup], on)
    assert visit is not None
    assert visit.on == date(2026, 4, 23)  # three days before eight weeks
    assert visit.frees[0].leaves_on == EIGHT_WEEKS


def test_windows_that_never_meet_make_the_visit_choose_the_larger_group() -> None:
    on = date(2026, 4, 27)
    early = NeededVaccination("Core", date(2026, 4, 27), date(2026, 4, 30))
    late = NeededVaccination("Core", date(2026, 5, 4))
    litter = [leaving(ready("Blue", vaccinations=(early,)), ENGLAND, on)]
    litter += [leaving(ready(name, vaccinations=(late,)), ENGLAND, on) for name in ("Moss", "Rust")]
    visit = best_appointment(litter, on)
    assert visit is not None
    assert (visit.on, [one.pup for one in visit.frees]) == (date(2026, 5, 4), ["Moss", "Rust"])
    assert "no longer possible after 2026-04-30" in visit.still_kept[0].why[0]


def test_days_on_which_the_vet_is_closed_are_passed_over() -> None:
    on = date(2026, 5, 1)  # a Friday
    pup = leaving(ready(**UNCHIPPED), ENGLAND, on)
    visit = best_appointment([pup], on, closed_weekdays={4, 5, 6}, closed_on={date(2026, 5, 4)})
    assert visit is not None
    assert visit.on == date(2026, 5, 5)


def test_a_pup_that_needs_two_visits_is_freed_by_none() -> None:
    on = EIGHT_WEEKS
    pup = leaving(ready(vaccinations=(NeededVaccination("Core", on, doses_left=2),)), ENGLAND, on)
    assert best_appointment([pup], on) is None
    assert best_appointment([], on) is None
    with pytest.raises(ValueError):
        best_appointment([pup], on, horizon_days=0)


pups = st.builds(
    ready,
    st.sampled_from(["Blue", "Moss", "Rust", "Plum"]),
    booked=st.booleans(),
    weaned_on=st.sampled_from([None, date(2026, 4, 19)]),
    weaning_expected_on=st.sampled_from([None, date(2026, 5, 1)]),
    chipped_on=st.sampled_from([None, date(2026, 4, 20)]),
    vaccinations=st.lists(
        st.builds(
            NeededVaccination,
            st.just("Core"),
            st.dates(date(2026, 4, 1), date(2026, 5, 20)),
            st.sampled_from([None, date(2026, 5, 20), date(2026, 6, 10)]),
            st.integers(1, 2),
            st.just(14),
            st.integers(0, 7),
        ),
        max_size=1,
    ).map(tuple),
    vet_check=st.sampled_from([None, VetCheck(), VetCheck(valid_days=3), VetCheck(date(2026, 4, 20), 10)]),
    travel=st.sampled_from([None, Travel("Ireland"), Travel("Ireland", date(2026, 5, 24))]),
)


@settings(deadline=None, max_examples=40)
@given(litter=st.lists(pups, max_size=4), on=st.dates(date(2026, 4, 1), date(2026, 6, 30)))
def test_the_visit_chosen_is_as_good_as_the_best_of_all_days_tried_one_by_one(
    litter: list[PupFacts], on: date
) -> None:
    kept = [leaving(pup, TO_THE_EU, on) for pup in litter]
    chosen = best_appointment(kept, on, horizon_days=60)

    def freed_by(day: date) -> int:
        # Tried directly on the facts: do at the vet's on `day` all that a visit can do, then see who is free.
        return sum(any(_free_after(pup, day, on, looks) for looks in (False, True)) for pup in litter)

    best = max(freed_by(on + timedelta(days=n)) for n in range(61))
    assert (len(chosen.frees) if chosen else 0) == best
    if chosen:
        assert freed_by(chosen.on) == best
        assert all(freed_by(on + timedelta(days=n)) < best for n in range((chosen.on - on).days))


def _free_after(pup: PupFacts, day: date, on: date, looks_again: bool) -> bool:
    """Whether only dated holds remain once a visit on `day` did all it can; worked out from the facts."""
    needs_visit = [one for one in leaving(pup, TO_THE_EU, on).holds if one.clears is Clears.VISIT]
    if not needs_visit:
        return False
    windows = [(one.not_before_on, one.not_after_on or date.max, one.doses_left) for one in pup.vaccinations]
    if any(not first <= day <= last or doses > 1 for first, last, doses in windows):
        return False
    after = dataclasses.replace(
        pup,
        chip=pup.chip or "826098106123456",
        chipped_on=pup.chipped_on or day,
        vaccinations=(),
        collect_from_on=max((day + timedelta(days=one.wait_days) for one in pup.vaccinations), default=None),
    )
    if "travel_rabies" in [one.key for one in needs_visit]:
        if (day - pup.born_on).days < 84:
            return False
        after = dataclasses.replace(after, travel=Travel("Ireland", day))
    if pup.vet_check is not None and looks_again:
        after = dataclasses.replace(after, vet_check=VetCheck(day, pup.vet_check.valid_days))
    left = leaving(after, TO_THE_EU, day)
    return all(one.clears is not Clears.VISIT and one.on is not None for one in left.holds)


@given(pup=pups, on=st.dates(date(2026, 4, 1), date(2026, 6, 30)), later=st.integers(0, 60))
def test_waiting_never_brings_a_new_reason_of_time_and_dates_never_lie_in_the_past(
    pup: PupFacts, on: date, later: int
) -> None:
    now, then = leaving(pup, TO_THE_EU, on), leaving(pup, TO_THE_EU, on + timedelta(days=later))
    timed_now = {one.key for one in now.holds if one.clears is Clears.TIME}
    timed_then = {one.key for one in then.holds if one.clears is Clears.TIME}
    assert timed_then <= timed_now
    assert all(one.on is None or one.on > on for one in now.holds if one.clears is Clears.TIME)
    if now.free_on is not None:
        assert now.free_on >= on
        assert now.earliest_on == now.free_on

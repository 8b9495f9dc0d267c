"""Labour flags: every published limit from both sides, second signs, straining with begin and end, vet's
limits."""

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.whelping import (
    PUBLISHED_LIMITS,
    DischargeColour,
    EntryKind,
    FlagKey,
    LabourEntry,
    Level,
    Pregnancy,
    StrainingStrength,
    VetAgreedLimit,
    labour_report,
    limits_with,
    placenta_hint,
)
from tests.litters.domain.labour_lines import at, born, discharge, ended, levels, line, strong, weak

ADVICE, GO_NOW = Level.ADVICE, Level.GO_NOW
SEVEN = Pregnancy(expected_pups=7, expected_by="X-ray")
MINUTE = timedelta(minutes=1)
OONAS_VET = "R. Alder MRCVS"


# Strong straining: 20 min (Freshman 2002), 30 min (Jutkowitz 2005)


@pytest.mark.parametrize(
    ("minutes", "level"), [(19, None), (20, ADVICE), (29, ADVICE), (30, GO_NOW), (90, GO_NOW)]
)
def test_strong_straining_rings_at_20_and_goes_at_30_minutes(minutes: int, level: Level | None) -> None:
    report = labour_report([strong(at(2))], at(2, minutes))
    assert levels(report).get(FlagKey.STRONG_STRAINING) == level
    assert report.level == level


def test_an_end_before_the_limit_stops_the_timer() -> None:
    report = labour_report([strong(at(2)), ended(at(2, 12))], at(3))
    assert FlagKey.STRONG_STRAINING not in levels(report)
    assert report.straining is None


def test_a_short_rest_does_not_start_the_timer_again_but_a_long_one_does() -> None:
    short = [strong(at(2)), ended(at(2, 12)), strong(at(2, 17))]
    long = [strong(at(2)), ended(at(2, 12)), strong(at(2, 40))]
    assert levels(labour_report(short, at(2, 31)))[FlagKey.STRONG_STRAINING] == GO_NOW
    assert FlagKey.STRONG_STRAINING not in levels(labour_report(long, at(2, 55)))


def test_long_straining_that_tires_without_a_pup_stays_flagged() -> None:
    report = labour_report([strong(at(2)), ended(at(2, 25))], at(3))
    assert levels(report)[FlagKey.STRONG_STRAINING] == ADVICE
    assert "then it stopped" in report.flags[0].reason


def test_a_birth_ends_the_straining_and_the_flag() -> None:
    log = [strong(at(2)), born(at(2, 25))]
    assert labour_report(log, at(2, 24)).level == ADVICE
    assert labour_report(log, at(2, 26)).level is None


def test_straining_turned_weak_is_no_longer_strong() -> None:
    log = [strong(at(2)), weak(at(2, 10))]
    report = labour_report(log, at(2, 45))
    assert report.level is None
    assert report.straining is not None
    assert report.straining.strength == StrainingStrength.WEAK


def test_straining_of_unknown_strength_counts_as_strong() -> None:
    report = labour_report([line(EntryKind.STRAINING_BEGAN, at(2))], at(2, 20))
    assert levels(report) == {FlagKey.STRONG_STRAINING: ADVICE}


def test_the_same_begin_from_two_devices_keeps_the_earlier_time() -> None:
    report = labour_report([strong(at(2)), strong(at(2, 3))], at(2, 20))
    assert levels(report) == {FlagKey.STRONG_STRAINING: ADVICE}


# Weak straining 4 h (Jutkowitz 2005)


@pytest.mark.parametrize(("minutes", "is_flagged"), [(239, False), (240, True)])
def test_weak_straining_rings_at_four_hours(minutes: int, is_flagged: bool) -> None:
    report = labour_report([weak(at(2))], at(2) + minutes * MINUTE)
    assert (levels(report).get(FlagKey.WEAK_STRAINING) == ADVICE) is is_flagged


def test_rare_straining_counts_from_its_first_spell() -> None:
    log = [weak(at(2)), ended(at(2, 10)), weak(at(4)), ended(at(4, 5))]
    assert FlagKey.WEAK_STRAINING in levels(labour_report(log, at(6)))


# Green discharge: 15 min (Freshman 2002), 2 h (Jutkowitz 2005), only before the first pup


@pytest.mark.parametrize("colour", [DischargeColour.GREEN, DischargeColour.DARK])
@pytest.mark.parametrize(("minutes", "level"), [(14, None), (15, ADVICE), (119, ADVICE), (120, GO_NOW)])
def test_green_discharge_rings_at_15_minutes_and_goes_at_two_hours(
    colour: DischargeColour, minutes: int, level: Level | None
) -> None:
    report = labour_report([discharge(at(1), colour)], at(1, minutes))
    assert levels(report).get(FlagKey.GREEN_DISCHARGE) == level


def test_green_discharge_after_the_first_pup_is_no_flag() -> None:
    log = [born(at(1)), discharge(at(1, 5), DischargeColour.GREEN)]
    assert labour_report(log, at(1, 50), pregnancy=SEVEN).level is None


def test_clear_discharge_is_no_flag() -> None:
    assert labour_report([discharge(at(1), DischargeColour.CLEAR)], at(6)).level is None


# Gap since the last pup: 2 h with straining or worry (clinic pages), 4 h outright (Jutkowitz 2005)


def test_two_hours_of_rest_alone_are_normal_but_with_straining_or_worry_they_ring() -> None:
    log = [born(at(1))]
    assert labour_report(log, at(3, 30), pregnancy=SEVEN).level is None
    worried = [*log, line(EntryKind.WORRY, at(2, 50))]
    assert levels(labour_report(worried, at(3), pregnancy=SEVEN)) == {FlagKey.GAP_SINCE_PUP: ADVICE}
    straining = [*log, weak(at(2, 50))]
    assert levels(labour_report(straining, at(3), pregnancy=SEVEN)) == {FlagKey.GAP_SINCE_PUP: ADVICE}
    assert labour_report(straining, at(2, 59), pregnancy=SEVEN).level is None


def test_four_hours_since_the_last_pup_with_more_expected_go_now() -> None:
    log = [born(at(1))]
    assert labour_report(log, at(4, 59), pregnancy=SEVEN).level is None
    assert levels(labour_report(log, at(5), pregnancy=SEVEN)) == {FlagKey.GAP_SINCE_PUP: GO_NOW}


def test_when_nobody_counted_the_pups_four_quiet_hours_ask_for_advice() -> None:
    report = labour_report([born(at(1))], at(5, 1))
    assert levels(report) == {FlagKey.GAP_SINCE_PUP: ADVICE}
    assert "nobody knows" in report.flags[0].reason
    assert report.still_expected is None


def test_the_last_expected_pup_ends_the_gap() -> None:
    log = [born(at(1)), born(at(2))]
    report = labour_report(log, at(9), pregnancy=Pregnancy(expected_pups=2))
    assert report.level is None
    assert report.still_expected == 0


def test_stillborn_pups_count_as_born_but_not_as_alive() -> None:
    report = labour_report([born(at(1)), born(at(2), is_alive=False)], at(2, 10), pregnancy=SEVEN)
    assert (report.born, report.born_alive, report.still_expected) == (2, 1, 5)
    assert report.minutes_since_last_pup == pytest.approx(10)


# Stage I: 8 h (Freshman 2002), up to 24 h (others)


@pytest.mark.parametrize(("hours", "level"), [(7, None), (8, ADVICE), (23, ADVICE), (24, GO_NOW)])
def test_a_long_first_stage_rings_at_8_and_goes_at_24_hours(hours: int, level: Level | None) -> None:
    report = labour_report([line(EntryKind.STAGE_ONE_BEGAN, at(0))], at(hours))
    assert levels(report).get(FlagKey.STAGE_ONE_LONG) == level
    assert report.stage == "stage I"


def test_straining_ends_the_first_stage() -> None:
    report = labour_report([line(EntryKind.STAGE_ONE_BEGAN, at(0)), weak(at(7))], at(9))
    assert FlagKey.STAGE_ONE_LONG not in levels(report)
    assert report.stage == "stage II and III"


# Temperature fell, no labour: 24 h


@pytest.mark.parametrize(("hours", "is_flagged"), [(23, False), (24, True)])
def test_no_labour_a_day_after_the_fall_rings(hours: int, is_flagged: bool) -> None:
    log = [line(EntryKind.TEMPERATURE_FELL, at(0)), line(EntryKind.TEMPERATURE_RECOVERED, at(10))]
    report = labour_report(log, at(hours))
    assert (levels(report).get(FlagKey.NO_LABOUR_AFTER_FALL) == ADVICE) is is_flagged


def test_labour_ends_the_timer_of_the_fall() -> None:
    log = [line(EntryKind.TEMPERATURE_FELL, at(0)), line(EntryKind.STAGE_ONE_BEGAN, at(20))]
    assert labour_report(log, at(25)).level is None


# Active labour: stillbirths climb past about 6 h (Runcan & Coutinho da Silva 2018)


def test_six_hours_of_active_labour_ring_while_more_pups_are_expected() -> None:
    log = [weak(at(0)), *(born(at(hour, 20)) for hour in range(6))]
    assert labour_report(log, at(5, 59), pregnancy=SEVEN).level is None
    assert levels(labour_report(log, at(6), pregnancy=SEVEN)) == {FlagKey.ACTIVE_LABOUR_LONG: ADVICE}
    assert labour_report(log, at(6), pregnancy=Pregnancy(expected_pups=6)).level is None


# Overdue: more than 70 d from the first mating, 72 d from the last, 66 d from LH


@pytest.mark.parametrize(
    ("field", "days", "key", "level"),
    [
        ("first_mating_on", 70, FlagKey.OVERDUE_FIRST_MATING, ADVICE),
        ("last_mating_on", 72, FlagKey.OVERDUE_LAST_MATING, GO_NOW),
        ("lh_surge_on", 66, FlagKey.OVERDUE_LH, ADVICE),
        ("window_latest_on", 0, FlagKey.OVERDUE_WINDOW, ADVICE),
    ],
)
def test_overdue_begins_the_day_after_the_published_limit(
    field: str, days: int, key: FlagKey, level: Level
) -> None:
    day = date(2026, 3, 1)
    pregnancy = Pregnancy(**{field: day})  # type: ignore[arg-type]
    on_limit = labour_report([], at(0), pregnancy=pregnancy, today=day + timedelta(days=days))
    past = labour_report([], at(0), pregnancy=pregnancy, today=day + timedelta(days=days + 1))
    assert on_limit.level is None
    assert levels(past) == {key: level}


def test_overdue_by_several_dates_is_one_sign_not_two() -> None:
    pregnancy = Pregnancy(first_mating_on=date(2026, 3, 1), lh_surge_on=date(2026, 3, 2))
    report = labour_report([], at(0), pregnancy=pregnancy, today=date(2026, 5, 12))
    assert set(levels(report).values()) == {ADVICE}
    assert len(report.flags) == 2


def test_once_a_pup_is_born_nobody_is_overdue() -> None:
    pregnancy = Pregnancy(first_mating_on=date(2026, 1, 1), expected_pups=5)
    assert labour_report([born(at(1))], at(1, 5), pregnancy=pregnancy).level is None


# At once, and second signs


@pytest.mark.parametrize(
    "entry",
    [
        line(EntryKind.PUP_STUCK, at(1)),
        line(EntryKind.FETAL_HEART_SLOW, at(1)),
        line(EntryKind.COLLAPSE, at(1)),
        line(EntryKind.FRESH_BLEEDING, at(1)),
        line(EntryKind.FOUL_SMELL, at(1)),
        discharge(at(1), DischargeColour.FRESH_RED),
    ],
)
def test_some_signs_mean_go_now_at_once(entry: LabourEntry) -> None:
    # Jutkowitz 2005, Box 2.
    assert labour_report([entry], at(1)).level == GO_NOW
    assert labour_report([entry], at(0, 59)).level is None


def test_the_stuck_pup_that_comes_ends_its_flag_but_bleeding_stays() -> None:
    log = [line(EntryKind.PUP_STUCK, at(1)), line(EntryKind.FRESH_BLEEDING, at(1, 1)), born(at(1, 10))]
    assert set(levels(labour_report(log, at(1, 11), pregnancy=SEVEN))) == {FlagKey.FRESH_BLEEDING}


def test_a_vet_who_has_seen_her_ends_what_stood_before() -> None:
    log = [line(EntryKind.FRESH_BLEEDING, at(1)), strong(at(1)), line(EntryKind.VET_SEEN, at(1, 35))]
    assert labour_report(log, at(1, 34)).level == GO_NOW
    assert labour_report(log, at(1, 36)).level is None
    assert labour_report(log, at(1, 55)).level == ADVICE


def test_two_signs_at_the_advice_level_mean_go_now() -> None:
    log = [discharge(at(1), DischargeColour.GREEN), strong(at(1))]
    report = labour_report(log, at(1, 20))
    assert set(levels(report).values()) == {GO_NOW}
    assert all("second sign" in flag.reason for flag in report.flags)


def test_finished_labour_stops_the_timers_until_something_happens_again() -> None:
    log = [born(at(1)), line(EntryKind.FINISHED, at(2))]
    quiet = labour_report(log, at(9), pregnancy=SEVEN)
    assert (quiet.level, quiet.stage, quiet.deadlines) == (None, "finished", ())
    again = labour_report([*log, strong(at(9))], at(9, 20), pregnancy=SEVEN)
    assert again.level == GO_NOW
    assert again.stage == "stage II and III"


# The log as such


def test_later_entries_do_not_change_an_earlier_report() -> None:
    log = [strong(at(2)), born(at(2, 25)), born(at(3))]
    assert labour_report(log, at(2, 21)) == labour_report(log[:1], at(2, 21))


def test_the_order_of_the_lines_does_not_matter() -> None:
    log = [strong(at(2)), ended(at(2, 5)), strong(at(3)), born(at(3, 5)), weak(at(4))]
    assert labour_report(log[::-1], at(4, 30), pregnancy=SEVEN) == labour_report(
        log, at(4, 30), pregnancy=SEVEN
    )


def test_minutes_are_real_minutes_across_the_clock_change() -> None:
    # The night of 25 October 2026: 01:50 +01:00 and 01:10 +00:00 are 20 minutes apart.
    summer, winter = timezone(timedelta(hours=1)), timezone(timedelta(0))
    begin = datetime(2026, 10, 25, 1, 50, tzinfo=summer)
    report = labour_report([strong(begin)], datetime(2026, 10, 25, 1, 10, tzinfo=winter))
    assert levels(report) == {FlagKey.STRONG_STRAINING: ADVICE}


def test_an_instant_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        labour_report([], datetime(2026, 5, 5, 1))
    with pytest.raises(ValueError, match="offset"):
        labour_report([strong(datetime(2026, 5, 5, 1))], at(2))


def test_a_quiet_log_has_no_flag_and_no_deadline() -> None:
    report = labour_report([], at(1))
    assert (report.level, report.flags, report.deadlines) == (None, (), ())
    assert report.stage == "not in labour"
    assert "vet" in report.caution


# Deadlines: a silent log still rings


def test_deadlines_name_the_next_instants_at_which_a_flag_will_rise() -> None:
    report = labour_report([strong(at(2))], at(2, 5))
    assert [(item.key, item.level, item.due_at) for item in report.deadlines] == [
        (FlagKey.STRONG_STRAINING, ADVICE, at(2, 20)),
        (FlagKey.STRONG_STRAINING, GO_NOW, at(2, 30)),
        (FlagKey.WEAK_STRAINING, ADVICE, at(6)),
        (FlagKey.ACTIVE_LABOUR_LONG, ADVICE, at(8)),
    ]


def test_a_second_spell_has_deadlines_of_its_own_beside_a_longer_first_one() -> None:
    log = [strong(at(2)), ended(at(2, 25)), strong(at(3))]
    report = labour_report(log, at(3, 1))
    assert levels(report) == {FlagKey.STRONG_STRAINING: ADVICE}
    due = [item.due_at for item in report.deadlines if item.key == FlagKey.STRONG_STRAINING]
    assert due == [at(3, 20), at(3, 30)]
    assert levels(labour_report(log, at(3, 30)))[FlagKey.STRONG_STRAINING] == GO_NOW


LINES = st.lists(
    st.builds(
        LabourEntry,
        kind=st.sampled_from(EntryKind),
        at=st.integers(min_value=0, max_value=600).map(lambda minutes: at(0) + minutes * MINUTE),
        strength=st.sampled_from([None, *StrainingStrength]),
        colour=st.sampled_from([None, *DischargeColour]),
        is_alive=st.booleans(),
    ),
    max_size=12,
)
PREGNANCIES = st.builds(Pregnancy, expected_pups=st.one_of(st.none(), st.integers(min_value=0, max_value=9)))


@given(log=LINES, minute=st.integers(min_value=0, max_value=800), pregnancy=PREGNANCIES)
def test_at_its_deadline_a_flag_has_risen_and_a_minute_before_it_had_not(
    log: list[LabourEntry], minute: int, pregnancy: Pregnancy
) -> None:
    now = at(0) + minute * MINUTE
    known = [entry for entry in log if entry.at <= now]
    report = labour_report(known, now, pregnancy=pregnancy)
    for deadline in report.deadlines:
        assert deadline.due_at > now
        risen = levels(labour_report(known, deadline.due_at, pregnancy=pregnancy))
        assert risen.get(deadline.key) in {deadline.level, GO_NOW}
        before = levels(labour_report(known, deadline.due_at - timedelta(seconds=1), pregnancy=pregnancy))
        # Active labour that rests hands over to the gap since the last pup at that very instant.
        assert before.keys() - {FlagKey.ACTIVE_LABOUR_LONG} <= risen.keys()


@given(log=LINES, minute=st.integers(min_value=0, max_value=800), pregnancy=PREGNANCIES)
def test_any_log_gives_a_report_that_survives_json(
    log: list[LabourEntry], minute: int, pregnancy: Pregnancy
) -> None:
    report = labour_report(log, at(0) + minute * MINUTE, pregnancy=pregnancy)
    json.dumps(asdict(report), default=datetime.isoformat, allow_nan=False)
    assert report.born >= report.born_alive
    assert (report.level is None) == (not report.flags)
    assert report.flags == tuple(sorted(report.flags, key=lambda flag: flag.level != GO_NOW))


@given(
    log=LINES,
    first=st.integers(min_value=601, max_value=2000),
    later=st.integers(min_value=0, max_value=2000),
    pregnancy=PREGNANCIES,
)
def test_waiting_without_a_new_line_never_lowers_the_alarm(
    log: list[LabourEntry], first: int, later: int, pregnancy: Pregnancy
) -> None:
    rank = {None: 0, ADVICE: 1, GO_NOW: 2}
    before = labour_report(log, at(0) + first * MINUTE, pregnancy=pregnancy)
    after = labour_report(log, at(0) + (first + later) * MINUTE, pregnancy=pregnancy)
    assert rank[after.level] >= rank[before.level]
    for key, level in levels(before).items():
        if key != FlagKey.ACTIVE_LABOUR_LONG:
            assert rank[levels(after)[key]] >= rank[level]


# Limits a vet agreed


def agreed(
    key: FlagKey, *, advice: float | None = None, go_now: float | None = None, vet: str = OONAS_VET
) -> VetAgreedLimit:
    return VetAgreedLimit(key, vet, date(2026, 4, 1), advice, go_now)


def test_a_vet_s_limit_replaces_the_published_one_and_is_named() -> None:
    limit = agreed(FlagKey.STRONG_STRAINING, advice=10, go_now=15)
    report = labour_report([strong(at(2))], at(2, 10), agreed=[limit])
    assert levels(report) == {FlagKey.STRONG_STRAINING: ADVICE}
    assert report.flags[0].limit_set_by == f"{OONAS_VET}, 2026-04-01"
    assert report.flags[0].limit_after == 10
    assert levels(labour_report([strong(at(2))], at(2, 15), agreed=[limit])) == {
        FlagKey.STRONG_STRAINING: GO_NOW
    }


def test_a_vet_can_add_the_level_the_books_leave_out() -> None:
    limit = agreed(FlagKey.WEAK_STRAINING, go_now=300)
    report = labour_report([weak(at(2))], at(7), agreed=[limit])
    assert levels(report)[FlagKey.WEAK_STRAINING] == GO_NOW


def test_a_shorter_go_now_figure_takes_the_advice_figure_with_it() -> None:
    limit = limits_with([agreed(FlagKey.STRONG_STRAINING, go_now=10)])[FlagKey.STRONG_STRAINING]
    assert (limit.advice_after, limit.go_now_after) == (10, 10)


def test_of_two_agreements_the_newer_one_stands() -> None:
    older = VetAgreedLimit(FlagKey.STRONG_STRAINING, OONAS_VET, date(2025, 1, 1), 5, 6)
    newer = agreed(FlagKey.STRONG_STRAINING, advice=12, go_now=18)
    limit = limits_with([newer, older])[FlagKey.STRONG_STRAINING]
    assert (limit.advice_after, limit.go_now_after) == (12, 18)


@pytest.mark.parametrize(
    "wrong",
    [
        agreed(FlagKey.STRONG_STRAINING, advice=10, vet="  "),
        agreed(FlagKey.STRONG_STRAINING),
        agreed(FlagKey.STRONG_STRAINING, advice=0),
        agreed(FlagKey.STRONG_STRAINING, advice=float("nan")),
        agreed(FlagKey.STRONG_STRAINING, go_now=float("inf")),
        agreed(FlagKey.STRONG_STRAINING, advice=45),
        agreed(FlagKey.STRONG_STRAINING, advice=25, go_now=20),
        agreed(FlagKey.COLLAPSE, go_now=60),
    ],
)
def test_a_limit_without_a_vet_or_a_sensible_figure_is_refused(wrong: VetAgreedLimit) -> None:
    with pytest.raises(ValueError):
        limits_with([wrong])


def test_a_vet_s_limit_for_an_overdue_dam_is_in_days() -> None:
    limit = agreed(FlagKey.OVERDUE_LH, advice=64)
    pregnancy = Pregnancy(lh_surge_on=date(2026, 3, 1))
    report = labour_report([], at(0), pregnancy=pregnancy, agreed=[limit], today=date(2026, 5, 5))
    assert levels(report) == {FlagKey.OVERDUE_LH: ADVICE}


def test_every_limit_names_its_source_and_stays_published_without_a_vet() -> None:
    assert limits_with([]) == dict(PUBLISHED_LIMITS)
    for limit in PUBLISHED_LIMITS.values():
        assert limit.source
        assert limit.status
        assert limit.advice_after is not None or limit.go_now_after is not None


# Placentas


def test_a_missing_placenta_is_only_a_hint() -> None:
    # Louisiana State University notes: one per pup, the dam often eats them.
    log = [born(at(1)), born(at(2)), line(EntryKind.PLACENTA_PASSED, at(2, 1))]
    report = labour_report(log, at(2, 5), pregnancy=SEVEN)
    assert report.placentas == 1
    assert report.level is None
    assert "only a hint" in report.placenta_hint
    assert "hint" not in placenta_hint(2, 2)
    with pytest.raises(ValueError):
        placenta_hint(-1, 0)


def test_an_impossible_pregnancy_is_refused() -> None:
    with pytest.raises(ValueError):
        Pregnancy(expected_pups=-1)
    with pytest.raises(ValueError):
        Pregnancy(first_mating_on=date(26, 3, 1))

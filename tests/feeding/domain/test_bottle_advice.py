"""The order: temperature, slow warming, suck, and only then a volume."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.bottle_advice import BottleStep, ColdLine, PupState, bottle_advice, cold_line_c
from feeding.domain.milk import bottle_plan

AT = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
PLAN = bottle_plan(300, 25, 1, 8)


@pytest.mark.parametrize(
    ("age_days", "line"), [(0, 35), (6, 35), (7, 36), (20, 36), (21, 37), (30, 37), (40, 37)]
)
def test_the_line_rises_with_age_in_completed_days(age_days: int, line: float) -> None:
    # Days 0-6 35.0, 7-20 36.0, 21-30 37.0 °C: veterinary reproduction page; held beyond day 30.
    assert cold_line_c(age_days) == line


@given(
    age_days=st.integers(min_value=0, max_value=40),
    below=st.floats(min_value=0.05, max_value=10),
    sucks=st.sampled_from([True, False, None]),
    watched=st.booleans(),
)
def test_a_cold_pup_never_gets_a_number(
    age_days: int, below: float, sucks: bool | None, watched: bool
) -> None:
    pup = PupState(age_days, cold_line_c(age_days) - below, AT, sucks, watched)
    advice = bottle_advice(pup, PLAN, AT)
    assert (advice.step, advice.plan) == (BottleStep.WARM_FIRST, None)
    assert any("Warm slowly" in text for text in advice.cautions)
    assert any("vet" in text for text in advice.cautions)


def test_exactly_at_the_line_is_warm_enough() -> None:
    advice = bottle_advice(PupState(3, 35.0, AT, True), PLAN, AT)
    assert (advice.step, advice.plan) == (BottleStep.FEED, PLAN)


@pytest.mark.parametrize("watched", [True, False])
def test_a_warm_pup_that_does_not_suck_goes_to_the_vet_without_a_bottle(watched: bool) -> None:
    advice = bottle_advice(PupState(3, 36.2, AT, False, watched), PLAN, AT)
    assert (advice.step, advice.plan) == (BottleStep.VET, None)


@pytest.mark.parametrize(
    "pup",
    [
        PupState(3),
        PupState(20, is_sucking=True),
        PupState(25, is_sucking=True, is_under_watch=True),
        PupState(25, is_sucking=False),
        PupState(25, 36.0, AT - timedelta(hours=5), True),
        PupState(3, 36.5, AT - timedelta(hours=2, minutes=1), True),
    ],
)
def test_without_a_fresh_temperature_a_pup_at_risk_is_measured_first(pup: PupState) -> None:
    advice = bottle_advice(pup, PLAN, AT)
    assert (advice.step, advice.plan) == (BottleStep.MEASURE_FIRST, None)


def test_an_older_thriving_pup_may_have_milk_without_a_temperature_but_that_is_said() -> None:
    advice = bottle_advice(PupState(22, 38.0, AT - timedelta(hours=9), True), PLAN, AT)
    assert (advice.step, advice.plan) == (BottleStep.FEED, PLAN)
    assert "No fresh temperature" in advice.cautions[0]


def test_the_suck_is_tried_first_and_a_watched_pup_gets_no_volume_before() -> None:
    watched = bottle_advice(PupState(3, 36.0, AT, None, True), PLAN, AT)
    thriving = bottle_advice(PupState(3, 36.0, AT, None, False), PLAN, AT)
    assert (watched.step, watched.plan) == (BottleStep.TEST_SUCK, None)
    assert (thriving.step, thriving.plan) == (BottleStep.TEST_SUCK, PLAN)


def test_a_hot_pup_is_said_first() -> None:
    # Above 39 °C: cool the box, call the vet; common practice, no source.
    advice = bottle_advice(PupState(10, 39.4, AT, True), PLAN, AT)
    assert advice.cautions[0] == "39.4 °C is hot: cool the box and ring the vet."


def test_relieving_is_reminded_of_before_three_weeks_only() -> None:
    def reminds(age_days: int) -> bool:
        advice = bottle_advice(PupState(age_days, 37.5, AT, True), PLAN, AT)
        return any("urine" in text for text in advice.cautions)

    assert reminds(20)
    assert not reminds(21)


def test_a_kennel_may_set_its_own_lines() -> None:
    lines = (ColdLine(0, 34.4),)
    assert bottle_advice(PupState(3, 34.6, AT, True), PLAN, AT, lines).step is BottleStep.FEED
    with pytest.raises(ValueError, match="no temperature line"):
        cold_line_c(3, (ColdLine(7, 36.0),))


@pytest.mark.parametrize("temperature_c", [19.9, 45.1, float("nan"), float("inf")])
def test_an_impossible_temperature_is_refused(temperature_c: float) -> None:
    with pytest.raises(ValueError, match="temperature"):
        bottle_advice(PupState(3, temperature_c, AT), PLAN, AT)


def test_a_negative_age_is_refused() -> None:
    with pytest.raises(ValueError):
        bottle_advice(PupState(-1, 36.0, AT), PLAN, AT)

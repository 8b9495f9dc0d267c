"""Bottle volumes against a published example and the rule of the stomach."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.milk import (
    MILK_NEEDS,
    bottle_plan,
    bottle_share_from_suckling,
    milk_need_kcal_per_100_g,
    milk_taken_g,
    minimum_feeds_per_day,
    stomach_limit_ml,
    usual_feeds_per_day,
    week_of_life,
)

REGISTRY: pint.UnitRegistry = pint.UnitRegistry()
PUPS = st.floats(min_value=50, max_value=5000)


def test_the_published_example_is_at_the_stomachs_capacity() -> None:
    # Breeder reproduction text: 227 g, 110 kcal/lb, 0.75 kcal/mL, 8 feeds: about 9 mL, the capacity.
    plan = bottle_plan(227, 24.2, 0.75, 8)
    assert plan.volume_ml_per_feed == pytest.approx(9, rel=0.02)
    assert plan.stomach_limit_ml == pytest.approx(9, rel=0.02)
    assert plan.is_over_capacity
    assert plan.advised_feeds_per_day == 9
    assert plan.advised_volume_ml_per_feed <= plan.stomach_limit_ml
    assert "give 9 feeds" in plan.cautions[0]


@pytest.mark.parametrize(("per_lb", "week"), [(60, 1), (70, 2), (80, 3), (90, 4)])
def test_the_handbooks_needs_per_pound_convert_as_pint_does(per_lb: float, week: int) -> None:
    # Dog Owner's Home Veterinary Handbook, 4th ed., p. 499.
    per_gram = REGISTRY.Quantity(per_lb, "kilocalorie / pound").to("kilocalorie / gram").magnitude
    found = milk_need_kcal_per_100_g("handbook", (week - 1) * 7)
    assert found == pytest.approx(per_gram * 100, rel=0.005)


def test_the_stomachs_limit_per_pound_converts_as_pint_does() -> None:
    per_gram = REGISTRY.Quantity(18, "milliliter / pound").to("milliliter / gram").magnitude
    assert stomach_limit_ml(100) == pytest.approx(per_gram * 100, rel=0.01)


@pytest.mark.parametrize(
    ("age_days", "week", "feeds"), [(0, 1, 6), (6, 1, 6), (7, 2, 4), (20, 3, 4), (27, 4, 3)]
)
def test_weeks_are_counted_in_completed_days(age_days: int, week: int, feeds: int) -> None:
    assert week_of_life(age_days) == week
    assert usual_feeds_per_day(age_days) == feeds


@pytest.mark.parametrize("age_days", [-1, 28])
def test_the_tables_end_with_the_fourth_week(age_days: int) -> None:
    with pytest.raises(ValueError, match="0 to 27"):
        week_of_life(age_days)


def test_sources_differ_almost_two_fold_and_each_is_named() -> None:
    values = [milk_need_kcal_per_100_g(key, 0) for key in MILK_NEEDS]
    assert max(values) / min(values) == pytest.approx(25 / 13.2)
    assert all(need.source for need in MILK_NEEDS.values())
    with pytest.raises(ValueError, match="unknown milk need"):
        milk_need_kcal_per_100_g("grandmother", 0)


def test_a_share_tops_up_a_pup_that_also_sucks() -> None:
    whole, third = bottle_plan(300, 25, 1, 8), bottle_plan(300, 25, 1, 8, bottle_share=1 / 3)
    assert third.volume_ml_per_day == pytest.approx(whole.volume_ml_per_day / 3)
    assert third.stomach_limit_ml == whole.stomach_limit_ml
    assert "33%" in third.assumptions[0]
    assert bottle_plan(300, 25, 1, 8, bottle_share=0).minimum_feeds_per_day == 0


def test_a_feed_exactly_at_the_limit_is_not_over_it() -> None:
    # 300 g hold 12 mL; 24 kcal/100 g at 1 kcal/mL are 72 mL, six feeds of exactly 12 mL.
    plan = bottle_plan(300, 24, 1, 6)
    assert (plan.is_over_capacity, plan.minimum_feeds_per_day) == (False, 6)


def test_very_thin_milk_is_a_question_for_the_vet() -> None:
    assert any("too thin" in text for text in bottle_plan(300, 25, 0.4, 12).cautions)


@given(
    pup_g=PUPS,
    need=st.floats(min_value=5, max_value=40),
    milk=st.floats(min_value=0.3, max_value=2),
    feeds=st.integers(min_value=1, max_value=24),
    share=st.floats(min_value=0, max_value=1),
)
def test_the_advised_feed_never_exceeds_the_stomach(
    pup_g: float, need: float, milk: float, feeds: int, share: float
) -> None:
    plan = bottle_plan(pup_g, need, milk, feeds, bottle_share=share)
    assert plan.advised_volume_ml_per_feed <= plan.stomach_limit_ml * (1 + 1e-6)
    assert plan.advised_feeds_per_day * plan.advised_volume_ml_per_feed == pytest.approx(
        plan.volume_ml_per_day
    )
    assert plan.is_over_capacity == (plan.minimum_feeds_per_day > feeds)
    if plan.minimum_feeds_per_day > 1:
        assert plan.volume_ml_per_day / (plan.minimum_feeds_per_day - 1) > plan.stomach_limit_ml


@given(light=PUPS, heavy=PUPS)
def test_a_heavier_pup_never_gets_less_milk(light: float, heavy: float) -> None:
    light, heavy = sorted((light, heavy))
    assert bottle_plan(light, 25, 1, 8).volume_ml_per_day <= bottle_plan(heavy, 25, 1, 8).volume_ml_per_day


@given(numbers=st.lists(st.floats(), min_size=5, max_size=5), feeds=st.integers())
def test_any_input_gives_finite_volumes_or_is_refused(numbers: list[float], feeds: int) -> None:
    pup_g, need, milk, limit, share = numbers
    try:
        plan = bottle_plan(pup_g, need, milk, feeds, limit, share)
    except ValueError:
        return
    assert math.isfinite(plan.advised_volume_ml_per_feed)
    assert plan.advised_volume_ml_per_feed >= 0


@given(first=st.floats(), second=st.floats(), third=st.floats())
def test_any_floats_give_a_share_and_feeds_or_are_refused(first: float, second: float, third: float) -> None:
    try:
        assert 0 <= bottle_share_from_suckling(first, second, third) <= 1
    except ValueError:
        assert not (1 <= first <= 1e6 and 0 <= second <= 20_000 and 0.1 <= third <= 5)
    try:
        assert minimum_feeds_per_day(first, second) >= 0
    except ValueError:
        assert not (0 <= first <= 1e6 and 1 <= second <= 1e6)


def test_the_share_follows_from_weighing_before_and_after_the_suckle() -> None:
    # Bitch's milk 1.45 kcal/g (NRC 2006, as quoted): 40 g sucked are 58 of 116 kcal.
    assert milk_taken_g(400, 410) == 10
    assert bottle_share_from_suckling(116, 40) == pytest.approx(0.5)
    assert bottle_share_from_suckling(50, 40) == 0
    with pytest.raises(ValueError):
        milk_taken_g(400, 399)

"""The correction from what came back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.leftovers import MealOutcome, correction


def _meal(planned: float, offered: float, left_share: float) -> MealOutcome:
    return MealOutcome(planned, offered, offered * 3.5, offered * 3.5 * left_share)


def test_one_meal_or_none_corrects_nothing_and_says_so() -> None:
    for meals in ([], [_meal(40, 40, 0.9)]):
        found = correction(meals)
        assert (found.factor, found.eaten_share_of_plan) == (1.0, None)
        assert "uncorrected" in found.assumptions[0]


def test_a_third_left_lowers_the_offer_to_a_tenth_above_what_was_eaten() -> None:
    # Rule of a tenth more than eaten: common practice, no source.
    found = correction([_meal(30, 30, 1 / 3), _meal(30, 30, 1 / 3)])
    assert found.factor == pytest.approx(2 / 3 * 1.1)
    assert found.cautions == ()


def test_emptied_bowls_leave_the_plan_whole() -> None:
    found = correction([_meal(30, 30, 0)] * 3)
    assert found.factor == 1
    assert "come back empty" in found.cautions[0]


def test_emptied_small_offers_climb_back_to_the_plan_step_by_step() -> None:
    offered, factors = 20.0, []
    for _ in range(6):
        found = correction([_meal(40, offered, 0), _meal(40, offered, 0)])
        factors.append(found.factor)
        offered = 40 * found.factor
    assert factors == sorted(factors)
    assert factors[0] == pytest.approx(0.55)
    assert factors[-1] > 0.85


def test_only_the_last_six_meals_count() -> None:
    found = correction([_meal(30, 30, 1)] * 10 + [_meal(30, 30, 0)] * 6)
    assert (found.factor, found.meals_counted) == (1, 6)


def test_much_left_asks_to_look_at_the_pups_and_still_offers_a_quarter() -> None:
    found = correction([_meal(30, 30, 1)] * 4)
    assert found.factor == 0.25
    assert "look at the pups" in found.cautions[0]


def test_more_left_than_offered_is_refused() -> None:
    with pytest.raises(ValueError):
        correction([_meal(30, 30, 1.1), _meal(30, 30, 0)])


@given(
    left=st.lists(st.floats(min_value=0, max_value=1), min_size=2, max_size=8),
    more=st.floats(min_value=0, max_value=1),
)
def test_more_left_never_raises_the_offer(left: list[float], more: float) -> None:
    before = correction([_meal(30, 30, share) for share in left])
    after = correction([_meal(30, 30, max(share, more)) for share in left])
    assert after.factor <= before.factor + 1e-12


@given(numbers=st.lists(st.floats(), min_size=4, max_size=4))
def test_any_floats_give_a_factor_or_are_refused(numbers: list[float]) -> None:
    try:
        found = correction([MealOutcome(*numbers)] * 2)
    except ValueError:
        return
    assert 0.25 <= found.factor <= 1
    assert found.eaten_share_of_plan is not None
    assert math.isfinite(found.eaten_share_of_plan)

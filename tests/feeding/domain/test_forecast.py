"""Food for the days to come."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feeding.domain import energy
from feeding.domain.dam_ration import DamStage, DamToFeed
from feeding.domain.foods import Food
from feeding.domain.forecast import FeedForecast, GrowthAssumed, feed_forecast
from feeding.domain.pup_needs import PupMethod, PupToFeed
from feeding.domain.stages import default_stages

AT = datetime(2028, 2, 27, 8, tzinfo=UTC)
FIRST = date(2028, 2, 27)
FOOD = Food("puppy food", 4000, "printed by the maker")
MOSS = PupToFeed("Moss", 49, 4000.0, AT, 19.0)
FERN = PupToFeed("Fern", 49, 4200.0, AT, 19.0)
NO_GROWTH = GrowthAssumed(0, 0, 0, "none, for this check")


def _forecast(pups: list[PupToFeed], days: int, **further: object) -> FeedForecast:
    return feed_forecast(pups, FOOD, default_stages(), PupMethod.GROWTH_KLEIN, AT, FIRST, days, **further)  # type: ignore[arg-type]


def test_without_growth_the_days_are_alike_and_can_be_followed_by_hand() -> None:
    found = _forecast([MOSS], 3, growth=NO_GROWTH)
    one_day_kg = energy.growth_klein(4, 19).energy_kcal_per_day / 4000
    assert found.likely_kg == pytest.approx(3 * one_day_kg)
    assert found.low_kg == found.likely_kg == found.high_kg


def test_days_run_over_the_leap_day() -> None:
    assert [one.on.isoformat() for one in _forecast([MOSS], 4).days] == [
        "2028-02-27",
        "2028-02-28",
        "2028-02-29",
        "2028-03-01",
    ]


def test_growth_counts_from_the_weighing_and_is_named() -> None:
    # 3 g a day per kg adult weight, 2 to 4: Small Animal Clinical Nutrition, 5th ed., Box 16-3.
    fresh = _forecast([MOSS], 1)
    old = _forecast([replace(MOSS, weighed_at=AT - timedelta(days=10))], 1)
    grown = energy.growth_klein(4 + 10 * 3 * 19 / 1000, 19).energy_kcal_per_day / 4
    assert fresh.days[0].likely_g == pytest.approx(energy.growth_klein(4, 19).energy_kcal_per_day / 4)
    assert old.days[0].likely_g == pytest.approx(grown)
    assert "2 to 4 g a day per kg of expected adult mass" in fresh.assumptions[0]


def test_a_pup_never_grows_past_its_expected_adult_weight() -> None:
    found = _forecast([replace(MOSS, age_days=200, weight_g=18_900)], 60)
    adult_g = energy.growth_klein(19, 19).energy_kcal_per_day / 4
    assert found.days[-1].likely_g == pytest.approx(adult_g)


def test_a_litter_still_on_milk_needs_food_only_from_its_first_stage() -> None:
    found = _forecast([replace(MOSS, age_days=25, weight_g=1500)], 5)
    assert [one.likely_g > 0 for one in found.days] == [False, False, False, True, True]


def test_pups_that_leave_eat_no_more() -> None:
    found = _forecast([MOSS, FERN], 3, growth=NO_GROWTH, leaving_on={"Fern": date(2028, 2, 28)})
    alone = _forecast([MOSS], 3, growth=NO_GROWTH)
    both = _forecast([MOSS, FERN], 3, growth=NO_GROWTH)
    assert found.days[0] == both.days[0]
    assert found.days[1:] == alone.days[1:]


def test_bags_are_rounded_up_beyond_the_stock_and_the_day_it_runs_out_is_given() -> None:
    day_kg = _forecast([MOSS], 1, growth=NO_GROWTH).likely_kg
    found = _forecast([MOSS], 30, growth=NO_GROWTH, stock_kg=day_kg * 10.5, bag_kg=day_kg * 10)
    assert (found.bags_to_buy, found.bags_to_be_safe) == (2, 2)
    assert found.stock_runs_out_on == FIRST + timedelta(days=10)
    enough = _forecast([MOSS], 30, growth=NO_GROWTH, stock_kg=day_kg * 40, bag_kg=1)
    assert (enough.bags_to_buy, enough.stock_runs_out_on) == (0, None)
    assert _forecast([MOSS], 30).bags_to_buy is None


def test_food_thrown_away_is_bought_too() -> None:
    plain, wasteful = _forecast([MOSS], 7), _forecast([MOSS], 7, waste_share=0.2)
    assert wasteful.likely_kg == pytest.approx(plain.likely_kg / 0.8)
    assert "20%" in wasteful.assumptions[1]


def test_the_dam_eats_too_and_her_pups_that_leave_no_longer_count() -> None:
    dam = DamToFeed("Bramble", 19, AT, DamStage.NURSING, 20, 2)
    pups = [replace(MOSS, age_days=20, weight_g=1200), replace(FERN, age_days=20, weight_g=1300)]
    found = _forecast(pups, 2, dam=dam, leaving_on={"Fern": date(2028, 2, 28)})
    assert found.days[0].likely_g == pytest.approx(energy.lactation(19, 2, 3).energy_kcal_per_day / 4)
    assert found.days[1].likely_g == pytest.approx(energy.lactation(19, 1, 4).energy_kcal_per_day / 4)


def test_a_pup_left_out_for_want_of_a_weight_still_sucks() -> None:
    dam = DamToFeed("Bramble", 19, AT, DamStage.NURSING, 20, 2)
    pups = [replace(MOSS, age_days=20, weight_g=1200), replace(FERN, age_days=20, weight_g=None)]
    found = _forecast(pups, 1, dam=dam)
    assert found.days[0].likely_g == pytest.approx(energy.lactation(19, 2, 3).energy_kcal_per_day / 4)
    assert found.cautions[0] == "Fern is left out of the amounts: no weight."


def test_a_pregnant_dam_near_term_is_said_to_need_more_soon() -> None:
    dam = DamToFeed("Bramble", 19, AT, DamStage.PREGNANT, 40)
    assert any("Whelping may fall" in text for text in _forecast([MOSS], 30, dam=dam).cautions)
    assert not any("Whelping may fall" in text for text in _forecast([MOSS], 5, dam=dam).cautions)


@pytest.mark.parametrize(
    "further",
    [{"waste_share": 0.95}, {"stock_kg": -1}, {"bag_kg": 0}, {"waste_share": float("nan")}],
)
def test_impossible_settings_are_refused(further: dict[str, float]) -> None:
    with pytest.raises(ValueError):
        _forecast([MOSS], 3, **further)


@pytest.mark.parametrize("days", [0, 371])
def test_a_forecast_of_no_day_or_more_than_a_year_is_refused(days: int) -> None:
    with pytest.raises(ValueError, match="days"):
        _forecast([MOSS], days)


@pytest.mark.parametrize(("low", "likely", "high"), [(3, 2, 4), (-1, 2, 3), (2, 3, 11)])
def test_an_impossible_growth_is_refused(low: float, likely: float, high: float) -> None:
    with pytest.raises(ValueError, match="gains"):
        GrowthAssumed(low, likely, high)


@settings(deadline=None)
@given(
    weight=st.floats(min_value=500, max_value=19_000),
    age=st.integers(min_value=20, max_value=200),
    days=st.integers(min_value=1, max_value=20),
)
def test_more_days_never_need_less_food_and_the_range_rises(weight: float, age: int, days: int) -> None:
    pup = replace(MOSS, weight_g=weight, age_days=age)
    shorter, longer = _forecast([pup], days), _forecast([pup], days + 1)
    assert longer.likely_kg >= shorter.likely_kg
    assert shorter.low_kg <= shorter.likely_kg <= shorter.high_kg

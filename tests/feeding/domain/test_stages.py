"""Weaning stages by completed days."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feeding.domain.gruel import SoakRatio
from feeding.domain.stages import DEFAULT_STAGES, Stage, check_stages, default_stages, stage_on


@pytest.mark.parametrize(
    ("age_days", "meals", "soak", "share"),
    [
        (28, 2, "1:2", 0.25),
        (34, 2, "1:2", 0.25),
        (35, 3, "1:1", 0.5),
        (42, 4, "2:1", 0.75),
        (48, 4, "2:1", 0.75),
        (49, 4, "3:1", 1),
        (83, 4, "3:1", 1),
        (84, 3, "None", 1),
        (183, 2, "None", 1),
    ],
)
def test_the_shipped_stages_stand_on_their_days(age_days: int, meals: int, soak: str, share: float) -> None:
    # Shares, ratios and meals between the published start and end: common practice, no source.
    stage = stage_on(default_stages(), age_days)
    assert stage is not None
    assert (stage.meals_per_day, str(stage.soak), stage.share_from_food) == (meals, soak, share)


def test_before_the_first_stage_pups_live_on_milk() -> None:
    assert stage_on(default_stages(), 27) is None
    assert stage_on(default_stages(21), 20) is None


def test_the_published_early_start_begins_with_the_thinnest_gruel() -> None:
    # 3 to 4 weeks: Small Animal Clinical Nutrition Table 16-6; 1:3, 3-4 times a day: owner handbook (quoted).
    stage = stage_on(default_stages(21), 21)
    assert stage is not None
    assert (str(stage.soak), stage.meals_per_day, stage.share_from_food) == ("1:3", 3, 0.1)


@given(start=st.integers(min_value=21, max_value=34), age=st.integers(min_value=0, max_value=400))
def test_every_start_gives_sound_stages_that_join_the_shipped_ones(start: int, age: int) -> None:
    stages = default_stages(start)
    assert stages[0].from_day == start
    found, shipped = stage_on(stages, age), stage_on(DEFAULT_STAGES, age)
    if age < start:
        assert found is None
    elif age >= 35:
        assert found == shipped
    shares = [stage.share_from_food for stage in stages]
    assert shares == sorted(shares)


@pytest.mark.parametrize("start", [20, 35, -1])
def test_a_start_outside_three_to_five_weeks_is_refused(start: int) -> None:
    with pytest.raises(ValueError):
        default_stages(start)


@pytest.mark.parametrize(
    "stages",
    [
        (),
        (Stage(28, 2, None, 0.5), Stage(28, 3, None, 0.6)),
        (Stage(35, 2, None, 0.5), Stage(28, 3, None, 0.6)),
        (Stage(28, 2, None, 0.5), Stage(35, 3, None, 0.4)),
    ],
)
def test_stages_out_of_order_or_with_a_falling_share_are_refused(stages: tuple[Stage, ...]) -> None:
    with pytest.raises(ValueError):
        check_stages(stages)


@pytest.mark.parametrize(
    ("day", "meals", "share"), [(-1, 2, 0.5), (1001, 2, 0.5), (28, 0, 0.5), (28, 9, 0.5), (28, 2, 1.1)]
)
def test_an_impossible_stage_is_refused(day: int, meals: int, share: float) -> None:
    with pytest.raises(ValueError):
        Stage(day, meals, SoakRatio(1, 1), share)


def test_softened_food_never_comes_more_than_four_times_a_day() -> None:
    # Never more than four: common practice, no source.
    assert all(stage.meals_per_day <= 4 for stage in (*default_stages(21), *default_stages(28)))

"""Weaning stages: from which completed day a litter gets how many meals, how wet, for how much of its need.

Published: semi-solid food from 3 to 4 weeks, weaned by 6 to 7, 2 to 4 meals a day afterwards, no free choice
(Small Animal Clinical Nutrition, 5th ed., Tables 16-6 and 17-3); first gruel of dry food 1 part to 3 parts
water, 3 to 4 times a day (owner handbook, as quoted).  The steps between are common practice without a
source, and all of it is the kennel's to edit.  "4 weeks" is day 28.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

from feeding.domain.gruel import SoakRatio
from feeding.domain.ranges import between

MOST_MEALS_OF_SOFTENED_FOOD = 4
STAGE_SOURCE = (
    "start, end and number of meals: Small Animal Clinical Nutrition, 5th ed., Tables 16-6 and 17-3;"
    " first gruel: owner handbook (as quoted); steps between: common practice, no source"
)
PUBLISHED_START_DAY = 21
USUAL_START_DAY = 28


@dataclass(frozen=True)
class Stage:
    """One step of weaning, from a completed day on until the next stage begins.

    soak: food to water by volume for dry food, None for food given dry; share_from_food: part of the need
    that comes from food, 0..1, the rest being milk; one_soaked_meal: keep one meal softened although fed dry.
    """

    from_day: int
    meals_per_day: int
    soak: SoakRatio | None
    share_from_food: float
    texture: str = ""
    one_soaked_meal: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.from_day <= 1000:
            raise ValueError(f"a stage begins on day 0 to 1000, not {self.from_day}")
        if not 1 <= self.meals_per_day <= 8:
            raise ValueError(f"meals a day must be 1 to 8, not {self.meals_per_day}")
        between("share of the need from food", self.share_from_food, 0, 1)


_MASHED = "finely mashed"
_SOFT = "softened, not mashed"

DEFAULT_STAGES = (
    Stage(28, 2, SoakRatio(1, 2), 0.25, _MASHED),
    Stage(35, 3, SoakRatio(1, 1), 0.50, _SOFT),
    Stage(42, 4, SoakRatio(2, 1), 0.75, _SOFT),
    Stage(49, 4, SoakRatio(3, 1), 1.0, _SOFT),
    Stage(84, 3, None, 1.0, "dry", one_soaked_meal=True),
    Stage(112, 3, None, 1.0, "dry"),
    Stage(183, 2, None, 1.0, "dry"),
)
EARLY_STAGE = Stage(21, 3, SoakRatio(1, 3), 0.10, _MASHED)


def default_stages(start_day: int = USUAL_START_DAY) -> tuple[Stage, ...]:
    """The stages shipped, food first offered on day 21 (as published) to 34 (28 is common practice).

    A start between two stages begins with the one in force that day.
    """
    if not PUBLISHED_START_DAY <= start_day < 35:
        raise ValueError(f"softened food starts on day {PUBLISHED_START_DAY} to 34, not {start_day}")
    usual = DEFAULT_STAGES if start_day >= USUAL_START_DAY else _with_three_meals_at_first()
    begun = stage_on(usual, start_day)
    if begun is None:
        return usual
    return (replace(begun, from_day=start_day), *(stage for stage in usual if stage.from_day > start_day))


def stage_on(stages: tuple[Stage, ...], age_days: int) -> Stage | None:
    """The stage in force at an age in completed days; None before the first, when pups live on milk.

    ValueError for stages out of order or two on one day.
    """
    check_stages(stages)
    begun = [stage for stage in stages if stage.from_day <= age_days]
    return begun[-1] if begun else None


def check_stages(stages: tuple[Stage, ...]) -> None:
    """ValueError unless there is a stage, they begin in rising order and food never gets less of the need."""
    if not stages:
        raise ValueError("a feeding plan needs a stage")
    for one, following in pairwise(stages):
        if following.from_day <= one.from_day:
            raise ValueError(
                f"stages must begin in rising order: day {following.from_day} after {one.from_day}"
            )
        if following.share_from_food < one.share_from_food:
            raise ValueError(f"the share from food falls on day {following.from_day}")


def _with_three_meals_at_first() -> tuple[Stage, ...]:
    """An early start takes the published three meals and keeps them through the fifth week."""
    first, *later = DEFAULT_STAGES
    return (EARLY_STAGE, replace(first, meals_per_day=EARLY_STAGE.meals_per_day), *later)

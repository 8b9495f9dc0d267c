"""Stages of a feeding plan as stored data: the sheet's defaults with meal times, and the way to the domain's."""

from collections.abc import Mapping, Sequence
from datetime import time
from typing import Any

from feeding.domain.gruel import SoakRatio
from feeding.domain.stages import USUAL_START_DAY, Stage, default_stages

# Meal times of a day by the number of meals (common practice, no source): spread over the waking hours.
WALL_TIMES = {
    1: ("12:00",),
    2: ("08:00", "17:00"),
    3: ("07:00", "12:00", "17:00"),
    4: ("07:00", "12:00", "17:00", "22:00"),
}


def default_stage_data(start_day: int = USUAL_START_DAY) -> list[dict[str, Any]]:
    """The stages shipped, as data.  start_day: completed day of the first softened food, 21 to 34."""
    return [
        {
            "from_day": stage.from_day,
            "wall_times": list(WALL_TIMES[stage.meals_per_day]),
            "soak": None
            if stage.soak is None
            else {"food_parts": stage.soak.food_parts, "water_parts": stage.soak.water_parts},
            "share_from_food": stage.share_from_food,
            "texture": stage.texture,
            "one_soaked_meal": stage.one_soaked_meal,
        }
        for stage in default_stages(start_day)
    ]


def stages_of(data: Sequence[Mapping[str, Any]]) -> tuple[Stage, ...]:
    """The domain's stages.  ValueError for stages the domain refuses."""
    return tuple(
        Stage(
            int(one["from_day"]),
            len(one["wall_times"]),
            None
            if one["soak"] is None
            else SoakRatio(float(one["soak"]["food_parts"]), float(one["soak"]["water_parts"])),
            float(one["share_from_food"]),
            one["texture"],
            one["one_soaked_meal"],
        )
        for one in data
    )


def wall_times_on(data: Sequence[Mapping[str, Any]], age_days: int) -> tuple[time, ...]:
    """Meal times of the stage in force at an age in completed days, rising; empty before the first stage."""
    begun = [one for one in data if one["from_day"] <= age_days]
    return tuple(sorted(time.fromisoformat(text) for text in begun[-1]["wall_times"])) if begun else ()

"""What clients may write about foods, feeding plans, meals, bottle feeds and stock."""

from decimal import Decimal
from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from feeding.choices import FoodKind, MilkNeed, MissingWeight, NeedMethod, StockMoveKind
from feeding.domain.stages import check_stages
from feeding.stage_data import default_stage_data, stages_of
from kennel.records.fields import (
    Day,
    FactInput,
    Line,
    Name,
    Note,
    Part,
    RecordInput,
    Uid,
    WallTimeText,
    YesNo,
    listed,
    number,
    ref,
    whole,
)

Percent = number(0, 100)
MOST_STAGES = 20


Parts = listed(0, 100)
Share = listed(0, 1)


class FoodInput(RecordInput):
    """A food: the kcal/kg printed on it, or its analysis in % as fed; a replacer by its kcal per mL."""

    name: Name
    kind: FoodKind = FoodKind.DRY
    printed_kcal_per_kg: number(100, 9500, places=1) | None = None
    protein_pct: Percent | None = None
    fat_pct: Percent | None = None
    fibre_pct: Percent | None = None
    moisture_pct: Percent | None = None
    ash_pct: Percent | None = None
    calcium_pct: Percent | None = None
    density_g_per_ml: number("0.1", "1.2", places=3) | None = None
    milk_kcal_per_ml: number("0.1", 5, places=3) | None = None
    bag_kg: number("0.01", 1000, places=3) | None = None
    in_use: YesNo = True
    note: Note = ""


class SoakInput(Part):
    """Parts of food to parts of water by volume."""

    food_parts: listed(0, 100, above=True)
    water_parts: Parts


class StageInput(Part):
    """A step of weaning, from a completed day of age on; as many meals a day as there are wall times."""

    from_day: whole(0, 1000)
    wall_times: Annotated[list[WallTimeText], Field(min_length=1, max_length=8)]
    soak: SoakInput | None = None
    share_from_food: Share
    texture: Annotated[Line, Field(max_length=80)] = ""
    one_soaked_meal: YesNo = False

    @model_validator(mode="after")
    def _times_differ(self) -> Self:
        if len(set(self.wall_times)) < len(self.wall_times):
            raise PydanticCustomError("wall_times", "A meal time is named twice.")
        return self


def _default_stages() -> list[StageInput]:
    return [StageInput.model_validate(one) for one in default_stage_data()]


class FeedingPlanInput(RecordInput):
    """The feeding of a litter; without `stages` the usual ones, softened food from day 28."""

    litter: ref("litter")
    food: ref("food")
    method: NeedMethod = NeedMethod.GROWTH_NRC
    missing_weight: MissingWeight = MissingWeight.LEAVE_OUT
    expected_adult_kg: number("0.3", 120) | None = None
    stages: Annotated[list[StageInput], Field(min_length=1, max_length=MOST_STAGES)] = Field(
        default_factory=_default_stages
    )
    soak_minutes: whole(0, 720) = 120
    bowls: whole(1, 30) = 1
    stale_after_days: whole(1, 30) = 3
    warn_within_minutes: whole(0, 720) = 60
    milk: ref("food") | None = None
    milk_need: MilkNeed = MilkNeed.NRC
    topped_up_share: number(0, 1) | None = None
    bottle_every_minutes: whole(30, 1440) | None = None
    bottle_until_day: whole(0, 27) = 27
    dam_food: ref("food") | None = None
    dam_meals_per_day: whole(1, 8) = 3
    ended_on: Day | None = None
    note: Note = ""

    @model_validator(mode="after")
    def _stages_in_order(self) -> Self:
        try:
            check_stages(stages_of([stage.model_dump() for stage in self.stages]))
        except ValueError as error:
            raise PydanticCustomError("stages", "{text}", {"text": f"Stages: {error}."}) from None
        return self


class MealInput(FactInput):
    """A meal offered to a litter; `left_wet_g` is what came back, weighed as it was."""

    litter: ref("litter")
    food: ref("food") | None = None
    dry_g: number(0, 50_000, places=1)
    water_ml: number(0, 50_000, places=1) = Decimal(0)
    left_wet_g: number(0, 100_000, places=1) | None = None
    bowls: whole(1, 30) | None = None
    absent: Annotated[list[Uid], Field(max_length=30)] = Field(default_factory=list)


class BottleFeedInput(FactInput):
    """A bottle or tube feed; `temp_c` and `is_sucking` as found before it."""

    pup: ref("pup")
    milk: ref("food") | None = None
    offered_ml: number(0, 500, places=1) | None = None
    taken_ml: number(0, 500, places=1)
    temp_c: number(25, 45) | None = None
    is_sucking: YesNo | None = None
    by_tube: YesNo = False
    urine_seen: YesNo = False
    stool_seen: YesNo = False


class StockMoveInput(FactInput):
    """Food that came or went."""

    food: ref("food")
    kind: StockMoveKind
    mass_g: number(0, 10_000_000, places=1)
    best_before_on: Day | None = None

"""Food for the days to come: kilograms and bags, with the growth that was assumed.

Growth: 2 to 4, on average 3, g a day for each kg of expected adult mass (Small Animal Clinical Nutrition, 5th
ed., Box 16-3).  A forecast orders food; it never replaces a weighing.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from feeding.domain.dam_ration import DamStage, DamToFeed, need_of_dam
from feeding.domain.foods import Food
from feeding.domain.pup_needs import LeftOut, PupMethod, PupToFeed, need_of_pup
from feeding.domain.ranges import above_zero, between
from feeding.domain.stages import STAGE_SOURCE, Stage, check_stages, stage_on

LONGEST_FORECAST_DAYS = 370
LONGEST_PREGNANCY_DAYS = 75


@dataclass(frozen=True)
class GrowthAssumed:
    """Gain in g a day for each kg of expected adult mass: least, likeliest, most; 0..10, rising."""

    low: float = 2.0
    likely: float = 3.0
    high: float = 4.0
    source: str = "Small Animal Clinical Nutrition, 5th ed., Box 16-3"

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.likely <= self.high <= 10:
            raise ValueError("gains must rise from low to high within 0 to 10 g a day per kg adult mass")


@dataclass(frozen=True)
class FoodDay:
    """Food of one day in g: likeliest growth, and the least and most over the growth assumed."""

    on: date
    low_g: float
    likely_g: float
    high_g: float


@dataclass(frozen=True)
class FeedForecast:
    """Food for a number of days in kg, bags to buy beyond the stock, and the day the stock runs out."""

    days: tuple[FoodDay, ...]
    low_kg: float
    likely_kg: float
    high_kg: float
    bags_to_buy: int | None
    bags_to_be_safe: int | None
    stock_runs_out_on: date | None
    left_out: tuple[LeftOut, ...]
    method: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def feed_forecast(
    pups: Sequence[PupToFeed],
    food: Food,
    stages: tuple[Stage, ...],
    method: PupMethod,
    at: datetime,
    first_on: date,
    days: int,
    *,
    dam: DamToFeed | None = None,
    leaving_on: Mapping[str, date] | None = None,
    growth: GrowthAssumed | None = None,
    waste_share: float = 0.0,
    stock_kg: float = 0.0,
    bag_kg: float | None = None,
) -> FeedForecast:
    """Food for `days` (1..370) days from `first_on`, the local day of `at`, for pups and perhaps their dam.

    leaving_on: days from which pups are gone; waste_share: food thrown away, 0..0.9; bag_kg: above 0.
    Pups without a weight or an expected adult mass are left out and named.  ValueError outside the ranges.
    """
    _check(days, stock_kg, bag_kg, waste_share)
    check_stages(stages)
    assumed = growth or GrowthAssumed()
    reckonable, left_out = _split(pups, method)
    leaving = leaving_on or {}

    def grams(day: int, gain: float) -> float:
        on = first_on + timedelta(days=day)
        staying = [pup for pup in reckonable if pup.name not in leaving or on < leaving[pup.name]]
        energy_kcal = sum(_pup_food_kcal(pup, stages, method, at, day, gain) for pup in staying)
        if dam is not None:
            gone = sum(left_on <= on for left_on in leaving.values())
            energy_kcal += need_of_dam(_dam_on(dam, day, gone), stages).energy_kcal_per_day
        return energy_kcal / food.energy_kcal_per_kg * 1000 / (1 - waste_share)

    reckoned = tuple(_food_day(first_on + timedelta(days=day), day, grams, assumed) for day in range(days))
    low_kg = sum(one.low_g for one in reckoned) / 1000
    likely_kg = sum(one.likely_g for one in reckoned) / 1000
    high_kg = sum(one.high_g for one in reckoned) / 1000
    return FeedForecast(
        reckoned,
        low_kg,
        likely_kg,
        high_kg,
        _bags(likely_kg, stock_kg, bag_kg),
        _bags(high_kg, stock_kg, bag_kg),
        _runs_out_on(reckoned, stock_kg),
        tuple(left_out),
        f"{method} × share from food by stage, {assumed.low:g} to {assumed.high:g} (likeliest"
        f" {assumed.likely:g}) g a day per kg adult mass",
        f"growth: {assumed.source}; {STAGE_SOURCE}",
        (
            *(f"{pup.name} {pup.weight_g:.0f} g" for pup in reckonable),
            f"{food.name}: {food.energy_kcal_per_kg:.0f} kcal/kg ({food.energy_source})",
        ),
        _assumptions(assumed, waste_share, dam),
        _cautions(left_out, dam, days),
    )


def _split(pups: Sequence[PupToFeed], method: PupMethod) -> tuple[list[PupToFeed], list[LeftOut]]:
    """Pups whose growth and need can be reckoned, and the others with the reason."""
    reckonable, left_out = [], []
    for pup in pups:
        if pup.weight_g is None or pup.expected_adult_kg is None:
            missing = "weight" if pup.weight_g is None else "expected adult weight"
            left_out.append(LeftOut(pup.name, f"no {missing}"))
            continue
        try:
            need_of_pup(min(pup.weight_g, pup.expected_adult_kg * 1000), method, pup.expected_adult_kg)
        except ValueError as error:
            left_out.append(LeftOut(pup.name, str(error)))
        else:
            reckonable.append(pup)
    return reckonable, left_out


def _pup_food_kcal(
    pup: PupToFeed, stages: tuple[Stage, ...], method: PupMethod, at: datetime, day: int, gain: float
) -> float:
    """Energy from food of one pup on a day to come; its weight never grows past the expected adult mass."""
    stage = stage_on(stages, pup.age_days + day)
    if stage is None or pup.weight_g is None or pup.expected_adult_kg is None:
        return 0.0
    since_weighed = 0.0 if pup.weighed_at is None else max(0.0, (at - pup.weighed_at) / timedelta(days=1))
    grown_g = pup.weight_g + gain * pup.expected_adult_kg * (since_weighed + day)
    weight_g = min(grown_g, pup.expected_adult_kg * 1000)
    return need_of_pup(weight_g, method, pup.expected_adult_kg).energy_kcal_per_day * stage.share_from_food


def _dam_on(dam: DamToFeed, day: int, pups_gone: int) -> DamToFeed:
    """The dam some days on: later in her stage, without the sucking pups that have left by then."""
    if dam.stage is DamStage.PREGNANT:
        return replace(dam, stage_days=min(dam.stage_days + day, LONGEST_PREGNANCY_DAYS))
    return replace(dam, stage_days=dam.stage_days + day, pups_sucking=max(0, dam.pups_sucking - pups_gone))


def _food_day(on: date, day: int, grams: Callable[[int, float], float], growth: GrowthAssumed) -> FoodDay:
    likely_g = grams(day, growth.likely)
    # Near the adult weight a pup that grows faster needs less, so the ends are sorted.
    ends = sorted((grams(day, growth.low), likely_g, grams(day, growth.high)))
    return FoodDay(on, ends[0], likely_g, ends[-1])


def _bags(need_kg: float, stock_kg: float, bag_kg: float | None) -> int | None:
    return None if bag_kg is None else max(0, math.ceil((need_kg - stock_kg) / bag_kg))


def _runs_out_on(days: Sequence[FoodDay], stock_kg: float) -> date | None:
    """The first day the stock no longer covers with the likeliest growth; None when it lasts."""
    left_g = stock_kg * 1000
    for one in days:
        left_g -= one.likely_g
        if left_g < 0:
            return one.on
    return None


def _check(days: int, stock_kg: float, bag_kg: float | None, waste_share: float) -> None:
    if not 1 <= days <= LONGEST_FORECAST_DAYS:
        raise ValueError(f"a forecast covers 1 to {LONGEST_FORECAST_DAYS} days, not {days}")
    between("stock in kg", stock_kg, 0, 100_000)
    between("share thrown away", waste_share, 0, 0.9)
    if bag_kg is not None:
        between("bag in kg", above_zero("bag in kg", bag_kg), 0.01, 1000)


def _assumptions(growth: GrowthAssumed, waste_share: float, dam: DamToFeed | None) -> tuple[str, ...]:
    stated = [
        f"From their last weighing on pups gain {growth.low:g} to {growth.high:g} g a day per kg of expected"
        f" adult mass ({growth.source}).",
        f"{waste_share:.0%} of the food is thrown away.",
    ]
    if dam is not None:
        stated.append(f"{dam.name} keeps her present weight of {dam.mass_kg:g} kg.")
    return tuple(stated)


def _cautions(left_out: Sequence[LeftOut], dam: DamToFeed | None, days: int) -> tuple[str, ...]:
    said = [f"{one.name} is left out of the amounts: {one.reason}." for one in left_out]
    if dam is not None and dam.stage is DamStage.PREGNANT and dam.stage_days + days > 56:
        said.append("Whelping may fall into these days: a nursing dam needs far more than is reckoned here.")
    return (*said, "For ordering food only: the meals follow the weighings.")

"""Single measures of a pup's growth: plain formulas on weights, each with its source.

Weights are grams of the pup, ages days since birth.  Every function gives a finite number or raises
ValueError.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

# Binary fractions cannot hold -4 % or 10 % exactly: a reading on the limit counts as reaching it.
EDGE_PCT = 1e-9

ENVELOPE_LAST_DAY = 21.0
DAYS_IN_WEEK = 7
LOG_GAIN_WEEK_1 = math.log(1.08)
LOG_GAIN_LATER = math.log(1.05)


def positive(name: str, value: float) -> float:
    """The value as a float when it is finite and above 0; ValueError otherwise."""
    number = float(value)
    if not (math.isfinite(number) and number > 0):
        raise ValueError(f"{name} must be a finite number above 0, not {value}")
    return number


def finite(name: str, value: float) -> float:
    """The value as a float when it is finite; ValueError otherwise."""
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{name} must be a finite number, not {value}")
    return number


def _change_pct(from_g: float, to_g: float) -> float:
    return finite("the change", 100.0 * ((to_g - from_g) / from_g))


def early_growth_rate_pct(birth_g: float, day2_g: float) -> float:
    """Growth from birth to day 2 in % of birth weight; negative is loss.

    birth_g: dried, before the first suck; a later first weight makes the rate too low and must not be used.
    Source: Mila et al. 2015, J Anim Sci 93:4436-4442 (summary; verified in a secondary quotation).
    """
    return _change_pct(positive("birth_g", birth_g), positive("day2_g", day2_g))


def early_growth_at_risk(birth_g: float, day2_g: float, limit_pct: float = -4.0) -> bool:
    """Whether growth to day 2 is at or below the limit that goes with more deaths from day 2 to 21.

    Source: Mila et al. 2015 (summary): -4 % or less.
    """
    return early_growth_rate_pct(birth_g, day2_g) <= finite("limit_pct", limit_pct) + EDGE_PCT


def weight_loss_pct(birth_g: float, now_g: float) -> float:
    """Weight lost since birth in % of birth weight; negative when the pup has gained.

    Source of its use: Dog Owner's Home Veterinary Handbook 4th ed., ch. 17 (verified in text).
    """
    return 0.0 - _change_pct(positive("birth_g", birth_g), positive("now_g", now_g))


def loss_alarm(birth_g: float, now_g: float, limit_pct: float = 10.0) -> bool:
    """Whether the loss since birth reaches the limit (10 % or more in the first 48 h).

    Source: Dog Owner's Home Veterinary Handbook 4th ed., ch. 17 (verified in text): 10 % or more and not
    gaining by 72 h = feed and call the vet; less, then gaining = watch.
    """
    return weight_loss_pct(birth_g, now_g) >= finite("limit_pct", limit_pct) - EDGE_PCT


def low_vs_litter_pct(pup_g: float, littermates_mean_g: float) -> float:
    """How far a pup is below the mean of its littermates, in % of that mean; negative when it is above.

    littermates_mean_g: mean of the OTHER pups.  Source: Dog Owner's Home Veterinary Handbook 4th ed., ch. 17.
    """
    return 0.0 - _change_pct(positive("littermates_mean_g", littermates_mean_g), positive("pup_g", pup_g))


def is_low_vs_litter(pup_g: float, littermates_mean_g: float, limit_pct: float = 25.0) -> bool:
    """Whether a pup is a quarter or more below its littermates' mean (at birth: high risk without help).

    Source: Dog Owner's Home Veterinary Handbook 4th ed., ch. 17 (verified in text).
    """
    return low_vs_litter_pct(pup_g, littermates_mean_g) >= finite("limit_pct", limit_pct) - EDGE_PCT


def daily_gain_from_adult_g(adult_kg: float, g_per_kg: float) -> float:
    """Gain in g a day that a rate per kg of expected adult weight asks for.

    Sources of rates: Small Animal Clinical Nutrition 5th ed., table 16-1 (2 g in weeks 5 to 10, 2 to 4 after)
    and box 16-3 (2 to 4); the Dog Owner's Home Veterinary Handbook (1 to 1.5 g per lb).  They disagree.
    """
    return finite("the gain", positive("adult_kg", adult_kg) * positive("g_per_kg", g_per_kg))


def daily_gain_pct(previous_g: float, now_g: float, days: float) -> float:
    """Mean gain a day in % of the weight at the start of the interval.

    days: length of the interval, above 0.  For one day the base is the previous day's weight, as in Small
    Animal Clinical Nutrition's 8 and 5 %; some charts use birth weight.  Over several days see
    `compound_gain_pct_per_day`, which stays comparable with those figures.
    """
    change = _change_pct(positive("previous_g", previous_g), positive("now_g", now_g))
    return finite("the gain", change / positive("days", days))


def compound_gain_pct_per_day(previous_g: float, now_g: float, days: float) -> float:
    """The steady gain a day, each in % of the day before, that leads from one weight to the other.

    days: length of the interval, above 0.  The rules use this one, because weighings are missed.
    """
    ratio = positive("ratio", positive("now_g", now_g) / positive("previous_g", previous_g))
    exponent = math.log(ratio) / positive("days", days)
    if exponent > 700.0:
        raise ValueError("the gain is out of any range")
    return 100.0 * math.expm1(exponent)


def gain_band_pct_per_day(age_days: float) -> tuple[float, float] | None:
    """The published range of healthy gain in % of the day before, by age; None after 4 weeks.

    Source: Small Animal Clinical Nutrition 5th ed., table 16-1 (verified in text): week 1 8 % (5 to 10),
    weeks 2 to 4 5 % (3.5 to 6).
    """
    age = _age(age_days)
    if age < DAYS_IN_WEEK:
        return (5.0, 10.0)
    return (3.5, 6.0) if age < 4 * DAYS_IN_WEEK else None


def gain_band_g_per_kg_adult(age_days: float) -> tuple[float, float] | None:
    """The published gain in g a day per kg of expected adult weight, by age; None before week 5.

    Source: Small Animal Clinical Nutrition 5th ed., table 16-1 (verified in text): weeks 5 to 10 2 g, after
    week 10 2 to 4 g.  Box 16-3 of the same book and the handbook give other figures from birth on; per kg of
    adult weight they ask more of newborn pups of large breeds than the fastest published growth allows.
    """
    age = _age(age_days)
    if age < 4 * DAYS_IN_WEEK:
        return None
    return (2.0, 2.0) if age < 10 * DAYS_IN_WEEK else (2.0, 4.0)


def published_log_growth(age_h: float) -> float:
    """ln of weight over birth weight at the published mean pace, by age in hours.

    Nothing in the first day (a small loss is acceptable: Univ. of Minnesota notes), then 8 % a day to day 7
    and 5 % a day (Small Animal Clinical Nutrition 5th ed., table 16-1; both verified in text).  Valid to 4
    weeks.
    """
    days = age_h / 24.0
    week1_days = min(max(days - 1.0, 0.0), DAYS_IN_WEEK - 1.0)
    return week1_days * LOG_GAIN_WEEK_1 + max(days - DAYS_IN_WEEK, 0.0) * LOG_GAIN_LATER


def birth_weight_pct_of_dam(birth_g: float, dam_kg: float) -> float:
    """Birth weight in % of the dam's weight: about 1 (some giants) to 6.5 (smallest toys) for one pup.

    Source: Small Animal Clinical Nutrition 5th ed., table 16-1 and box 16-3 (verified in text).  A whole
    litter makes 12 to 14 %.
    """
    return finite("the share", positive("birth_g", birth_g) / positive("dam_kg", dam_kg) / 10.0)


def max_growth_curve_g(birth_g: float, day: float) -> float:
    """The weight of the fastest-growing pups at that age: a ceiling, never a target.

    day: 0 to 21.  W0 exp(0.13084 x - 0.001616 x^2), 345 pups, 19 breeds.
    Source: Alves 2020, Vet Med Sci, doi 10.1002/vms3.322 (verified in text).
    """
    age = finite("day", day)
    if not 0.0 <= age <= ENVELOPE_LAST_DAY:
        raise ValueError(f"the curve holds for days 0 to 21, not {day}")
    return finite("the weight", positive("birth_g", birth_g) * math.exp(0.13084 * age - 0.001616 * age * age))


def day_reaching_multiple(log: Sequence[tuple[float, float]], multiple: float = 2.0) -> float:
    """The age in days at which birth weight is first reached so many times, straight between weighings.

    log: (age in days, weight in g) in any order, one weighing per age, the first at age 0.  ValueError when
    the birth weight is missing or the multiple is not reached yet.
    Published for doubling: 8 to 10 days (Small Animal Clinical Nutrition), 7 to 10 (Univ. of Minnesota
    notes), 10 to 12 (Dog Owner's Home Veterinary Handbook); tripling may occur by week 3 (verified in text).
    """
    points = sorted((finite("age", day), positive("weight", weight_g)) for day, weight_g in log)
    if not points or points[0][0] != 0.0:
        raise ValueError("the log must begin with the birth weight at day 0")
    if any(one[0] == other[0] for one, other in pairwise(points)):
        raise ValueError("two weights for the same age")
    wanted_g = finite("the wanted weight", points[0][1] * positive("multiple", multiple))
    if wanted_g <= points[0][1]:
        return 0.0
    for (day_a, weight_a), (day_b, weight_b) in pairwise(points):
        if weight_b >= wanted_g:
            return day_a + (day_b - day_a) * ((wanted_g - weight_a) / (weight_b - weight_a))
    raise ValueError(f"{multiple:g} times birth weight is not reached by day {points[-1][0]:g}")


def _age(age_days: float) -> float:
    age = finite("age_days", age_days)
    if age < 0:
        raise ValueError(f"age_days must not be negative, not {age_days}")
    return age

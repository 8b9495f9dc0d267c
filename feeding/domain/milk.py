"""Bottle and tube volumes of milk replacer for unweaned pups.

Sources differ almost two-fold on the need, so the answer names the one used.  The stomach limit is never
exceeded: when a feed would be larger, feeds are added.  Ages are completed days (week 1 = days 0-6).
"""

import math
from dataclasses import dataclass

from feeding.domain.ranges import ROUNDING, above_zero, between, finite, not_negative

HIGHEST_PUP_G = 20_000.0
STOMACH_LIMIT_ML_PER_100_G = 4.0
BITCH_MILK_KCAL_PER_G = 1.45
MOST_FEEDS_A_DAY = 12

FEEDING_CAUTIONS = (
    "Warm pup first, then the suck, then the bottle; pup belly-down, never on its back.",
    "Milk at 37-38 °C, no microwave; made-up milk chilled and thrown away after 24 h.",
    "Rather underfeed than overfeed the first feeds: dilute, then build up"
    " (Small Animal Clinical Nutrition, 5th ed., p. 309).",
    "Follow the label of the replacer and the vet.",
)


@dataclass(frozen=True)
class MilkNeed:
    """A published energy need of unweaned pups by week of life, kcal per 100 g and day."""

    key: str
    kcal_per_100_g_by_week: tuple[float, float, float, float]
    source: str


MILK_NEEDS = {
    need.key: need
    for need in (
        MilkNeed("nrc", (25.0, 25.0, 25.0, 25.0), "NRC 2006 and FEDIAF, 25 kcal/100 g (as quoted)"),
        MilkNeed(
            "breeder_text",
            (24.2, 24.2, 24.2, 24.2),
            "breeder reproduction text, 110 kcal/lb (quoted page, author not shown)",
        ),
        MilkNeed(
            "handbook",
            (13.2, 15.4, 17.6, 19.8),
            "Dog Owner's Home Veterinary Handbook, 4th ed., p. 499, 60/70/80/90 kcal/lb",
        ),
    )
}
FEEDS_PER_DAY_BY_WEEK = (6, 4, 4, 3)
FEEDS_SOURCE = "Dog Owner's Home Veterinary Handbook, 4th ed., p. 499"


@dataclass(frozen=True)
class BottlePlan:
    """Milk for one pup: kcal and mL a day, mL a feed, the stomach's limit and the feeds that respect it."""

    energy_kcal_per_day: float
    volume_ml_per_day: float
    feeds_per_day: int
    volume_ml_per_feed: float
    stomach_limit_ml: float
    minimum_feeds_per_day: int
    is_over_capacity: bool
    advised_feeds_per_day: int
    advised_volume_ml_per_feed: float
    method: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def week_of_life(age_days: int) -> int:
    """Week of life, 1 for days 0-6; ValueError for a negative age and from day 28, when the tables end."""
    if not 0 <= age_days < 28:
        raise ValueError(f"the milk tables cover completed days 0 to 27, not {age_days}")
    return age_days // 7 + 1


def milk_need_kcal_per_100_g(key: str, age_days: int) -> float:
    """Energy need of an unweaned pup, kcal per 100 g and day, by the source `key` of MILK_NEEDS."""
    if key not in MILK_NEEDS:
        raise ValueError(f"unknown milk need {key!r}; known are {', '.join(MILK_NEEDS)}")
    return MILK_NEEDS[key].kcal_per_100_g_by_week[week_of_life(age_days) - 1]


def usual_feeds_per_day(age_days: int) -> int:
    """Feeds a day by week of life, 6/4/4/3 (Dog Owner's Home Veterinary Handbook, 4th ed., p. 499)."""
    return FEEDS_PER_DAY_BY_WEEK[week_of_life(age_days) - 1]


def stomach_limit_ml(pup_g: float, limit_ml_per_100_g: float = STOMACH_LIMIT_ML_PER_100_G) -> float:
    """Most milk of one feed; 4 mL per 100 g is 18 mL/lb (breeder reproduction text, as quoted).

    pup_g: above 0, at most 20,000; limit: 0.5..15 mL per 100 g.
    """
    above_zero("pup's mass in g", pup_g, HIGHEST_PUP_G)
    between("stomach limit in mL per 100 g", limit_ml_per_100_g, 0.5, 15)
    return pup_g / 100 * limit_ml_per_100_g


def milk_energy_kcal_per_day(pup_g: float, kcal_per_100_g: float, bottle_share: float = 1.0) -> float:
    """Energy a day to come from the bottle: need × share.

    kcal_per_100_g: 1..60; bottle_share: 0..1, 1 for a hand-reared pup (the kennel sets it; common practice,
    no source).
    """
    above_zero("pup's mass in g", pup_g, HIGHEST_PUP_G)
    between("need in kcal per 100 g", kcal_per_100_g, 1, 60)
    between("share from the bottle", bottle_share, 0, 1)
    return pup_g / 100 * kcal_per_100_g * bottle_share


def milk_volume_ml_per_day(
    pup_g: float, kcal_per_100_g: float, milk_kcal_per_ml: float, bottle_share: float = 1.0
) -> float:
    """Milk a day in mL; milk_kcal_per_ml: 0.1..5 (replacers 1.0-1.3, emergency home mix about 0.75)."""
    between("milk in kcal per mL", milk_kcal_per_ml, 0.1, 5)
    return milk_energy_kcal_per_day(pup_g, kcal_per_100_g, bottle_share) / milk_kcal_per_ml


def minimum_feeds_per_day(day_ml: float, limit_ml: float) -> int:
    """Fewest feeds that keep each within the stomach's limit; a day's milk 0 mL or more, limit above 0."""
    not_negative("milk a day in mL", day_ml)
    above_zero("stomach limit in mL", limit_ml)
    return math.ceil(finite("feeds", day_ml / limit_ml) * (1 - ROUNDING))


def bottle_plan(
    pup_g: float,
    kcal_per_100_g: float,
    milk_kcal_per_ml: float,
    feeds_per_day: int,
    limit_ml_per_100_g: float = STOMACH_LIMIT_ML_PER_100_G,
    bottle_share: float = 1.0,
    need_source: str = "need as entered",
) -> BottlePlan:
    """Milk a day and a feed for a pup; over the stomach's limit the advised feeds go up, never the volume.

    milk_kcal_per_ml: 0.1..5; feeds_per_day: 1..24.
    Numbers only: whether this pup may have milk now is `bottle_advice`.
    """
    if not 1 <= feeds_per_day <= 24:
        raise ValueError(f"feeds a day must be 1 to 24, not {feeds_per_day}")
    energy_kcal = milk_energy_kcal_per_day(pup_g, kcal_per_100_g, bottle_share)
    limit_ml = stomach_limit_ml(pup_g, limit_ml_per_100_g)
    day_ml = milk_volume_ml_per_day(pup_g, kcal_per_100_g, milk_kcal_per_ml, bottle_share)
    least_feeds = minimum_feeds_per_day(day_ml, limit_ml)
    advised_feeds = max(feeds_per_day, least_feeds)
    return BottlePlan(
        energy_kcal,
        day_ml,
        feeds_per_day,
        day_ml / feeds_per_day,
        limit_ml,
        least_feeds,
        day_ml / feeds_per_day > limit_ml * (1 + ROUNDING),
        advised_feeds,
        day_ml / advised_feeds,
        "need × share ÷ energy of the milk, at most the stomach's limit a feed",
        f"{need_source}; stomach limit: breeder reproduction text, 18 mL/lb (as quoted)",
        (
            f"{pup_g:g} g, {kcal_per_100_g:g} kcal/100 g, {milk_kcal_per_ml:g} kcal/mL,"
            f" {feeds_per_day} feeds a day, {limit_ml_per_100_g:g} mL/100 g a feed",
        ),
        (f"{bottle_share:.0%} of the need from the bottle, set by the kennel.",),
        (*_volume_cautions(feeds_per_day, least_feeds), *FEEDING_CAUTIONS),
    )


def bottle_share_from_suckling(
    need_kcal_per_day: float, sucked_g_per_day: float, milk_kcal_per_g: float = BITCH_MILK_KCAL_PER_G
) -> float:
    """Share still needed from the bottle when weighing before and after suckling showed `sucked_g_per_day`.

    1.45 kcal/g is the gross energy of bitch's milk (NRC 2006, as quoted); taking it as metabolisable makes
    the share come out a little low, so raise it when the pup does not gain.  Returns 0..1.
    """
    above_zero("need in kcal", need_kcal_per_day)
    between("milk sucked in g", sucked_g_per_day, 0, HIGHEST_PUP_G)
    between("milk in kcal per g", milk_kcal_per_g, 0.1, 5)
    return max(0.0, 1 - sucked_g_per_day * milk_kcal_per_g / need_kcal_per_day)


def milk_taken_g(before_g: float, after_g: float) -> float:
    """Milk a pup took, in g: its weight after a suckle less that before; ValueError when it lost weight."""
    above_zero("weight before suckling in g", before_g, HIGHEST_PUP_G)
    between("weight after suckling in g", after_g, before_g, HIGHEST_PUP_G)
    return after_g - before_g


def _volume_cautions(feeds_per_day: int, least_feeds: int) -> tuple[str, ...]:
    cautions = []
    if least_feeds > feeds_per_day:
        cautions.append(f"Above the stomach's limit: give {least_feeds} feeds, never a larger one.")
    if least_feeds > MOST_FEEDS_A_DAY:
        cautions.append(f"More than {MOST_FEEDS_A_DAY} feeds a day: the milk is too thin, ask the vet.")
    return tuple(cautions)

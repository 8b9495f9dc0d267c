"""Newborn care by age: temperature and feeding block, box climate, vital signs, blood, milestones.

Ages are completed days since birth unless a name says otherwise; temperatures degrees Celsius.  Decision
support: the vet's word outranks every line here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from litters.domain.growth_measures import finite
from litters.domain.watch_limits import Limits

HANDBOOK = "Dog Owner's Home Veterinary Handbook"
NUTRITION = "Small Animal Clinical Nutrition 5th ed., table 16-1"
VERIFIED, SECONDARY = "verified in text", "verified in a secondary quotation"
MEMORY, NO_SOURCE = "from memory, unverified", "common practice, no source"

WARM_FIRST = (
    "No milk by bottle or tube: warm slowly first, not more than 1 degree C an hour, and ask the vet. "
    "A warm, willing dam may keep the pup at her side."
)
COOL_BOX = "Cool the box, offer a cooler corner, call the vet."


@dataclass(frozen=True)
class TemperatureAdvice:
    """What a rectal temperature says: the line of the age, whether hand-feeding stops, and what to do."""

    rectal_c: float
    line_c: float | None
    is_below_line: bool
    is_far_too_cold: bool
    is_too_hot: bool
    is_hand_feeding_blocked: bool
    words: str


@dataclass(frozen=True)
class Span:
    """A range of a measured value from low to high, both included, with its source and how sure that is."""

    low: float
    high: float
    unit: str
    source: str
    status: str


@dataclass(frozen=True)
class VitalSigns:
    """Published vital signs of an age; a part without a figure is None."""

    rectal_c: Span | None
    heart_per_minute: Span | None
    breaths_per_minute: Span | None


@dataclass(frozen=True)
class Milestone:
    """Something a pup does or needs from one completed day to another, both included."""

    key: str
    words: str
    from_day: int
    to_day: int
    source: str
    status: str


def completed_days(age_h: float) -> int:
    """Completed days of an age in hours, 0 during the first 24 h; ValueError for a negative age."""
    age = finite("age_h", age_h)
    if age < 0:
        raise ValueError("age_h must not be negative")
    return int(age // 24.0)


def _rectal(rectal_c: float) -> float:
    value = finite("rectal_c", rectal_c)
    if not 20.0 <= value <= 45.0:
        raise ValueError("a rectal temperature lies between 20 and 45 degrees Celsius")
    return value


def temperature_advice(
    rectal_c: float, age_days: int, is_sucking: bool | None = None, limits: Limits | None = None
) -> TemperatureAdvice:
    """What to do at that temperature and age (completed days): line, feeding block, words.

    is_sucking False blocks hand-feeding at any temperature: a warm pup that will not suck is a vet's case.
    The line stops hand-feeding; it does not take a pup from a warm, willing dam (about a quarter of healthy
    pups are under 35 C in the first day: 35.5 +/- 0.8, Small Animal Clinical Nutrition).
    Source: a veterinary reproduction page (35, 36, 37 C by age, verified in text); 34.4 C or less as gut
    standstill from another.  Above 39 C: common practice.  ValueError outside 20 to 45 C or for a negative
    age.
    """
    value = _rectal(rectal_c)
    settings = limits or Limits()
    line_c = settings.temperature_line_c(age_days)
    below = line_c is not None and value < line_c
    far_too_cold = value <= settings.too_cold_c
    hot = value > settings.too_hot_c
    cold = below or far_too_cold
    if cold:
        words = WARM_FIRST
    elif hot:
        words = COOL_BOX
    elif is_sucking is False:
        words = "Warm but not sucking: no bottle, the vet now."
    else:
        words = "Warm enough for milk."
    return TemperatureAdvice(value, line_c, below, far_too_cold, hot, cold or is_sucking is False, words)


def vital_signs(age_days: int) -> VitalSigns:
    """Published vital signs of that age in completed days; ValueError for a negative age.

    Source: Small Animal Clinical Nutrition 5th ed., table 16-1 (verified in text).  The handbook gives
    newborns 34.4 to 36.0 C.  Over 4 weeks the book's Celsius and Fahrenheit figures disagree.
    """
    if age_days < 0:
        raise ValueError("age_days must not be negative")
    if age_days < 1:
        rectal: tuple[float, float] | None = (34.7, 36.3)
    elif age_days < 14:
        rectal = (34.5, 37.2)
    else:
        rectal = (36.0, 37.8) if age_days < 28 else (37.8, 38.3)
    heart_by_week = ((2, (230, 240)), (4, (210, 220)), (6, (195, 195)), (7, (185, 185)), (12, (165, 175)))
    heart = next((beats for weeks, beats in heart_by_week if age_days < 7 * weeks), None)
    breaths = (15, 35) if age_days < 1 else None
    return VitalSigns(_span(rectal, "C"), _span(heart, "1/min"), _span(breaths, "1/min"))


def _span(ends: tuple[float, float] | None, unit: str) -> Span | None:
    return None if ends is None else Span(ends[0], ends[1], unit, NUTRITION, VERIFIED)


def pup_zone_target_c(age_days: int, is_orphan: bool = False) -> Span | None:
    """Temperature where the pups lie, at pup level, by completed days; None when room temperature will do.

    Sources: canine nutrition text on orphans and handbook (week 1 29.5 to 32, weeks 2 to 4 26.5 to 29.5, week
    5 21 to 24, secondary quotation); orphans: Univ. of Minnesota notes (29.5 in weeks 1 and 2, 26.5 in 3 and
    4, verified in text).  ValueError for a negative age.
    """
    if age_days < 0:
        raise ValueError("age_days must not be negative")
    if is_orphan and age_days < 28:
        value = 29.5 if age_days < 14 else 26.5
        return Span(value, value, "C", "Univ. of Minnesota teaching notes on orphans", VERIFIED)
    for before_day, low, high in ((7, 29.5, 32.0), (28, 26.5, 29.5), (35, 21.0, 24.0)):
        if age_days < before_day:
            return Span(low, high, "C", f"canine nutrition text on orphans; {HANDBOOK}", SECONDARY)
    return None


# The area the dam shares, not the pups' own warm spot: both are recorded, and she needs a cooler place.
ENGLAND_WHELPING_AREA_C = Span(26.0, 28.0, "C", "SI 2018/486 (England), Sch. 6 para 2(6)", VERIFIED)
HUMIDITY_PCT = Span(55.0, 65.0, "%", "no source found", MEMORY)

HUDDLED_OR_SCATTERED = "Pups in a pile are cold; pups scattered about are hot."


def is_igg_low(igg_mg_per_dl: float, limits: Limits | None = None) -> bool:
    """Whether serum IgG at day 2 is at or below 230 mg/dL, which goes with more deaths (149 pups).

    Source: Mila et al. 2014, Prev Vet Med 116:209-213 (verified in text).  ValueError for a negative value.
    """
    return _blood(igg_mg_per_dl) <= (limits or Limits()).igg_mg_per_dl


def is_glucose_low(glucose_mg_per_dl: float, limits: Limits | None = None) -> bool:
    """Whether blood glucose on day 1 is at or below 92 mg/dL, which goes with death to day 21.

    Source: Mila et al. 2017, Prev Vet Med 143:11-20 (from memory).  ValueError for a negative value.
    """
    return _blood(glucose_mg_per_dl) <= (limits or Limits()).glucose_mg_per_dl


def _blood(value: float) -> float:
    number = finite("the blood value", value)
    if number < 0:
        raise ValueError("a blood value is not negative")
    return number


MILESTONES = (
    Milestone("early_stimulation", "early stimulation programme: once a day, five holds of 3 to 5 s", 3, 16,
              "Battaglia 2009, J Vet Behav 4:203-210", SECONDARY),
    Milestone("front_legs", "takes weight on its front legs", 5, 5, HANDBOOK, VERIFIED),
    Milestone("eyes_open", "eyes open", 10, 14, HANDBOOK, VERIFIED),
    Milestone("ears_open", "ear canals open (others: day 14 to 18)", 10, 18, HANDBOOK, VERIFIED),
    Milestone("stands", "stands and crawls actively", 14, 14, HANDBOOK, VERIFIED),
    Milestone("shivers", "shivers when cold", 17, 18, "owner page", SECONDARY),
    Milestone("walks_and_laps", "sits, walks, laps from a dish", 21, 21, HANDBOOK, VERIFIED),
    Milestone("milk_teeth", "milk teeth appear, complete about week 8", 21, 56, "no source found", MEMORY),
    Milestone("socialisation", "socialisation period", 21, 84,
              "Merck Veterinary Manual, dog behaviour", SECONDARY),
    Milestone("sight_and_sound", "turns to sights and sounds", 25, 25, HANDBOOK, VERIFIED),
    Milestone("weaned", "weaning complete", 49, 49, "Merck Veterinary Manual, dog behaviour", SECONDARY),
)  # fmt: skip

STIMULATION_CAUTION = (
    "Its benefit over ordinary gentle handling is disputed. Never overdo it, and never with a chilled or "
    "unwell pup or one under watch."
)


def milestones_at(age_days: int) -> Iterator[Milestone]:
    """The milestones whose span covers that age in completed days; ValueError for a negative age."""
    if age_days < 0:
        raise ValueError("age_days must not be negative")
    return (stone for stone in MILESTONES if stone.from_day <= age_days <= stone.to_day)


def may_stimulate(age_days: int, is_under_watch: bool) -> bool:
    """Whether the early stimulation programme is in its days, 3 to 16, and the pup is not under watch.

    Source of the days: Battaglia 2009 (secondary quotation); no programme under watch: common practice.
    """
    programme = MILESTONES[0]
    return not is_under_watch and programme.from_day <= age_days <= programme.to_day

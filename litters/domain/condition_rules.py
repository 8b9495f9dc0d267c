"""Watch rules on what is not a weight: temperature, sucking, the score at birth, blood values."""

from __future__ import annotations

from collections.abc import Sequence

from litters.domain.growth_series import HOURS_PER_DAY, PupView, TemperatureReading
from litters.domain.neonate import (
    COOL_BOX,
    WARM_FIRST,
    completed_days,
    is_glucose_low,
    is_igg_low,
    temperature_advice,
)
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import (
    ACT_TODAY,
    EMERGENCY,
    MEMORY,
    NO_SOURCE,
    PRACTICE,
    PUBLISHED,
    VERIFIED,
    WATCH,
    Finding,
    Rule,
    hours_words,
)

SEVERE_APGAR = 3
RISK_UNTIL_H = 21 * HOURS_PER_DAY


def newest_temperature(view: PupView, limits: Limits) -> TemperatureReading | None:
    """The newest temperature that is not older than it may be; None when there is none."""
    known = [reading for reading in view.record.temperatures if reading.measured_at <= view.at]
    if not known:
        return None
    newest = max(known, key=lambda reading: reading.measured_at)
    age_h = (view.at_s - newest.measured_at.timestamp()) / 3600.0
    return newest if age_h <= limits.temperature_valid_h else None


def cold(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Below the temperature line: no hand-feeding; at gut standstill, or not sucking: emergency."""
    reading = newest_temperature(view, limits)
    if reading is None:
        return None
    measured_h = (reading.measured_at.timestamp() - view.record.born_at.timestamp()) / 3600.0
    advice = temperature_advice(reading.rectal_c, completed_days(max(0.0, measured_h)), limits=limits)
    if not (advice.is_below_line or advice.is_far_too_cold):
        return None
    ago = hours_words((view.at_s - reading.measured_at.timestamp()) / 3600.0)
    line = "" if advice.line_c is None else f" (line {advice.line_c:g})"
    words = f"{reading.rectal_c:g} degrees C, {ago} ago{line}. {WARM_FIRST}"
    if advice.is_far_too_cold or view.record.is_sucking is False:
        return Finding(EMERGENCY, words, {"rectal_c": reading.rectal_c})
    # a quarter of healthy pups are under the line in their first day: it stops the bottle, it does not alarm
    level = WATCH if measured_h < HOURS_PER_DAY else ACT_TODAY
    return Finding(level, words, {"rectal_c": reading.rectal_c})


def hot(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Above 39 C: cool the box, call the vet."""
    reading = newest_temperature(view, limits)
    if reading is None or reading.rectal_c <= limits.too_hot_c:
        return None
    ago = hours_words((view.at_s - reading.measured_at.timestamp()) / 3600.0)
    words = f"{reading.rectal_c:g} degrees C, {ago} ago. {COOL_BOX}"
    return Finding(ACT_TODAY, words, {"rectal_c": reading.rectal_c})


def not_sucking(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Last seen not sucking: temperature first; a warm pup that will not suck is a vet's case now."""
    if view.record.is_sucking is not False:
        return None
    return Finding(
        EMERGENCY, "Not sucking: take its temperature; warm and still not sucking is for the vet now."
    )


def low_apgar(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Score at birth of 6 or less, during the first day; 3 or less is the severe class."""
    total = view.record.apgar_total
    if total is None or total > limits.apgar_total or view.age_h > HOURS_PER_DAY:
        return None
    level = EMERGENCY if total <= SEVERE_APGAR else ACT_TODAY
    return Finding(
        level, f"Score at birth {total} of 10: more deaths in the first hours.", {"apgar_total": total}
    )


def low_glucose(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Blood glucose of day 1 at or below the limit, to day 21."""
    value = view.record.glucose_day1_mg_per_dl
    if value is None or view.age_h > RISK_UNTIL_H or not is_glucose_low(value, limits):
        return None
    level = ACT_TODAY if view.age_h <= 2 * HOURS_PER_DAY else WATCH
    words = f"Blood glucose on day 1 was {value:g} mg/dL (limit {limits.glucose_mg_per_dl:g}): ask the vet."
    return Finding(level, words, {"glucose_mg_per_dl": value})


def low_igg(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Serum IgG of day 2 at or below the limit, to day 21."""
    value = view.record.igg_day2_mg_per_dl
    if value is None or view.age_h > RISK_UNTIL_H or not is_igg_low(value, limits):
        return None
    words = f"Serum IgG on day 2 was {value:g} mg/dL (limit {limits.igg_mg_per_dl:g}): ask the vet."
    return Finding(WATCH, words, {"igg_mg_per_dl": value})


CONDITION_RULES = (
    Rule("cold", PUBLISHED, "a veterinary reproduction page: 35, 36, 37 C by age", VERIFIED, cold),
    Rule("hot", PRACTICE, "common practice", NO_SOURCE, hot),
    Rule("not_sucking", PRACTICE, "common practice", NO_SOURCE, not_sucking),
    Rule("low_apgar", PUBLISHED, "Mila et al. 2017, Prev Vet Med 143:11-20", MEMORY, low_apgar),
    Rule("low_glucose", PUBLISHED, "Mila et al. 2017, Prev Vet Med 143:11-20", MEMORY, low_glucose),
    Rule("low_igg", PUBLISHED, "Mila et al. 2014, Prev Vet Med 116:209-213", VERIFIED, low_igg),
)

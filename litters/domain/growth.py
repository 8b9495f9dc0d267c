"""Growth of pups: judging each daily, one pup or all of them, and every measure under one name to import.

`assess` puts the published rules first; rules of ours only add.  A missing weighing never reads as no change,
a ceiling never as a target.  It computes and names the vet; it does not diagnose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import fmean

from litters.domain import pup_or_dam as _pup_or_dam
from litters.domain.centile_rules import CENTILE_RULES
from litters.domain.centiles import (
    LmsRow,
    LmsTable,
    crosses_too_many_lines,
    lines_crossed,
    lms_x,
    lms_z,
)
from litters.domain.condition_rules import CONDITION_RULES, newest_temperature
from litters.domain.falling_behind import CurveModel, FailingChance, failing_chance
from litters.domain.growth_fit import (
    AdultWeightRange,
    GrowthFit,
    adult_weight_from_fit,
    adult_weight_from_one_weighing,
    adult_weight_from_parents,
    adult_weight_ranges,
    fit_gompertz,
    fit_logistic,
)
from litters.domain.growth_measures import (
    birth_weight_pct_of_dam,
    compound_gain_pct_per_day,
    daily_gain_from_adult_g,
    daily_gain_pct,
    day_reaching_multiple,
    early_growth_at_risk,
    early_growth_rate_pct,
    gain_band_g_per_kg_adult,
    gain_band_pct_per_day,
    is_low_vs_litter,
    loss_alarm,
    low_vs_litter_pct,
    max_growth_curve_g,
    weight_loss_pct,
)
from litters.domain.growth_models import (
    gompertz_age_at_fraction_days,
    gompertz_growth_duration_days,
    gompertz_kg,
    gompertz_peak_gain_kg_per_day,
    gompertz_predict_wmax_kg,
    logistic_age_at_fraction,
    logistic_b_from_t99,
    logistic_kg,
    logistic_predict_a_kg,
    logistic_t99,
)
from litters.domain.growth_series import (
    HOURS_PER_DAY,
    PupRecord,
    PupView,
    TemperatureReading,
    Weighing,
)
from litters.domain.neonate import completed_days, temperature_advice
from litters.domain.our_rules import OUR_RULES
from litters.domain.pup_or_dam import PupOrDam
from litters.domain.slips import NewReading, SlipQuestion, slip_finder
from litters.domain.watch_limits import Limits, TemperatureLine, WeighingRhythm
from litters.domain.watch_reasons import (
    LEVEL_WORDS,
    LEVELS,
    ORIGINS,
    Reason,
    Rule,
    highest,
    rank,
    weight_words,
)
from litters.domain.weight_rules import WEIGHT_RULES, is_slow

__all__ = [
    "LEVELS",
    "LEVEL_WORDS",
    "RULES",
    "AdultWeightRange",
    "Assessment",
    "CurveModel",
    "FailingChance",
    "GrowthFit",
    "Limits",
    "LmsRow",
    "LmsTable",
    "NewReading",
    "PupOrDam",
    "PupRecord",
    "PupView",
    "Reason",
    "SlipQuestion",
    "TemperatureLine",
    "TemperatureReading",
    "Weighing",
    "WeighingRhythm",
    "adult_weight_from_fit",
    "adult_weight_from_one_weighing",
    "adult_weight_from_parents",
    "adult_weight_ranges",
    "assess",
    "assess_litter",
    "birth_weight_pct_of_dam",
    "compound_gain_pct_per_day",
    "crosses_too_many_lines",
    "daily_gain_from_adult_g",
    "daily_gain_pct",
    "day_reaching_multiple",
    "early_growth_at_risk",
    "early_growth_rate_pct",
    "failing_chance",
    "fit_gompertz",
    "fit_logistic",
    "gain_band_g_per_kg_adult",
    "gain_band_pct_per_day",
    "gompertz_age_at_fraction_days",
    "gompertz_growth_duration_days",
    "gompertz_kg",
    "gompertz_peak_gain_kg_per_day",
    "gompertz_predict_wmax_kg",
    "is_low_vs_litter",
    "lines_crossed",
    "lms_x",
    "lms_z",
    "logistic_age_at_fraction",
    "logistic_b_from_t99",
    "logistic_kg",
    "logistic_predict_a_kg",
    "logistic_t99",
    "loss_alarm",
    "low_vs_litter_pct",
    "max_growth_curve_g",
    "pup_or_dam",
    "slip_finder",
    "weight_loss_pct",
]

RULES: tuple[Rule, ...] = (*WEIGHT_RULES, *CENTILE_RULES, *CONDITION_RULES, *OUR_RULES)

DEFAULT_LIMITS = Limits()
MISSING = "weighing_missing"
SAME_ROUND_H = 12.0
NO_BIRTH_WEIGHT = (
    "No birth weight (dried, before the first suck): growth to day 2 is not computed against the -4 % limit."
)


@dataclass(frozen=True)
class Assessment:
    """What is known and found of one pup at one moment.

    level: none, watch, act_today or emergency, the highest of the reasons.  reasons: most severe first,
    published before ours.  gain_pct_per_day: over the newest day or so, each day in % of the one before; None
    when weighings are missing, which is not the same as no gain.  is_slow: under the published range; None
    when not known. is_weighing_missing: one was due and is not there.  weight_age_h: hours since the newest
    weight. is_hand_feeding_blocked: a fresh temperature is under the line, or the pup does not suck.
    """

    pup: str
    at: datetime
    age_h: float
    level: str
    reasons: tuple[Reason, ...]
    last_weight_g: float | None
    weight_age_h: float | None
    is_weighing_missing: bool
    gain_g: float | None
    gain_hours: float | None
    gain_pct_per_day: float | None
    is_slow: bool | None
    below_littermates_pct: float | None
    is_hand_feeding_blocked: bool
    weigh_every_h: float
    notes: tuple[str, ...]


def assess(
    pup: PupRecord, littermates: Sequence[PupRecord], at: datetime, limits: Limits = DEFAULT_LIMITS
) -> Assessment:
    """The level of watch a pup needs at that moment, with every reason in words.

    littermates: the other pups of its litter; what was measured after `at` is not looked at.  ValueError for
    a moment before the birth or without a zone.
    """
    mates = [PupView(mate, at) for mate in littermates if mate.born_at <= at]
    return _assess_view(PupView(pup, at), mates, limits)


def assess_litter(
    pups: Sequence[PupRecord], at: datetime, limits: Limits = DEFAULT_LIMITS
) -> tuple[Assessment, ...]:
    """`assess` for every pup of a litter that is born by then, in the order given."""
    views = [PupView(pup, at) for pup in pups if pup.born_at <= at]
    return tuple(
        _assess_view(view, [*views[:index], *views[index + 1 :]], limits) for index, view in enumerate(views)
    )


def pup_or_dam(assessments: Sequence[Assessment]) -> PupOrDam:
    """Whether to look at one pup first or at the dam and the box, from the assessments of one litter.

    A pup whose newest weight is overdue counts as not weighed.
    """
    return _pup_or_dam.pup_or_dam(
        [(found.pup, None if found.is_weighing_missing else found.is_slow) for found in assessments]
    )


def _assess_view(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Assessment:
    reasons = [reason for rule in RULES if (reason := rule.reason(view, littermates, limits)) is not None]
    reasons.sort(key=lambda reason: (-rank(reason.level), ORIGINS.index(reason.origin)))
    reasons = _weight_said_once(reasons, weight_words(view))
    gain = view.gain_over(HOURS_PER_DAY, 0.75 * HOURS_PER_DAY)
    is_missing = any(reason.rule == MISSING for reason in reasons)
    is_under_watch = any(reason.rule != MISSING for reason in reasons)
    return Assessment(
        pup=view.record.pup,
        at=view.at,
        age_h=view.age_h,
        level=highest([reason.level for reason in reasons]),
        reasons=tuple(reasons),
        last_weight_g=view.last_g,
        weight_age_h=view.weight_age_h,
        is_weighing_missing=is_missing,
        gain_g=None if gain is None else gain.grams,
        gain_hours=None if gain is None else gain.hours,
        gain_pct_per_day=None if gain is None else gain.pct_per_day,
        is_slow=is_slow(view, limits),
        below_littermates_pct=_below_littermates_pct(view, littermates),
        is_hand_feeding_blocked=_is_hand_feeding_blocked(view, limits),
        weigh_every_h=limits.weighing_every_h(view.age_h, is_under_watch),
        notes=(NO_BIRTH_WEIGHT,) if view.count and view.birth_g is None else (),
    )


def _weight_said_once(reasons: Sequence[Reason], said: str) -> list[Reason]:
    """The reasons, with the newest weight and its age in the words of the first only; a weighing that is missing
    is told apart from the others, so it keeps them."""
    told: list[Reason] = []
    is_said = False
    for reason in reasons:
        if reason.rule == MISSING or not reason.words.endswith(said):
            told.append(reason)
            continue
        told.append(replace(reason, words=reason.words.removesuffix(said).rstrip()) if is_said else reason)
        is_said = True
    return told


def _below_littermates_pct(view: PupView, littermates: Sequence[PupView]) -> float | None:
    if view.last_g is None or view.last_h is None:
        return None
    weighed_s = view.born_s + 3600.0 * view.last_h
    weights_g = [
        mate.weights_g[-1]
        for mate in littermates
        if mate.count and abs(mate.born_s + 3600.0 * mate.ages_h[-1] - weighed_s) <= SAME_ROUND_H * 3600.0
    ]
    return low_vs_litter_pct(view.last_g, fmean(weights_g)) if weights_g else None


def _is_hand_feeding_blocked(view: PupView, limits: Limits) -> bool:
    reading = newest_temperature(view, limits)
    if reading is None:
        return view.record.is_sucking is False
    age_days = completed_days(max(0.0, (reading.measured_at.timestamp() - view.born_s) / 3600.0))
    advice = temperature_advice(reading.rectal_c, age_days, view.record.is_sucking, limits)
    return advice.is_hand_feeding_blocked

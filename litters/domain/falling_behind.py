"""Ours, in addition to the published limits: the chance that a newborn pup is failing, from its own curve.

The idea: a healthy pup's weight runs along its own curve, shifted by whatever moves all its littermates that
day, with the scatter of a stomach more or less full and of a scale's step.  A failing pup departs from that
curve from some weighing on.  For every possible beginning and several depths of the shortfall the likelihood
is compared with that of health, weighted by how often newborn pups fail; the sum is the odds.

It was tried on simulated litters only (see tests/evaluation) and never lowers what a published rule says.  It
is no diagnosis.

Numerics: Kalman 1960, J Basic Eng 82:35-45, for a level and a slope; the likelihood of a shift is that of
Willsky & Jones 1976, IEEE Trans Autom Control 21:108-112 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from litters.domain.growth_measures import published_log_growth
from litters.domain.growth_series import HOURS_PER_DAY, PupView

LAST_AGE_H = 21 * HOURS_PER_DAY + 12.0
WEIGHINGS_LOOKED_AT = 10
LITTERMATE_SLACK_H = 6.0
SHORTEST_STEP_H = 2.0
UNBELIEVABLE_STEP = 0.3


@dataclass(frozen=True)
class CurveModel:
    """What is expected of curves; growth in log weight per day.

    failing_at_birth and failing_per_day: Mugnier et al. 2020 (8.2 % of live-born pups die by day 21), three
    quarters of them never well, the rest falling ill on any day to 21 (that share is an assumption).
    shortfalls: (log weight per day below the healthy curve, share), from a pup that gains half to one that
    loses 8 % a day (assumption).
    fill_noise: share of weight by which stomach and bladder differ: 0 to 4 % of milk (stomach limit of 4 mL
    per 100 g) spread evenly has an SD of 1.2 %.  scale_noise_g: SD of rounding to 5 g.
    slope_sd: the published range of 5 to 10 % a day read as two SD either way, half of that variance shared by
    the litter, where the littermates show it.  wander and first_day_sd: assumptions.
    littermates_against_published: how many littermates weigh as much as the published mean gain when the
    litter's shift is judged.
    """

    failing_at_birth: float = 0.0615
    failing_per_day: float = 0.0011
    shortfalls: tuple[tuple[float, float], ...] = ((0.04, 0.2), (0.08, 0.4), (0.12, 0.3), (0.16, 0.1))
    fill_noise: float = 0.015
    scale_noise_g: float = 1.45
    slope_sd: float = 0.0088
    wander_per_day: float = 0.013
    slope_wander_per_day: float = 0.004
    first_day_sd: float = 0.045
    littermates_against_published: float = 3.0


@dataclass(frozen=True)
class FailingChance:
    """The chance that the pup is failing, and its newest step beside its littermates', in % over it.

    littermates_pct is None when no littermate was weighed at both ends of the step.
    """

    chance: float
    step_hours: float
    step_pct: float
    littermates_pct: float | None


DEFAULT_MODEL = CurveModel()


@dataclass
class _Shift:
    """One way of failing: since when, how steeply, prior and evidence, and how the filter answers it."""

    since_h: float
    depth: float
    log_odds: float
    level: float = 0.0
    slope: float = 0.0


def failing_chance(
    view: PupView, littermates: Sequence[PupView], model: CurveModel = DEFAULT_MODEL
) -> FailingChance | None:
    """The chance that this pup is failing, from its last ten weighings and those of its littermates.

    None with fewer than two weighings and after day 21: nothing is claimed then.  Steps no pup can make (30 %
    and more off the curve) are left out: they are questions about the reading.
    """
    count = view.count
    if count < 2 or view.ages_h[-1] > LAST_AGE_H:
        return None
    start = max(0, count - 1 - WEIGHINGS_LOOKED_AT)
    ages_h, logs = view.ages_h, view.record.excess_logs
    level, slope = logs[start], 0.0
    first_noise = model.fill_noise if ages_h[start] > SHORTEST_STEP_H else 0.0
    var_level = first_noise**2 + (model.scale_noise_g / view.weights_g[start]) ** 2
    covariance, var_slope = 0.0, model.slope_sd**2
    shifts = _new_shifts(ages_h[start], model.failing_at_birth, model)
    litter_shift, previous = 0.0, start
    at_end = _littermates_at(view, littermates, ages_h[start])
    newest: tuple[float, float, float | None] | None = None
    for index in range(start + 1, count):
        hours = ages_h[index] - ages_h[previous]
        if hours < SHORTEST_STEP_H:
            continue
        days = hours / HOURS_PER_DAY
        at_start, at_end = at_end, _littermates_at(view, littermates, ages_h[index])
        steps = [
            after - before
            for before, after in zip(at_start, at_end, strict=True)
            if before is not None and after is not None
        ]
        mates = len(steps)
        litter_step = median(steps) if steps else None
        first_day = max(0.0, min(ages_h[index], HOURS_PER_DAY) - ages_h[previous]) / HOURS_PER_DAY
        if litter_step is not None:
            # born hours apart, littermates are not comparable in their first day
            trust = mates / (mates + model.littermates_against_published) * (1.0 - first_day / days)
            litter_shift += litter_step * trust
        level += slope * days
        wander = model.wander_per_day**2 * days + (model.first_day_sd * first_day) ** 2
        var_level += 2.0 * days * covariance + days * days * var_slope + wander
        covariance += days * var_slope
        var_slope += model.slope_wander_per_day**2 * days
        # the median of m littermates scatters about 1.6/m as much as one reading
        noise = model.fill_noise**2 * (1.0 + (1.6 / mates if mates else 2.0))
        noise += (model.scale_noise_g / view.weights_g[index]) ** 2
        surprise = logs[index] - litter_shift - level
        newest = (hours, logs[index] - logs[previous], litter_step)
        previous = index
        if abs(surprise) > UNBELIEVABLE_STEP:
            continue
        spread = var_level + noise
        gain_level, gain_slope = var_level / spread, covariance / spread
        for shift in shifts:
            shift.level += shift.slope * days
            expected = -shift.depth * (ages_h[index] - shift.since_h) / HOURS_PER_DAY - shift.level
            shift.log_odds += expected * (surprise - 0.5 * expected) / spread
            shift.level += gain_level * expected
            shift.slope += gain_slope * expected
        level += gain_level * surprise
        slope += gain_slope * surprise
        var_slope -= gain_slope * covariance
        covariance *= 1.0 - gain_level
        var_level *= 1.0 - gain_level
        shifts += _new_shifts(ages_h[index], model.failing_per_day * days, model)
    if newest is None:
        return None
    return _chance(shifts, newest, ages_h[previous])


def _new_shifts(since_h: float, prior: float, model: CurveModel) -> list[_Shift]:
    """The ways of failing that begin at that age, by depth."""
    return [_Shift(since_h, depth, math.log(prior * share)) for depth, share in model.shortfalls]


def _littermates_at(view: PupView, littermates: Sequence[PupView], age_h: float) -> list[float | None]:
    """Where each littermate's curve stood, beyond the published pace, at a moment of this pup's life."""
    at_h = view.born_s / 3600.0 + age_h
    return [mate.excess_at(at_h - mate.born_s / 3600.0, LITTERMATE_SLACK_H) for mate in littermates]


def _chance(
    shifts: Sequence[_Shift], newest: tuple[float, float, float | None], newest_age_h: float
) -> FailingChance:
    """The odds added up, and the newest step in % for people to read."""
    top = max(shift.log_odds for shift in shifts)
    log_odds = top + math.log(sum(math.exp(shift.log_odds - top) for shift in shifts))
    hours, own_step, litter_step = newest
    pace = published_log_growth(newest_age_h) - published_log_growth(newest_age_h - hours)
    return FailingChance(
        chance=1.0 / (1.0 + math.exp(-log_odds)) if log_odds > -700.0 else 0.0,
        step_hours=hours,
        step_pct=100.0 * math.expm1(own_step + pace),
        littermates_pct=None if litter_step is None else 100.0 * math.expm1(litter_step + pace),
    )

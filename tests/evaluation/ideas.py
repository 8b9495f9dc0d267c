"""Ideas that were tried against the rule of ours, each a score of a pup: the higher the worse.

They stay here so that anybody can see them fail, or win, in a world of their own: `--ideas` of the
evaluation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import fmean, median

from litters.domain.falling_behind import DEFAULT_MODEL, CurveModel, failing_chance
from litters.domain.growth_series import HOURS_PER_DAY, PupView
from tests.evaluation.replay import Scorer

SLACK_H = 6.0
NOTHING = -99.0


def _step(view: PupView, from_index: int) -> tuple[float, float]:
    """Log gain beyond the published pace from a weighing to the newest one, and the days between."""
    logs = view.record.excess_logs
    days = (view.ages_h[-1] - view.ages_h[from_index]) / HOURS_PER_DAY
    return logs[view.count - 1] - logs[from_index], days


def _littermates(view: PupView, littermates: Sequence[PupView], from_h: float) -> list[float]:
    """The same step of every littermate that was weighed at both ends."""
    steps = []
    for mate in littermates:
        offset_h = (view.born_s - mate.born_s) / 3600.0
        before = mate.excess_at(from_h + offset_h, SLACK_H)
        after = mate.excess_at(view.ages_h[-1] + offset_h, SLACK_H)
        if before is not None and after is not None:
            steps.append(after - before)
    return steps


def behind_median_gain(view: PupView, littermates: Sequence[PupView]) -> float:
    """How far the newest step over a day or so lies under the littermates' median, log per day."""
    start = next((n for n in range(view.count - 2, -1, -1) if view.ages_h[-1] - view.ages_h[n] >= 18.0), None)
    if start is None:
        return NOTHING
    own, days = _step(view, start)
    others = _littermates(view, littermates, view.ages_h[start])
    return (median(others) - own) / days if others else NOTHING


def slow_over_two_days(view: PupView, littermates: Sequence[PupView]) -> float:
    """The published slow-gain rule with its limit left open: lost % a day over about two days."""
    gain = view.gain_over(2 * HOURS_PER_DAY, 18.0)
    return NOTHING if gain is None or gain.from_h < 18.0 else -gain.pct_per_day


def loss_so_far(view: PupView, littermates: Sequence[PupView]) -> float:
    """The published loss rule with its limit left open: share of weight lost in the first three days."""
    if view.reference_g is None or view.count < 2 or view.ages_h[-1] > 72.0:
        return NOTHING
    return 1.0 - view.weights_g[-1] / view.reference_g


def below_littermates_now(view: PupView, littermates: Sequence[PupView]) -> float:
    """How far the newest weight lies under the littermates' mean, as a share of it."""
    weights = [mate.weights_g[-1] for mate in littermates if mate.count]
    return 1.0 - view.weights_g[-1] / fmean(weights) if weights and view.count else NOTHING


def largest_departure(view: PupView, littermates: Sequence[PupView]) -> float:
    """The largest shortfall against the littermates over any span of weighings, in standard deviations."""
    worst = NOTHING
    for start in range(view.count - 2, -1, -1):
        own, days = _step(view, start)
        if days < 1.0 / 3.0:
            continue
        others = _littermates(view, littermates, view.ages_h[start])
        pull = DEFAULT_MODEL.littermates_against_published
        expected = median(others) * len(others) / (len(others) + pull) if others else 0.0
        first_day = max(0.0, 1.0 - view.ages_h[start] / HOURS_PER_DAY)
        spread = math.sqrt(
            2.0 * DEFAULT_MODEL.fill_noise**2
            + 2.0 * (DEFAULT_MODEL.scale_noise_g / view.weights_g[start]) ** 2
            + (DEFAULT_MODEL.first_day_sd * first_day) ** 2
            + DEFAULT_MODEL.wander_per_day**2 * days
            + (DEFAULT_MODEL.slope_sd * days) ** 2
        )
        worst = max(worst, (expected - own) / spread)
    return worst


def _chance_with(model: CurveModel) -> Scorer:
    def chance(view: PupView, littermates: Sequence[PupView]) -> float:
        found = failing_chance(view, littermates, model)
        return 0.0 if found is None else found.chance

    return chance


def weighted_by_birth_weight(view: PupView, littermates: Sequence[PupView]) -> float:
    """Our chance with the odds raised for a pup born lighter than its littermates: e-fold per quarter."""
    found = failing_chance(view, littermates)
    births = [mate.birth_g for mate in littermates if mate.birth_g is not None]
    if found is None:
        return 0.0
    if view.birth_g is None or not births:
        return found.chance
    odds = found.chance / max(1e-12, 1.0 - found.chance)
    odds *= math.exp(4.0 * max(-0.2, min(0.6, 1.0 - view.birth_g / fmean(births))))
    return odds / (1.0 + odds)


IDEAS: Mapping[str, Scorer] = {
    "published slow gain, limit left open": slow_over_two_days,
    "published first-days loss, limit left open": loss_so_far,
    "gain behind littermates' median, one step": behind_median_gain,
    "weight below littermates' mean now": below_littermates_now,
    "largest departure over any span": largest_departure,
    "ours without littermates": _chance_with(replace(DEFAULT_MODEL, littermates_against_published=1e9)),
    "ours with littermates alone": _chance_with(replace(DEFAULT_MODEL, littermates_against_published=1e-3)),
    "ours with one depth of shortfall": _chance_with(replace(DEFAULT_MODEL, shortfalls=((0.12, 1.0),))),
    "ours weighted by birth weight": weighted_by_birth_weight,
}

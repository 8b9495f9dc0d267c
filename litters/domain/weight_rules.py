"""Watch rules on weights, as published or as commonly practised.

Each check gives None when it has nothing to say, which includes every case in which a weighing is missing.
"""

from __future__ import annotations

from collections.abc import Sequence

from litters.domain.growth_measures import (
    EDGE_PCT,
    ENVELOPE_LAST_DAY,
    early_growth_at_risk,
    early_growth_rate_pct,
    low_vs_litter_pct,
    max_growth_curve_g,
    weight_loss_pct,
)
from litters.domain.growth_series import HOURS_PER_DAY, Gain, PupView, mean_birth_g
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import (
    ACT_TODAY,
    EMERGENCY,
    NO_SOURCE,
    PRACTICE,
    PUBLISHED,
    SECONDARY,
    VERIFIED,
    WATCH,
    Finding,
    Rule,
    weight_words,
)

HANDBOOK = "Dog Owner's Home Veterinary Handbook 4th ed., ch. 17"
NUTRITION = "Small Animal Clinical Nutrition 5th ed., table 16-1"

# Weighings a few hours early or late still speak for their day.
DAY_SLACK_H = 12.0
SHORTEST_DAY_H = 18.0
FIRST_DAY_SLACK_H = 6.0
SHORTEST_INTERVAL_H = 8.0
WEEK_5_FIRST_DAY = 28.0
LAST_NEWBORN_DAY = 21.0
HELP_HOURS = 48.0


def _day2_g(view: PupView, limits: Limits) -> float | None:
    """The weight nearest day 2, at most half a day off."""
    near = [
        (abs(age_h - limits.early_growth_at_h), weight_g)
        for age_h, weight_g in zip(view.ages_h, view.weights_g, strict=True)
        if abs(age_h - limits.early_growth_at_h) <= DAY_SLACK_H
    ]
    return min(near)[1] if near else None


def _is_gaining(view: PupView) -> bool | None:
    """Whether the newest weight is above the one at least 8 h before; None when that is not known."""
    gain = view.gain_over(HOURS_PER_DAY, SHORTEST_INTERVAL_H)
    return None if gain is None else gain.grams > 0


def _lower_gain_pct(age_h: float, limits: Limits) -> float:
    return limits.gain_week1_pct if age_h < 7 * HOURS_PER_DAY else limits.gain_weeks2_to_4_pct


def early_growth(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Growth of -4 % or less from birth to day 2: to day 21; only against a true birth weight."""
    birth_g, day2_g = view.birth_g, _day2_g(view, limits)
    if birth_g is None or day2_g is None or view.age_h > limits.early_growth_until_day * HOURS_PER_DAY:
        return None
    if not early_growth_at_risk(birth_g, day2_g, limits.early_growth_pct):
        return None
    rate_pct = early_growth_rate_pct(birth_g, day2_g)
    recovered = view.last_g is not None and view.last_g > birth_g and _is_gaining(view) is True
    words = (
        f"Growth from birth to day 2 was {rate_pct:.1f} % (limit {limits.early_growth_pct:g} %): "
        f"raised risk up to day {limits.early_growth_until_day:g}. {weight_words(view)}"
    )
    return Finding(WATCH if recovered else ACT_TODAY, words, {"early_growth_pct": rate_pct})


def early_growth_not_positive(
    view: PupView, littermates: Sequence[PupView], limits: Limits
) -> Finding | None:
    """No gain from birth to day 2, until the pup is above its birth weight."""
    birth_g, day2_g = view.birth_g, _day2_g(view, limits)
    if birth_g is None or day2_g is None or day2_g > birth_g or view.last_g is None or view.last_g > birth_g:
        return None
    rate_pct = early_growth_rate_pct(birth_g, day2_g)
    words = f"No gain from birth to day 2 ({rate_pct:.1f} %). {weight_words(view)}"
    return Finding(WATCH, words, {"early_growth_pct": rate_pct})


def first_days_loss(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Loss in the first 48 h: watch; 10 % or more: act; 10 % or more and not gaining by 72 h: emergency."""
    reference_g = view.reference_g
    if reference_g is None or view.last_g is None or view.last_g > reference_g:
        return None
    early = [
        weight_g
        for age_h, weight_g in zip(view.ages_h, view.weights_g, strict=True)
        if age_h <= limits.loss_first_h + FIRST_DAY_SLACK_H
    ]
    worst_pct = weight_loss_pct(reference_g, min(early)) if early else 0.0
    now_pct = weight_loss_pct(reference_g, view.last_g)
    since = "birth" if view.birth_g is not None else "the first weight"
    values = {"loss_pct": now_pct, "worst_loss_pct": worst_pct, "reference_g": reference_g}
    if worst_pct >= limits.loss_pct - EDGE_PCT and not _is_closed_by_vet(view):
        if view.age_h >= limits.loss_not_gaining_h and _is_gaining(view) is not True:
            words = (
                f"Lost {worst_pct:.1f} % since {since} and not gaining by {limits.loss_not_gaining_h:g} h: "
                f"call the vet, feed as the vet says, warm first. {weight_words(view)}"
            )
            return Finding(EMERGENCY, words, values)
        words = f"Lost {worst_pct:.1f} % since {since} in the first two days. {weight_words(view)}"
        return Finding(ACT_TODAY, words, values)
    if now_pct > 0 and view.age_h <= limits.loss_not_gaining_h:
        words = f"Lost {now_pct:.1f} % since {since}: watch until it gains every day. {weight_words(view)}"
        return Finding(WATCH, words, values)
    return None


def loss_still_open(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """A loss of 10 % or more, until the pup is above its birth weight again or the vet closes the watch."""
    reference_g = view.reference_g
    if reference_g is None or view.last_g is None or view.last_g > reference_g or _is_closed_by_vet(view):
        return None
    since_loss = 0
    for index, weight_g in enumerate(view.weights_g):
        if weight_g > reference_g:
            since_loss = index + 1
    worst_pct = weight_loss_pct(reference_g, min(view.weights_g[since_loss:]))
    if worst_pct < limits.loss_pct - EDGE_PCT:
        return None
    words = (
        f"Lost {worst_pct:.1f} % and not back above {reference_g:g} g yet: one small gain does not clear it. "
        f"{weight_words(view)}"
    )
    return Finding(ACT_TODAY, words, {"worst_loss_pct": worst_pct, "reference_g": reference_g})


def _is_closed_by_vet(view: PupView) -> bool:
    """Whether the vet closed the watch by now and no later weight fell below the one of that moment."""
    closed_at = view.record.loss_watch_closed_at
    if closed_at is None or closed_at > view.at:
        return False
    closed_h = (closed_at.timestamp() - view.record.born_at.timestamp()) / 3600.0
    before = [weight for age_h, weight in zip(view.ages_h, view.weights_g, strict=True) if age_h <= closed_h]
    return not before or min(view.weights_g[len(before) - 1 :]) >= before[-1]


def light_at_birth(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """A quarter or more below the littermates' mean at birth: act for two days, then watch to day 21."""
    birth_g, mean_g = view.birth_g, mean_birth_g(littermates)
    if birth_g is None or mean_g is None or view.age_h > LAST_NEWBORN_DAY * HOURS_PER_DAY:
        return None
    below_pct = low_vs_litter_pct(birth_g, mean_g)
    if below_pct < limits.low_vs_litter_pct - EDGE_PCT:
        return None
    words = (
        f"Born {below_pct:.0f} % lighter than its littermates ({birth_g:g} g, they {mean_g:.0f} g): "
        f"high risk without help. {weight_words(view)}"
    )
    level = ACT_TODAY if view.age_h <= HELP_HOURS else WATCH
    return Finding(level, words, {"below_pct": below_pct, "littermates_mean_g": mean_g})


def birth_weight_class(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Below the kennel's own birth-weight limits of this breed or line; nothing without such limits."""
    birth_g, record = view.birth_g, view.record
    if birth_g is None or view.age_h > LAST_NEWBORN_DAY * HOURS_PER_DAY:
        return None
    fresh = view.age_h <= HELP_HOURS
    if record.very_low_below_g is not None and birth_g < record.very_low_below_g:
        words = f"Very low birth weight for this line ({birth_g:g} g, limit {record.very_low_below_g:g} g)."
        return Finding(ACT_TODAY if fresh else WATCH, words, {"birth_g": birth_g})
    if record.low_below_g is not None and birth_g < record.low_below_g and fresh:
        words = f"Low birth weight for this line ({birth_g:g} g, limit {record.low_below_g:g} g)."
        return Finding(WATCH, words, {"birth_g": birth_g})
    return None


def _day_gain(view: PupView, limits: Limits) -> Gain | None:
    """The newest gain over about a day that begins after the first day of life."""
    gain = view.gain_over(limits.no_gain_h, SHORTEST_DAY_H)
    if gain is None or gain.from_h < limits.acceptable_loss_h - FIRST_DAY_SLACK_H:
        return None
    return gain


def no_gain(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """No gain over a day, after the first day of life."""
    gain = _day_gain(view, limits)
    if gain is None or gain.grams > 0:
        return None
    words = f"No gain in {gain.hours:.0f} h ({gain.from_g:g} g, then {gain.to_g:g} g). {weight_words(view)}"
    return Finding(ACT_TODAY, words, {"gain_g": gain.grams, "hours": gain.hours})


def loss_after_day_2(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Any loss between two weighings when the newer one is from after day 2."""
    gain = view.gain_over(SHORTEST_INTERVAL_H, SHORTEST_INTERVAL_H)
    if gain is None or gain.grams >= 0 or gain.to_h <= limits.loss_alert_after_h:
        return None
    words = f"Lost {-gain.grams:g} g in {gain.hours:.0f} h, after day 2. {weight_words(view)}"
    return Finding(ACT_TODAY, words, {"gain_g": gain.grams, "hours": gain.hours})


def is_slow(view: PupView, limits: Limits) -> bool | None:
    """Whether the newest gain over about a day is under the range of the age; None when it is not known.

    In the first day, when a small loss is acceptable, and for a pup over 4 weeks without an expected adult
    weight, slow means no gain at all.
    """
    gain = view.gain_over(HOURS_PER_DAY, SHORTEST_DAY_H)
    if gain is None:
        return None
    if gain.from_h < limits.acceptable_loss_h - FIRST_DAY_SLACK_H:
        return gain.grams <= 0
    if gain.to_h < WEEK_5_FIRST_DAY * HOURS_PER_DAY:
        return gain.pct_per_day < _lower_gain_pct(gain.from_h, limits) - EDGE_PCT
    adult_kg = view.record.adult_weight_kg
    lower_g = 0.0 if adult_kg is None else limits.gain_weeks5_on_g_per_kg * adult_kg
    return gain.grams <= 0 or gain.grams / gain.hours * HOURS_PER_DAY < lower_g


def slow_gain(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Gain over about two days under the published range of the age; from week 5 per kg of adult weight."""
    gain = view.gain_over(2 * HOURS_PER_DAY, 1.5 * HOURS_PER_DAY)
    if gain is None or gain.from_h < limits.acceptable_loss_h - FIRST_DAY_SLACK_H:
        return None
    if gain.to_h < WEEK_5_FIRST_DAY * HOURS_PER_DAY:
        lower_pct = _lower_gain_pct(gain.from_h, limits)
        if gain.pct_per_day >= lower_pct - EDGE_PCT:
            return None
        words = (
            f"Gains {gain.pct_per_day:.1f} % a day over {gain.hours:.0f} h; the published range begins at "
            f"{lower_pct:g} %. {weight_words(view)}"
        )
        return Finding(WATCH, words, {"gain_pct_per_day": gain.pct_per_day, "lower_pct_per_day": lower_pct})
    adult_kg = view.record.adult_weight_kg
    if adult_kg is None:
        return None
    lower_g = limits.gain_weeks5_on_g_per_kg * adult_kg
    per_day_g = gain.grams / gain.hours * HOURS_PER_DAY
    if per_day_g >= lower_g:
        return None
    words = (
        f"Gains {per_day_g:.0f} g a day; {limits.gain_weeks5_on_g_per_kg:g} g per kg of expected adult "
        f"weight would be {lower_g:.0f} g. {weight_words(view)}"
    )
    return Finding(WATCH, words, {"gain_g_per_day": per_day_g, "lower_g_per_day": lower_g})


def not_doubled(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Birth weight not doubled by day 12, until it is."""
    birth_g = view.birth_g
    if birth_g is None or view.last_g is None or view.last_h is None:
        return None
    if view.last_h < limits.doubling_by_day * HOURS_PER_DAY or max(view.weights_g) >= 2.0 * birth_g:
        return None
    words = (
        f"Not twice its birth weight by day {limits.doubling_by_day:g} ({birth_g:g} g at birth). "
        f"{weight_words(view)}"
    )
    return Finding(WATCH, words, {"times_birth_weight": view.last_g / birth_g})


def above_ceiling(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """Heavier than the fastest published growth: a question about the reading, never a target."""
    birth_g = view.birth_g
    if birth_g is None or view.last_g is None or view.last_h is None:
        return None
    day = view.last_h / HOURS_PER_DAY
    if day > ENVELOPE_LAST_DAY:
        return None
    ceiling_g = max_growth_curve_g(birth_g, day)
    if view.last_g <= ceiling_g * (1.0 + limits.above_ceiling_pct / 100.0):
        return None
    words = (
        f"{view.last_g:g} g is more than the fastest published growth from {birth_g:g} g ({ceiling_g:.0f} g, "
        f"a ceiling, not a target): check reading, unit and band. {weight_words(view)}"
    )
    return Finding(WATCH, words, {"ceiling_g": ceiling_g})


def weighing_missing(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """No weighing when one was due: shown as missing, never as no change."""
    if view.last_h is None:
        if view.age_h <= limits.weighing_grace_h:
            return None
        return Finding(WATCH, "Not weighed yet.", {})
    age_h = view.age_h - view.last_h
    every_h = limits.weighing_every_h(view.last_h)
    if age_h <= every_h + limits.weighing_grace_h:
        return None
    words = f"Weighing missing: one was due every {every_h:g} h. {weight_words(view)}"
    return Finding(WATCH, words, {"weight_age_h": age_h, "every_h": every_h})


WEIGHT_RULES = (
    Rule("early_growth", PUBLISHED, "Mila et al. 2015, J Anim Sci 93:4436-4442", SECONDARY, early_growth),
    Rule(
        "early_growth_not_positive",
        PUBLISHED,
        "Veterinary Practice article on growth charts, quoting Mila 2015",
        SECONDARY,
        early_growth_not_positive,
    ),
    Rule("first_days_loss", PUBLISHED, HANDBOOK, VERIFIED, first_days_loss),
    Rule("light_at_birth", PUBLISHED, HANDBOOK, VERIFIED, light_at_birth),
    Rule(
        "birth_weight_class",
        PUBLISHED,
        "Mugnier et al. 2020, BMC Vet Res 16, doi 10.1186/s12917-020-02577-z; limits set by the kennel",
        VERIFIED,
        birth_weight_class,
    ),
    Rule("no_gain", PUBLISHED, "Univ. of Minnesota teaching notes on orphans", VERIFIED, no_gain),
    Rule("slow_gain", PUBLISHED, NUTRITION, VERIFIED, slow_gain),
    Rule("not_doubled", PUBLISHED, HANDBOOK, VERIFIED, not_doubled),
    Rule(
        "above_ceiling", PUBLISHED, "Alves 2020, Vet Med Sci, doi 10.1002/vms3.322", VERIFIED, above_ceiling
    ),
    Rule("loss_after_day_2", PRACTICE, "common practice", NO_SOURCE, loss_after_day_2),
    Rule("loss_still_open", PRACTICE, "common practice", NO_SOURCE, loss_still_open),
    Rule("weighing_missing", PRACTICE, "rhythm: " + HANDBOOK, NO_SOURCE, weighing_missing),
)

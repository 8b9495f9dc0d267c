"""The limits the watch rules use: published defaults, each of them a setting of the kennel.

A kennel changes a limit with its vet; the published rules themselves cannot be switched off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

from litters.domain.centiles import LINE_SPACING_SD, LINES_BEFORE_ALERT, centile_lines


@dataclass(frozen=True)
class TemperatureLine:
    """The rectal temperature below which no milk is given, for a span of completed days, both included."""

    from_day: int
    to_day: int
    below_c: float

    def __post_init__(self) -> None:
        if not (0 <= self.from_day <= self.to_day and 20.0 <= self.below_c <= 45.0):
            raise ValueError("a temperature line needs days that rise and 20 to 45 degrees Celsius")


@dataclass(frozen=True)
class WeighingRhythm:
    """How often a pup is weighed until an age: hours between weighings up to `until_h` of age."""

    until_h: float
    every_h: float

    def __post_init__(self) -> None:
        if not (self.until_h > 0 and 0 < self.every_h < math.inf):
            raise ValueError("a weighing rhythm needs hours above 0")


# A veterinary reproduction page (verified in text); another source puts gut standstill at 34.4 C or less.
PUBLISHED_TEMPERATURE_LINES = (
    TemperatureLine(0, 6, 35.0),
    TemperatureLine(7, 20, 36.0),
    TemperatureLine(21, 30, 37.0),
)

# Dog Owner's Home Veterinary Handbook, ch. 17 (verified in text): birth, 12 h, daily to day 14, then every
# third day to 1 month.  Later: weekly (common practice, no source); the last step holds for every older pup.
PUBLISHED_RHYTHM = (
    WeighingRhythm(12.0, 12.0),
    WeighingRhythm(14 * 24.0, 24.0),
    WeighingRhythm(30 * 24.0, 72.0),
    WeighingRhythm(84 * 24.0, 168.0),
)


@dataclass(frozen=True)
class Limits:
    """Every limit of the watch rules; the comment names where the default comes from.

    Percentages are positive numbers; hours are ages or intervals.  ValueError for a limit that is not finite
    or that is negative where only a size makes sense.
    """

    # Mila et al. 2015, J Anim Sci 93:4436-4442 (summary)
    early_growth_pct: float = -4.0
    early_growth_at_h: float = 48.0
    early_growth_until_day: float = 21.0
    # Dog Owner's Home Veterinary Handbook, ch. 17 (verified in text)
    loss_pct: float = 10.0
    loss_first_h: float = 48.0
    loss_not_gaining_h: float = 72.0
    low_vs_litter_pct: float = 25.0
    doubling_by_day: float = 12.0
    # Univ. of Minnesota teaching notes (verified in text): a small loss in the first day is acceptable
    acceptable_loss_h: float = 24.0
    # common practice, no source
    no_gain_h: float = 24.0
    loss_alert_after_h: float = 48.0
    # Small Animal Clinical Nutrition 5th ed., table 16-1 (verified in text): lower ends of the ranges
    gain_week1_pct: float = 5.0
    gain_weeks2_to_4_pct: float = 3.5
    gain_weeks5_on_g_per_kg: float = 2.0
    # Alves 2020, doi 10.1002/vms3.322: a ceiling; the margin is ours (full stomach, scale step)
    above_ceiling_pct: float = 10.0
    # Mila et al. 2017, Prev Vet Med 143:11-20 (from memory); Mila et al. 2014, Prev Vet Med 116:209-213
    apgar_total: int = 6
    glucose_mg_per_dl: float = 92.0
    igg_mg_per_dl: float = 230.0
    # ours, in addition: one in ten; 1 or more switches it off
    falling_behind_chance: float = 0.10
    temperature_lines: tuple[TemperatureLine, ...] = PUBLISHED_TEMPERATURE_LINES
    too_cold_c: float = 34.4
    too_hot_c: float = 39.0
    rhythm: tuple[WeighingRhythm, ...] = PUBLISHED_RHYTHM
    # how long a temperature speaks for the pup, and how late a weighing may be (common practice, no source)
    temperature_valid_h: float = 6.0
    weighing_grace_h: float = 6.0
    # twice a day for a pup under watch, to 1 month (common practice, no source)
    under_watch_every_h: float = 12.0
    under_watch_until_h: float = 720.0
    # Salt et al. 2020, PLoS ONE 15(9):e0238521 (verified in text); how far lines lie apart is from memory
    centile_lines_crossed: int = LINES_BEFORE_ALERT
    centile_line_spacing_sd: float = LINE_SPACING_SD

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, int | float) and not math.isfinite(value):
                raise ValueError(f"{field.name} must be a finite number")
            if isinstance(value, int | float) and value < 0 and field.name != "early_growth_pct":
                raise ValueError(f"{field.name} must not be negative")
        if not self.rhythm:
            raise ValueError("the weighing rhythm needs a step")
        centile_lines(self.centile_line_spacing_sd)

    def temperature_line_c(self, completed_days: int) -> float | None:
        """The line for that age; None after the last one.  ValueError for a negative age."""
        if completed_days < 0:
            raise ValueError("completed_days must not be negative")
        for line in self.temperature_lines:
            if line.from_day <= completed_days <= line.to_day:
                return line.below_c
        return None

    def weighing_every_h(self, age_h: float, is_under_watch: bool = False) -> float:
        """Hours from one weighing to the next at that age."""
        every_h = next(
            (step.every_h for step in self.rhythm if age_h < step.until_h), self.rhythm[-1].every_h
        )
        if is_under_watch and age_h < self.under_watch_until_h:
            return min(every_h, self.under_watch_every_h)
        return every_h

"""What each figure a kennel may replace means: its unit, where the default comes from, how far that was checked.

A figure from memory, of common practice or with sources that disagree is a setting that people can see, never a
hard rule; `differs` says what another source holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from litters.domain.gestation_figures import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    KUTZLER_2003,
    MERCK_WHELPING,
    MIR_2011,
    OURS,
    QUOTED,
    VERIFIED,
)
from litters.domain.labour_limits import PUBLISHED_LIMITS
from litters.domain.watch_limits import PUBLISHED_RHYTHM, PUBLISHED_TEMPERATURE_LINES

HANDBOOK = "Dog Owner's Home Veterinary Handbook 4th ed., ch. 17"
NUTRITION = "Small Animal Clinical Nutrition 5th ed., table 16-1"
MILA_2015 = "Mila et al. 2015, J Anim Sci 93:4436-4442 (summary)"
MILA_2017 = "Mila et al. 2017, Prev Vet Med 143:11-20"
SALT_2017 = "Salt et al. 2017, PLoS ONE 12(9):e0182064"
SALT_2020 = "Salt et al. 2020, PLoS ONE 15(9):e0238521"
REPRODUCTION_PAGE = "a veterinary reproduction page"
NO_SOURCE = "none"


@dataclass(frozen=True)
class FigureNote:
    """What a figure is about, in words, its unit, its source and status, and what other sources say."""

    about: str
    unit: str
    source: str
    status: str
    differs: str = ""


def temperature_key(from_day: int) -> str:
    """Key of the line of the span of days that begins on a completed day."""
    return f"milk_from_c.from_day_{from_day}"


def rhythm_key(until_h: float) -> str:
    """Key of the hours between weighings up to an age in hours."""
    return f"weighing_every_h.until_{until_h:.0f}_h"


def _practice(about: str, unit: str) -> FigureNote:
    return FigureNote(about, unit, NO_SOURCE, COMMON_PRACTICE)


_GROWTH = {
    "early_growth_pct": FigureNote(
        "growth from birth to day 2 up to which the risk is raised", "%", MILA_2015, QUOTED
    ),
    "early_growth_at_h": FigureNote("age at which that growth is read", "h", MILA_2015, QUOTED),
    "early_growth_until_day": FigureNote("day up to which that risk lasts", "d", MILA_2015, QUOTED),
    "loss_pct": FigureNote("loss since birth that asks for action", "%", HANDBOOK, VERIFIED),
    "loss_first_h": FigureNote("age up to which a first loss counts", "h", HANDBOOK, VERIFIED),
    "loss_not_gaining_h": FigureNote(
        "age at which such a pup that does not gain is an emergency", "h", HANDBOOK, VERIFIED
    ),
    "low_vs_litter_pct": FigureNote("below the mean of its littermates", "%", HANDBOOK, VERIFIED),
    "doubling_by_day": FigureNote(
        "day by which birth weight has doubled",
        "d",
        HANDBOOK,
        VERIFIED,
        "8 to 10 days by the nutrition handbook, 7 to 10 by the Minnesota teaching notes",
    ),
    "acceptable_loss_h": FigureNote(
        "age up to which a small loss is accepted", "h", "Univ. of Minnesota teaching notes", VERIFIED
    ),
    "no_gain_h": _practice("hours without gain that ask for a look", "h"),
    "loss_alert_after_h": _practice("age from which any loss counts", "h"),
    "gain_week1_pct": FigureNote("least gain a day in week 1", "%", NUTRITION, VERIFIED),
    "gain_weeks2_to_4_pct": FigureNote("least gain a day in weeks 2 to 4", "%", NUTRITION, VERIFIED),
    "gain_weeks5_on_g_per_kg": FigureNote(
        "least gain a day from week 5, for each kg of adult weight", "g/kg", NUTRITION, VERIFIED
    ),
    "above_ceiling_pct": FigureNote(
        "above the published ceiling of growth before it is said",
        "%",
        "margin ours; ceiling: Alves 2020, doi 10.1002/vms3.322",
        OURS,
    ),
    "apgar_total": FigureNote(
        "viability score at birth up to which a pup is watched",
        "points",
        MILA_2017,
        FROM_MEMORY,
        "later work proposes other cut-offs by breed size (Animals 2022, 12:1664)",
    ),
    "glucose_mg_per_dl": FigureNote(
        "blood glucose on day 1 up to which a pup is watched", "mg/dL", MILA_2017, FROM_MEMORY
    ),
    "igg_mg_per_dl": FigureNote(
        "serum IgG on day 2 up to which a pup is watched",
        "mg/dL",
        "Mila et al. 2014, Prev Vet Med 116:209-213",
        VERIFIED,
    ),
    "falling_behind_chance": FigureNote(
        "chance of trouble from which a pup falling behind is said; 1 switches it off",
        "share",
        "tests/evaluation, simulated litters only",
        OURS,
    ),
    "too_cold_c": FigureNote(
        "temperature up to which the gut stands still, at any age",
        "C",
        "a second veterinary page",
        QUOTED,
        f"{REPRODUCTION_PAGE} draws the line at 35 to 37 C by age, see the lines below which no milk is given",
    ),
    "too_hot_c": _practice("temperature above which the box is cooled", "C"),
    "temperature_valid_h": _practice("how long a temperature speaks for a pup", "h"),
    "weighing_grace_h": _practice("how late a weighing may be before it counts as missing", "h"),
    "under_watch_every_h": _practice("hours between weighings of a pup to keep an eye on", "h"),
    "under_watch_until_h": _practice("age up to which it is weighed so often", "h"),
    "centile_lines_crossed": FigureNote(
        "centile lines of a growth table that healthy dogs cross; more are said", "lines", SALT_2020, VERIFIED
    ),
    "centile_line_spacing_sd": FigureNote(
        "distance of those lines, in standard deviations", "SD", SALT_2017, FROM_MEMORY
    ),
}
_LINES = {
    temperature_key(line.from_day): FigureNote(
        f"no milk by bottle or tube below this, days {line.from_day} to {line.to_day}",
        "C",
        REPRODUCTION_PAGE,
        VERIFIED,
        "another source puts gut standstill at 34.4 C or less",
    )
    for line in PUBLISHED_TEMPERATURE_LINES
}
_RHYTHM = {
    rhythm_key(step.until_h): FigureNote(
        f"hours between weighings up to {step.until_h:.0f} h of age",
        "h",
        HANDBOOK if step.until_h <= 720 else NO_SOURCE,
        VERIFIED if step.until_h <= 720 else COMMON_PRACTICE,
        "the nutrition handbook: daily or on alternate days for 4 weeks"
        if 336 <= step.until_h <= 720
        else "",
    )
    for step in PUBLISHED_RHYTHM
}
GROWTH_NOTES: Mapping[str, FigureNote] = {**_GROWTH, **_LINES, **_RHYTHM}

GESTATION_NOTES: Mapping[str, FigureNote] = {
    "lh_length_days": FigureNote("LH surge to whelping", "d", KUTZLER_2003, VERIFIED),
    "lh_sd_days": FigureNote("spread of that", "d", "from 64 to 66 days in over 95 %", "derived"),
    "rise_sd_days": FigureNote(
        "spread from progesterone above 2 ng/mL", "d", "64 to 66 days, share not stated", "derived"
    ),
    "ovulation_mean_days": FigureNote("ovulation to whelping", "d", MIR_2011, VERIFIED),
    "ovulation_sd_days": FigureNote(
        "spread of that", "d", MIR_2011, VERIFIED, "a working rule says 63 days, 1 more or less"
    ),
    "diestrus_length_days": FigureNote(
        "first day of diestrus to whelping",
        "d",
        MERCK_WHELPING,
        VERIFIED,
        "also quoted as 57 days, 3 more or less",
    ),
    "diestrus_sd_days": FigureNote("spread of that", "d", "56 to 58 days, share not stated", "derived"),
    "mating_first_days": FigureNote(
        "first mating to whelping, earliest",
        "d",
        MERCK_WHELPING,
        VERIFIED,
        "any single mating: about 55 to 68 days (Concannon, review page)",
    ),
    "mating_likeliest_days": FigureNote(
        "first mating to whelping, likeliest", "d", NO_SOURCE, COMMON_PRACTICE
    ),
    "mating_last_days": FigureNote("first mating to whelping, latest", "d", MERCK_WHELPING, VERIFIED),
    "apply_size_shift": FigureNote(
        "1: shift the days from ovulation by the dam's size", "0 or 1", MIR_2011, QUOTED
    ),
    "small_dam_mean_days": FigureNote("ovulation to whelping, small dams", "d", MIR_2011, QUOTED),
    "large_dam_mean_days": FigureNote("ovulation to whelping, large dams", "d", MIR_2011, QUOTED),
    "small_dam_limit_kg": FigureNote("a dam is small up to", "kg", "the quoted page states no limit", OURS),
    "large_dam_limit_kg": FigureNote("a dam is large above", "kg", "the quoted page states no limit", OURS),
    "lh_reading_sd_days": FigureNote(
        "reading error of a surge seen in daily samples", "d", "uniform over one day", "derived"
    ),
    "shared_scan_sd_days": FigureNote(
        "part of a scan's error that the next scan repeats", "d", NO_SOURCE, OURS
    ),
    "slip_share": FigureNote("chance that a piece of evidence is simply wrong", "share", NO_SOURCE, OURS),
}
INBREEDING_NOTES: Mapping[str, FigureNote] = {
    "amber_from": _practice("coefficient of inbreeding from which it is said", "share"),
    "red_from": _practice("coefficient of inbreeding from which it is said loudly", "share"),
}
LABOUR_NOTES: Mapping[str, FigureNote] = {
    f"{key.value}.{end}": FigureNote(
        f"{key.value.replace('_', ' ')}: {words}", limit.unit, limit.source, limit.status
    )
    for key, limit in PUBLISHED_LIMITS.items()
    for end, words in (("advice_after", "ring for advice after"), ("go_now_after", "go now after"))
}

__all__ = [
    "GESTATION_NOTES",
    "GROWTH_NOTES",
    "INBREEDING_NOTES",
    "LABOUR_NOTES",
    "FigureNote",
    "rhythm_key",
    "temperature_key",
]

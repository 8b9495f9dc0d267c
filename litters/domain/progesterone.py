"""Serum progesterone: units, landmarks, and what one series of samples says about the season.

Landmarks in ng/mL: under 1 before the surge, about 2-3 at the LH surge, about 4-10 at ovulation with 5-6 as
the usual decision line (laboratory leaflets as quoted by clinics; Mir et al. 2011 use 6).  Analysers differ,
so a trend is read from one analyser in one unit; anything else is set aside and said aloud.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from math import ceil, isfinite

from litters.domain.calendar_days import days_after
from litters.domain.gestation_evidence import ProgesteroneTest, ProgesteroneUnit

NMOL_PER_L_PER_NG_PER_ML = 3.18
"""Molar mass 314.46 g/mol gives 1000 / 314.46 = 3.180."""

HIGHEST_NG_PER_ML = 200.0
"""Far above any canine serum; a larger figure is a slip of typing or of unit."""
RISE_NG_PER_ML = 2.0
RESEARCH_RISE_NG_PER_ML = 1.5
OVULATION_NG_PER_ML = 6.0
SERIES_SPAN_DAYS = 45
"""Samples later than this after the season's first event belong to the end of pregnancy, not to its
beginning."""
WIDEST_GAP_DAYS = 10


def nmol_per_l_from_ng_per_ml(ng_per_ml: float) -> float:
    """Progesterone in nmol/L from ng/mL: times 3.18.

    0 <= ng_per_ml <= 200; ValueError outside.  Source: molar mass 314.46 g/mol [derived].
    """
    return _checked_ng_per_ml(ng_per_ml) * NMOL_PER_L_PER_NG_PER_ML


def ng_per_ml_from_nmol_per_l(nmol_per_l: float) -> float:
    """Progesterone in ng/mL from nmol/L: divided by 3.18.

    0 <= nmol_per_l <= 636; ValueError outside.  Source: molar mass 314.46 g/mol [derived].
    """
    if not isfinite(nmol_per_l):
        raise ValueError("progesterone must be a number")
    return _checked_ng_per_ml(nmol_per_l / NMOL_PER_L_PER_NG_PER_ML)


def _checked_ng_per_ml(value: float) -> float:
    # The margin keeps the upper limit reachable from both units in spite of rounding.
    if not isfinite(value) or not 0 <= value <= HIGHEST_NG_PER_ML * (1 + 1e-9):
        raise ValueError(f"progesterone {value:g} ng/mL lies outside 0 to {HIGHEST_NG_PER_ML:g}")
    return value


def in_ng_per_ml(value: float, unit: ProgesteroneUnit) -> float:
    """A reading in ng/mL whatever unit it was printed in.  Raises ValueError outside 0..200 ng/mL."""
    if unit == ProgesteroneUnit.NMOL_PER_L:
        return ng_per_ml_from_nmol_per_l(value)
    return _checked_ng_per_ml(value)


def progesterone_stage(ng_per_ml: float) -> str:
    """The stage of the season a reading points to, in words.

    0 <= ng_per_ml <= 200; ValueError outside.  Source: laboratory leaflets quoted by clinics [secondary
    quotation]. A single reading names a stage loosely; only the trend of one analyser dates anything.
    """
    value = _checked_ng_per_ml(ng_per_ml)
    if value < 1:
        return "before the LH surge"
    if value < RISE_NG_PER_ML:
        return "rising, not yet clear"
    if value <= 3:
        return "about the LH surge"
    if value < 4:
        return "between the LH surge and ovulation"
    return "about ovulation" if value <= 10 else "after ovulation"


@dataclass(frozen=True, slots=True)
class Crossing:
    """The passage of a line between two samples.

    reached_on: the first day a daily sample would have shown it, on a straight line between the two samples
    (our choice: published lengths count from daily samples).  gap_days: days between the two samples, 1 or
    more.
    """

    last_below_on: date
    first_above_on: date
    reached_on: date
    gap_days: int

    @property
    def gap_variance(self) -> float:
        """Variance in days squared that the gap adds: any day in it is possible, (gap^2 - 1) / 12."""
        return (self.gap_days**2 - 1) / 12


@dataclass(frozen=True, slots=True)
class SeriesReading:
    """What one trend of samples says: the rise above 2 ng/mL and the passage of 6 ng/mL, if it saw them."""

    rise: Crossing | None
    ovulation: Crossing | None
    used: tuple[ProgesteroneTest, ...]
    set_aside: tuple[ProgesteroneTest, ...]
    notes: tuple[str, ...]


def read_series(tests: Sequence[ProgesteroneTest]) -> SeriesReading:
    """What a season's samples say, from the one analyser and unit that says most.

    Raises ValueError when a value is impossible or no sample is given.
    """
    if not tests:
        raise ValueError("a series needs at least one sample")
    trends = _trends(tests)
    used = max(trends, key=_usefulness)
    rise, rise_notes = _crossing(used, RISE_NG_PER_ML, inclusive=False)
    ovulation, ovulation_notes = _crossing(used, OVULATION_NG_PER_ML, inclusive=True)
    set_aside = tuple(test for trend in trends if trend is not used for test in trend)
    notes = [*rise_notes, *ovulation_notes]
    if set_aside:
        notes.append(_mixture_note(tests))
    return SeriesReading(rise, ovulation, tuple(used), set_aside, tuple(dict.fromkeys(notes)))


def research_rise_on(tests: Sequence[ProgesteroneTest]) -> date | None:
    """The day the research definition of the rise was met: 1.5 ng/mL and twice the value before.

    None when no sample meets it.  Samples of one analyser and unit only; ValueError for a mixture or an
    impossible value.  Source: Kutzler et al. 2003 [verified in text].
    """
    if len({_trend_key(test) for test in tests}) > 1:
        raise ValueError("one trend needs one analyser and one unit")
    ordered = sorted(tests, key=lambda test: test.on)
    for before, test in pairwise(ordered):
        value = in_ng_per_ml(test.value, test.unit)
        if value >= RESEARCH_RISE_NG_PER_ML and value >= 2 * in_ng_per_ml(before.value, before.unit):
            return test.on
    return None


def _trend_key(test: ProgesteroneTest) -> tuple[str, str]:
    return test.analyser.strip().casefold(), test.unit.value


def _trends(tests: Sequence[ProgesteroneTest]) -> list[list[ProgesteroneTest]]:
    trends: dict[tuple[str, str], list[ProgesteroneTest]] = {}
    for test in sorted(tests, key=lambda test: (test.on, in_ng_per_ml(test.value, test.unit))):
        trends.setdefault(_trend_key(test), []).append(test)
    return list(trends.values())


def _usefulness(trend: list[ProgesteroneTest]) -> tuple[bool, bool, int, int]:
    rise, _ = _crossing(trend, RISE_NG_PER_ML, inclusive=False)
    ovulation, _ = _crossing(trend, OVULATION_NG_PER_ML, inclusive=True)
    return rise is not None, ovulation is not None, len(trend), -trend[0].on.toordinal()


def _crossing(
    trend: Sequence[ProgesteroneTest], line_ng_per_ml: float, *, inclusive: bool
) -> tuple[Crossing | None, list[str]]:
    """The last time the trend passed the line upwards, with notes on what stands in the way of dating it."""
    values = [in_ng_per_ml(test.value, test.unit) for test in trend]
    above = [value >= line_ng_per_ml if inclusive else value > line_ng_per_ml for value in values]
    if above[0]:
        return None, [f"the first sample was already above {line_ng_per_ml:g} ng/mL: that point was missed"]
    risen = [index for index in range(1, len(trend)) if above[index] and not above[index - 1]]
    if not risen:
        return None, []
    notes = []
    if len(risen) > 1:
        notes.append(f"the values passed {line_ng_per_ml:g} ng/mL more than once: the last passage is used")
    index = risen[-1]
    gap = (trend[index].on - trend[index - 1].on).days
    if gap > WIDEST_GAP_DAYS:
        notes.append(f"{gap} days without a sample around {line_ng_per_ml:g} ng/mL: too long to date it")
        return None, notes
    before, after = values[index - 1], values[index]
    # Rounding in the last digit must not push the day out of the gap.
    days = min(max(ceil(gap * (line_ng_per_ml - before) / (after - before) - 1e-9), 1), gap)
    last_below_on = trend[index - 1].on
    return Crossing(last_below_on, trend[index].on, days_after(last_below_on, days), max(gap, 1)), notes


def _mixture_note(tests: Sequence[ProgesteroneTest]) -> str:
    units = {test.unit for test in tests}
    analysers = {test.analyser.strip().casefold() for test in tests}
    mixed = [word for word, kinds in (("two units", units), ("two analysers", analysers)) if len(kinds) > 1]
    return f"samples from {' and '.join(mixed)} are not read as one trend: the fuller one is used"

"""Probability over days: the small piece of numerics beneath the due window.

Time is a plain number of days (a date's ordinal, with a fraction).  A likelihood is a list of values on a
grid of equally spaced points; a calendar day runs from half a day before its number to half a day after it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, isfinite, pi, sqrt
from statistics import NormalDist

STEP_DAYS = 0.25
STANDARD_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Bell:
    """A bell curve with one peak whose two sides may differ in width (equal widths: a normal curve)."""

    peak: float
    sd_below: float
    sd_above: float

    def density(self, at: float) -> float:
        """Probability per day at the instant `at`."""
        sd = self.sd_below if at < self.peak else self.sd_above
        return sqrt(2 / pi) / (self.sd_below + self.sd_above) * exp(-0.5 * ((at - self.peak) / sd) ** 2)

    def quantile(self, share: float) -> float:
        """The instant before which `share` (strictly between 0 and 1) of the probability lies."""
        below = self.sd_below / (self.sd_below + self.sd_above)
        if share <= below:
            return self.peak + self.sd_below * STANDARD_NORMAL.inv_cdf(share / (2 * below))
        return self.peak - self.sd_above * STANDARD_NORMAL.inv_cdf((1 - share) / (2 * (1 - below)))

    def sd(self) -> float:
        """Standard deviation of the whole curve, in days."""
        step = self.sd_above - self.sd_below
        return sqrt((1 - 2 / pi) * step**2 + self.sd_below * self.sd_above)

    def narrowed(self, shared_sd: float) -> Bell:
        """The curve with the variance `shared_sd` squared taken out of each side; a little always remains."""
        return Bell(self.peak, _without(self.sd_below, shared_sd), _without(self.sd_above, shared_sd))


def _without(sd: float, shared_sd: float) -> float:
    return sqrt(max(sd**2 - shared_sd**2, STEP_DAYS**2))


@lru_cache(maxsize=64)
def bell_from_range(first: float, peak: float, last: float, share: float) -> Bell:
    """The bell curve with a peak that leaves (1 - share) / 2 before `first` and as much after `last`.

    first < peak < last, days; share between 0.5 and 1 (exclusive).  Raises ValueError otherwise.
    """
    if not (first < peak < last and isfinite(last - first) and 0.5 < share < 1):
        raise ValueError("a range needs first < peak < last and a share between 0.5 and 1")
    tail = (1 - share) / 2
    below = (peak - first) / (last - first)
    sd_below = sd_above = 0.0
    # The share of each side depends on both widths; substituting back converges in a few dozen rounds.
    for _ in range(200):
        sd_below = (first - peak) / STANDARD_NORMAL.inv_cdf(min(tail / (2 * below), 0.49))
        sd_above = (peak - last) / STANDARD_NORMAL.inv_cdf(min(tail / (2 * (1 - below)), 0.49))
        below = sd_below / (sd_below + sd_above)
    return Bell(peak, sd_below, sd_above)


def grid_between(first: float, last: float) -> list[float]:
    """Equally spaced points, a quarter of a day apart, that cover first..last."""
    count = int((last - first) / STEP_DAYS) + 2
    return [first + index * STEP_DAYS for index in range(count)]


def product(rows: Sequence[Sequence[float]], slip_share: float = 0.0) -> list[float]:
    """Likelihoods of independent pieces multiplied point by point, scaled so that they sum to 1.

    slip_share > 0 lets each piece be wrong with that chance, spread evenly over the grid: two pieces that
    contradict each other then leave both answers standing, and a third one decides between them.
    Raises ValueError if nothing is left.
    """
    result = [1.0] * len(rows[0])
    for row in rows:
        floor = slip_share * sum(row) / len(row)
        result = [old * ((1 - slip_share) * new + floor) for old, new in zip(result, row, strict=True)]
        result = scaled(result)
    return result


def scaled(values: Sequence[float]) -> list[float]:
    """The same shape with sum 1.  Raises ValueError when every value is zero."""
    total = sum(values)
    if not total > 0 or not isfinite(total):
        raise ValueError("the evidence leaves no possible day")
    return [value / total for value in values]


def widened(values: Sequence[float], sd: float) -> list[float]:
    """A likelihood on the grid with an independent normal error of `sd` days added."""
    reach = int(5 * sd / STEP_DAYS) + 1
    kernel = scaled([exp(-0.5 * (offset * STEP_DAYS / sd) ** 2) for offset in range(-reach, reach + 1)])
    last = len(values) - 1
    return [
        sum(
            weight * values[min(max(index + offset, 0), last)]
            for offset, weight in zip(range(-reach, reach + 1), kernel, strict=True)
        )
        for index in range(len(values))
    ]


def day_masses(grid: Sequence[float], values: Sequence[float], sd: float) -> dict[int, float]:
    """Probability of each whole day when the instant is the grid's plus a normal spread of `sd` days."""
    spread = NormalDist(0, sd)
    reach = int(6 * sd) + 1
    masses: dict[int, float] = {}
    for at, value in zip(grid, values, strict=True):
        if value < 1e-12:
            continue
        nearest = round(at)
        below = spread.cdf(nearest - reach - 0.5 - at)
        for day in range(nearest - reach, nearest + reach + 1):
            above = spread.cdf(day + 0.5 - at)
            masses[day] = masses.get(day, 0.0) + value * (above - below)
            below = above
    return normalised(masses)


def normalised(masses: Mapping[int, float]) -> dict[int, float]:
    """The same days, ascending, with probabilities that sum to 1.  Raises ValueError when nothing is left."""
    days = sorted(masses)
    return dict(zip(days, scaled([masses[day] for day in days]), strict=True))


def quantile_day(masses: Mapping[int, float], share: float) -> int:
    """The first day by whose end at least `share` of the probability has passed."""
    passed = 0.0
    for day, mass in masses.items():
        passed += mass
        if passed >= share - 1e-9:
            return day
    return max(masses)


def likeliest_day(masses: Mapping[int, float]) -> int:
    """The day with the highest probability; of equal days the earlier, the safer one to be ready for."""
    best = max(masses.values())
    return min(day for day, mass in masses.items() if mass >= best - 1e-9)


def sd_of_days(masses: Mapping[int, float]) -> float:
    """Standard deviation in days of a distribution over days."""
    mean = sum(day * mass for day, mass in masses.items())
    return sqrt(sum((day - mean) ** 2 * mass for day, mass in masses.items()))

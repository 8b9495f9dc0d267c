"""Growth curves and standards: Gompertz, logistic, LMS scores and the centile lines crossed.

Ages in days (logistic constants as published in months: any one unit), weights in kg.  Every function gives a
finite number or raises ValueError.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from litters.domain.growth_measures import finite, positive

LARGEST_EXPONENT = 700.0
SMALLEST_PRODUCT = 1e-300
FIRST_STANDARD_DAY = 84.0

# Lines two thirds of a standard deviation apart, as on the published charts (spacing from memory).
CENTILE_LINES = (-2.67, -2.0, -1.33, -0.67, 0.0, 0.67, 1.33, 2.0, 2.67)
LINES_BEFORE_ALERT = 2


def _exponential(exponent: float) -> float:
    """exp(), infinite instead of an overflow, so that a curve can run out to its asymptote."""
    return math.inf if exponent > LARGEST_EXPONENT else math.exp(exponent)


def gompertz_kg(t: float, wmax: float, b: float, c: float) -> float:
    """Weight at age t: Wmax exp(-exp(-(t - c)/b)).

    t, c (age at the steepest growth) and b (scale) in days, wmax the mature weight in kg; wmax, b > 0.  Valid
    from weaning to adult: it misfits the first 3 weeks.
    Source: Helmink et al. 2000, J Anim Sci 78:27-32 (form verified in text).
    """
    exponent = -(finite("t", t) - finite("c", c)) / positive("b", b)
    return finite("the weight", positive("wmax", wmax) * math.exp(-_exponential(exponent)))


def gompertz_peak_gain_kg_per_day(wmax: float, b: float) -> float:
    """The steepest gain, at age c: Wmax/(b e), kg a day.  Algebra from Helmink's form."""
    return finite("the gain", positive("wmax", wmax) / positive("b", b) / math.e)


def gompertz_age_at_fraction_days(fraction: float, b: float, c: float) -> float:
    """The age at a fraction of mature weight: c - b ln(-ln q), 0 < q < 1.  Algebra from Helmink's form."""
    share = _fraction(fraction)
    return finite("the age", finite("c", c) - positive("b", b) * math.log(-math.log(share)))


def gompertz_growth_duration_days(b: float, c: float) -> float:
    """The end of growth by convention, 4b + c days, where 98.18 % of mature weight is reached.

    Source: Helmink et al. 2000 (verified in text).
    """
    return finite("the duration", 4.0 * positive("b", b) + finite("c", c))


def gompertz_predict_wmax_kg(t: float, w: float, b: float, c: float) -> float:
    """Mature weight from one weighing with trusted b and c of that breed and sex: W/exp(-exp(-(t - c)/b)).

    ValueError when the age says next to nothing (the answer would leave any range).  Before 12 weeks the
    error is large (common practice, no source).
    """
    exponent = -(finite("t", t) - finite("c", c)) / positive("b", b)
    grown = math.exp(-_exponential(exponent))
    if grown <= 0.0:
        raise ValueError("too early to predict from")
    return finite("the prediction", positive("w", w) / grown)


def logistic_kg(t: float, a: float, b: float, x0: float) -> float:
    """Weight at age t: a/(1 + exp(-(t - x0)/b)).

    x0 the age at half of mature weight a, b > 0, all in one unit of time.

    Source: Posada et al., Rev MVZ Cordoba, dogs of several breeds (verified in text).
    """
    exponent = -(finite("t", t) - finite("x0", x0)) / positive("b", b)
    return finite("the weight", positive("a", a) / (1.0 + _exponential(exponent)))


def logistic_t99(b: float, x0: float) -> float:
    """The age at 99 % of mature weight: x0 + b ln 99, in the unit of b and x0.  Posada et al."""
    return finite("the age", finite("x0", x0) + positive("b", b) * math.log(99.0))


def logistic_b_from_t99(t99: float, x0: float) -> float:
    """The scale b from the ages at 99 % and at half of mature weight, t99 after x0.  Posada et al."""
    return positive("t99 - x0", finite("t99", t99) - finite("x0", x0)) / math.log(99.0)


def logistic_age_at_fraction(fraction: float, b: float, x0: float) -> float:
    """The age at a fraction q of mature weight: x0 + b ln(q/(1 - q)), 0 < q < 1.  Algebra of the form."""
    share = _fraction(fraction)
    return finite("the age", finite("x0", x0) + positive("b", b) * math.log(share / (1.0 - share)))


def logistic_predict_a_kg(t: float, w: float, b: float, x0: float) -> float:
    """Mature weight from one weighing with trusted b and x0; ValueError when the age says next to nothing."""
    exponent = -(finite("t", t) - finite("x0", x0)) / positive("b", b)
    return finite("the prediction", positive("w", w) * (1.0 + _exponential(exponent)))


def lms_z(weight: float, power: float, median: float, spread: float) -> float:
    """The z-score of a weight y in an LMS table: ((y/M)^L - 1)/(L S), or ln(y/M)/S when L is 0.

    weight and median (M) in one unit, both > 0; power L; spread S > 0.
    Source: Cole & Green 1992, Stat Med 11:1305-1319 (from memory).
    """
    log_ratio = math.log(positive("y/M", positive("weight", weight) / positive("median", median)))
    coefficient = positive("spread", spread)
    product = finite("power", power) * log_ratio
    if product > LARGEST_EXPONENT:
        raise ValueError("the score is out of any range")
    # expm1 keeps the two branches joined for L near 0; below the smallest product they are equal
    moved = log_ratio if abs(product) < SMALLEST_PRODUCT else log_ratio * (math.expm1(product) / product)
    return finite("the score", moved / coefficient)


def lms_x(z: float, power: float, median: float, spread: float) -> float:
    """The weight at a z-score: M (1 + L S z)^(1/L), or M exp(S z) when L is 0.

    In the unit of median (M); power L, spread S > 0; ValueError where 1 + L S z <= 0.
    Source: Cole & Green 1992, Stat Med 11:1305-1319 (from memory).
    """
    moved = finite("S z", positive("spread", spread) * finite("z", z))
    product = finite("power", power) * moved
    if product <= -1.0:
        raise ValueError("no weight has that score in this table")
    exponent = moved if abs(product) < SMALLEST_PRODUCT else moved * (math.log1p(product) / product)
    if exponent > LARGEST_EXPONENT:
        raise ValueError("the weight is out of any range")
    return finite("the weight", positive("median", median) * math.exp(exponent))


def lines_crossed(z_start: float, z_now: float, lines: Sequence[float] = CENTILE_LINES) -> int:
    """How many centile lines lie strictly between two scores, upwards or downwards alike."""
    low, high = sorted((finite("z_start", z_start), finite("z_now", z_now)))
    return sum(low < line < high for line in lines)


def crosses_too_many_lines(z_start: float, z_now: float) -> bool:
    """Whether more than two lines were crossed: fewer than 5 % of healthy dogs do that.

    Source: Salt et al. 2020, PLoS ONE 15(9):e0238521 (rule verified in text, line spacing from memory).
    """
    return lines_crossed(z_start, z_now) > LINES_BEFORE_ALERT


@dataclass(frozen=True)
class LmsRow:
    """One age of a table: age in days, power L, median M in kg, spread S."""

    age_days: float
    power: float
    median_kg: float
    spread: float


@dataclass(frozen=True)
class LmsTable:
    """Centile values a vet supplied: rows by rising age, with the name of who published them.

    Below 12 weeks no published standard for dogs exists (Salt et al. 2017, PLoS ONE 12(9):e0182064), so rows
    there are refused.  ValueError for fewer than two rows or ages that do not rise.
    """

    name: str
    rows: tuple[LmsRow, ...]

    def __post_init__(self) -> None:
        if len(self.rows) < 2 or any(one.age_days >= other.age_days for one, other in pairwise(self.rows)):
            raise ValueError("a table needs two rows or more of rising age")
        if finite("age_days", self.rows[0].age_days) < FIRST_STANDARD_DAY:
            raise ValueError("no published standard covers ages below 12 weeks (84 days)")
        for row in self.rows:
            finite("age_days", row.age_days)
            lms_z(row.median_kg, row.power, row.median_kg, row.spread)

    def row_at(self, age_days: float) -> LmsRow:
        """L, M and S at an age, straight between rows; ValueError outside the table."""
        age = finite("age_days", age_days)
        if not self.rows[0].age_days <= age <= self.rows[-1].age_days:
            raise ValueError(
                f"{self.name} covers days {self.rows[0].age_days:g} to {self.rows[-1].age_days:g}"
            )
        for one, other in pairwise(self.rows):
            if age <= other.age_days:
                share = (age - one.age_days) / (other.age_days - one.age_days)
                return LmsRow(
                    age,
                    one.power + share * (other.power - one.power),
                    one.median_kg + share * (other.median_kg - one.median_kg),
                    one.spread + share * (other.spread - one.spread),
                )
        raise ValueError("the age is not a number")

    def z(self, age_days: float, weight_kg: float) -> float:
        """The score of a weight at an age covered by the table."""
        row = self.row_at(age_days)
        return lms_z(weight_kg, row.power, row.median_kg, row.spread)


def _fraction(fraction: float) -> float:
    share = finite("fraction", fraction)
    if not 0.0 < share < 1.0:
        raise ValueError("fraction must lie strictly between 0 and 1")
    return share

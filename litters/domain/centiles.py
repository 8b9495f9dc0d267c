"""Where a weight stands in a table of L, M and S that a vet supplied: z-score, centile, centile lines crossed.

Ages in days, weights in kg.  Every function gives a finite number or raises ValueError.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

from litters.domain.growth_measures import finite, positive
from litters.domain.growth_models import LARGEST_EXPONENT

SMALLEST_PRODUCT = 1e-300
FIRST_STANDARD_DAY = 84.0

# As on the published charts, lines two thirds of a standard deviation apart, from the 0.4th to the 99.6th centile
# (both from memory); crossing more than two is rare in healthy dogs (Salt et al. 2020, verified in text).
LINE_SPACING_SD = 0.6667
OUTERMOST_LINE_SD = 2.67
CLOSEST_LINES_SD = 0.1
LINES_BEFORE_ALERT = 2

# Rows that look like a slip of the pen, not like growth (common practice, no source).
FALL_ASKED_ABOUT = 0.9
TIMES_A_WEEK_ASKED_ABOUT = 1.5

UP, DOWN, LEVEL = "up", "down", "level"


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


def centile_of(z: float) -> float:
    """The percentage of healthy dogs of that age that are lighter: 100 times the normal distribution at z, 0 to 100."""
    return 100.0 * NormalDist().cdf(finite("z", z))


def centile_lines(spacing_sd: float = LINE_SPACING_SD) -> tuple[float, ...]:
    """The z-scores of the lines of a chart, rising, to 0.01: the median and those up to 2.67 on each side.

    spacing_sd: 0.1 or more.
    """
    if finite("spacing_sd", spacing_sd) < CLOSEST_LINES_SD:
        raise ValueError(f"centile lines lie {CLOSEST_LINES_SD:g} standard deviations apart or more")
    each_side = int(OUTERMOST_LINE_SD / spacing_sd)
    return tuple(round(place * spacing_sd, 2) for place in range(-each_side, each_side + 1))


def lines_crossed(z_start: float, z_now: float, spacing_sd: float = LINE_SPACING_SD) -> int:
    """How many centile lines lie strictly between two scores, upwards or downwards alike."""
    low, high = sorted((finite("z_start", z_start), finite("z_now", z_now)))
    return sum(low < line < high for line in centile_lines(spacing_sd))


def crosses_too_many_lines(
    z_start: float,
    z_now: float,
    most: float = LINES_BEFORE_ALERT,
    spacing_sd: float = LINE_SPACING_SD,
) -> bool:
    """Whether more than `most` lines (two) were crossed: fewer than 5 % of healthy dogs do that.

    Source: Salt et al. 2020, PLoS ONE 15(9):e0238521 (rule verified in text, line spacing from memory).
    """
    return lines_crossed(z_start, z_now, spacing_sd) > most


@dataclass(frozen=True)
class LmsRow:
    """One age of a table: age in days, power L, median M in kg, spread S."""

    age_days: float
    power: float
    median_kg: float
    spread: float


@dataclass(frozen=True)
class Standing:
    """Where one weighing stands: age in days, weight in kg, z-score."""

    age_days: float
    weight_kg: float
    z: float

    @property
    def centile(self) -> float:
        """The percentage of healthy dogs of that age that are lighter."""
        return centile_of(self.z)


@dataclass(frozen=True)
class LmsTable:
    """Values a vet supplied: rows by rising age, with the name the kennel gave the table.

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

    @classmethod
    def of(cls, name: str, rows: Iterable[Mapping[str, float]]) -> LmsTable:
        """A table from rows as they are stored: age_days, power, median_kg, spread, numbers of any kind."""
        return cls(name, tuple(LmsRow(**{key: float(value) for key, value in row.items()}) for row in rows))

    @property
    def from_day(self) -> float:
        """The first age it covers."""
        return self.rows[0].age_days

    @property
    def to_day(self) -> float:
        """The last age it covers."""
        return self.rows[-1].age_days

    def covers(self, age_days: float) -> bool:
        """Whether an age lies between its first and last row."""
        return self.from_day <= age_days <= self.to_day

    def row_at(self, age_days: float) -> LmsRow:
        """L, M and S at an age, straight between rows; ValueError outside the table."""
        age = finite("age_days", age_days)
        if not self.covers(age):
            raise ValueError(f"{self.name} covers days {self.from_day:g} to {self.to_day:g}")
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

    def standings(self, weights: Sequence[tuple[float, float]]) -> tuple[Standing, ...]:
        """Each weight (age in days, kg) that the table covers, in the order given."""
        return tuple(Standing(age, kg, self.z(age, kg)) for age, kg in weights if self.covers(age))

    def questions(self) -> tuple[str, ...]:
        """Rows that look mistyped, in words: a median that falls, or that grows out of all proportion.

        Asked, never refused: the values are the vet's (limits: common practice, no source).
        """
        asked = []
        for one, other in pairwise(self.rows):
            weeks = max(1.0, (other.age_days - one.age_days) / 7.0)
            times = other.median_kg / one.median_kg
            if times < FALL_ASKED_ABOUT or times > TIMES_A_WEEK_ASKED_ABOUT**weeks:
                asked.append(
                    f"The median goes from {one.median_kg:g} kg on day {one.age_days:g} to {other.median_kg:g} kg "
                    f"on day {other.age_days:g}: is that as the vet wrote it?"
                )
        return tuple(asked)


@dataclass(frozen=True)
class CentilePath:
    """A pup's way through a table, from the first weighing the table covers to the newest.

    lines_crossed: lines strictly between both.  is_too_many: more than healthy dogs cross.
    """

    first: Standing
    newest: Standing
    lines_crossed: int
    is_too_many: bool

    @property
    def direction(self) -> str:
        """up or down when a line was crossed, else level."""
        if self.lines_crossed == 0:
            return LEVEL
        return UP if self.newest.z > self.first.z else DOWN

    @property
    def words(self) -> str:
        """What happened, for a carer."""
        where = f"On the {centile_words(self.newest.centile)} centile at day {self.newest.age_days:.0f}"
        if self.first == self.newest:
            return f"{where}."
        since = f"since day {self.first.age_days:.0f} ({centile_words(self.first.centile)} centile)"
        if self.lines_crossed == 0:
            return f"{where}; no centile line crossed {since}."
        lines = f"{self.lines_crossed} centile line{'' if self.lines_crossed == 1 else 's'}"
        return f"{where}; {lines} crossed {self.direction}wards {since}."


def centile_path(
    table: LmsTable,
    weights: Sequence[tuple[float, float]],
    most: float = LINES_BEFORE_ALERT,
    spacing_sd: float = LINE_SPACING_SD,
) -> CentilePath | None:
    """The way of weights (age in days, kg, by rising age) through a table; None when it covers none of them.

    most: lines that healthy dogs cross; spacing_sd: distance of the lines.  Lines are counted from the first covered
    weighing.  Source: Salt et al. 2020, PLoS ONE 15(9):e0238521 (rule verified in text, line spacing from memory).
    """
    standings = table.standings(weights)
    if not standings:
        return None
    first, newest = standings[0], standings[-1]
    crossed = lines_crossed(first.z, newest.z, spacing_sd)
    return CentilePath(first, newest, crossed, crossed > most)


def centile_words(centile: float) -> str:
    """A centile as people say it: 34th, 2nd; under 1 and over 99 to a tenth, and what lies beyond as such."""
    if centile < 0.1:
        return "lowest"
    if centile > 99.9:
        return "highest"
    if not 0.95 <= centile < 99.05:
        return f"{centile:.1f}th"
    whole = round(centile)
    ending = "th" if whole in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(whole % 10, "th")
    return f"{whole}{ending}"

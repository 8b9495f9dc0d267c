"""What is known of a pup's growth, and how it looks at one moment: the plain values every watch rule reads.

Instants are aware datetimes and are compared as instants, so that a change of clocks moves nothing; weights
are grams, ages hours since birth.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from statistics import fmean

from litters.domain.centiles import LmsTable
from litters.domain.growth_measures import compound_gain_pct_per_day, positive, published_log_growth

HOURS_PER_DAY = 24.0


def instant_s(moment: datetime) -> float:
    """The moment as seconds since 1970; ValueError for one without a zone, which is no instant."""
    if moment.tzinfo is None:
        raise ValueError("a time needs its zone")
    return moment.timestamp()


@dataclass(frozen=True)
class Weighing:
    """One weight of a pup.  is_birth_weight: dried and before the first suck; a later one is not."""

    weighed_at: datetime
    weight_g: float
    is_birth_weight: bool = False

    def __post_init__(self) -> None:
        positive("weight_g", self.weight_g)
        instant_s(self.weighed_at)


@dataclass(frozen=True)
class TemperatureReading:
    """One rectal temperature of a pup in degrees Celsius, 20 to 45."""

    measured_at: datetime
    rectal_c: float

    def __post_init__(self) -> None:
        if not 20.0 <= self.rectal_c <= 45.0:
            raise ValueError("a rectal temperature lies between 20 and 45 degrees Celsius")
        instant_s(self.measured_at)


@dataclass(frozen=True)
class PupRecord:
    """A pup as the rules see it; what is not known stays None.

    is_sucking: last seen sucking or refusing.  adult_weight_kg: expected adult weight.  very_low_below_g and
    low_below_g: the kennel's own birth-weight limits for this breed or line.  loss_watch_closed_at: when the
    vet closed the watch over a 10 % loss.  growth_table: a table a vet supplied for dogs like this one.
    """

    pup: str
    born_at: datetime
    weighings: tuple[Weighing, ...] = ()
    temperatures: tuple[TemperatureReading, ...] = ()
    apgar_total: int | None = None
    is_sucking: bool | None = None
    adult_weight_kg: float | None = None
    igg_day2_mg_per_dl: float | None = None
    glucose_day1_mg_per_dl: float | None = None
    low_below_g: float | None = None
    very_low_below_g: float | None = None
    loss_watch_closed_at: datetime | None = None
    growth_table: LmsTable | None = None

    def __post_init__(self) -> None:
        instant_s(self.born_at)

    @cached_property
    def _sorted_weighings(self) -> tuple[tuple[float, float, bool], ...]:
        """(age in hours, grams, is birth weight) by age; noted before the birth time counts as age 0."""
        born_s = instant_s(self.born_at)
        return tuple(
            sorted(
                (
                    max(0.0, (weighing.weighed_at.timestamp() - born_s) / 3600.0),
                    weighing.weight_g,
                    weighing.is_birth_weight,
                )
                for weighing in self.weighings
            )
        )

    @cached_property
    def ages_h(self) -> tuple[float, ...]:
        """Ages at the weighings, hours, rising."""
        return tuple(age_h for age_h, _, _ in self._sorted_weighings)

    @cached_property
    def weights_g(self) -> tuple[float, ...]:
        """Weights in the order of `ages_h`."""
        return tuple(weight_g for _, weight_g, _ in self._sorted_weighings)

    @cached_property
    def excess_logs(self) -> tuple[float, ...]:
        """ln of each weight less the growth a pup of that age has made at the published mean pace."""
        return tuple(
            math.log(weight_g) - published_log_growth(age_h) for age_h, weight_g, _ in self._sorted_weighings
        )

    @cached_property
    def birth_weight_index(self) -> int | None:
        """Which weighing is the birth weight; None when none was taken dried and before the first suck."""
        return next((n for n, (_, _, is_birth) in enumerate(self._sorted_weighings) if is_birth), None)


@dataclass(frozen=True)
class Gain:
    """A gain between two weighings of a pup: grams before and after, hours of age, % a day compounded."""

    from_g: float
    to_g: float
    from_h: float
    to_h: float

    @property
    def hours(self) -> float:
        """Length of the interval."""
        return self.to_h - self.from_h

    @property
    def grams(self) -> float:
        """Grams gained; negative is loss."""
        return self.to_g - self.from_g

    @property
    def pct_per_day(self) -> float:
        """Steady gain a day, each in % of the day before."""
        return compound_gain_pct_per_day(self.from_g, self.to_g, self.hours / HOURS_PER_DAY)


class PupView:
    """A pup at one moment: only what was measured by then.  ValueError for a moment before its birth."""

    def __init__(self, record: PupRecord, at: datetime) -> None:
        self.record = record
        self.at = at
        self.at_s = instant_s(at)
        self.born_s = record.born_at.timestamp()
        self.age_h = (self.at_s - self.born_s) / 3600.0
        if self.age_h < 0.0:
            raise ValueError("the moment lies before the birth")
        self.count = bisect_right(record.ages_h, self.age_h)
        self.ages_h = record.ages_h[: self.count]
        self.weights_g = record.weights_g[: self.count]

    @property
    def birth_g(self) -> float | None:
        """Birth weight, dried and before the first suck."""
        index = self.record.birth_weight_index
        return None if index is None or index >= self.count else self.weights_g[index]

    @property
    def reference_g(self) -> float | None:
        """The weight losses are counted from: birth weight, else a first weight of the first day."""
        birth_g = self.birth_g
        if birth_g is not None:
            return birth_g
        return self.weights_g[0] if self.count and self.ages_h[0] <= HOURS_PER_DAY else None

    @property
    def last_g(self) -> float | None:
        """Newest weight."""
        return self.weights_g[-1] if self.count else None

    @property
    def last_h(self) -> float | None:
        """Age at the newest weight, hours."""
        return self.ages_h[-1] if self.count else None

    @property
    def weight_age_h(self) -> float | None:
        """How old the newest weight is, hours; None without any."""
        return self.age_h - self.ages_h[-1] if self.count else None

    def gain_over(self, wanted_h: float, shortest_h: float, until: int | None = None) -> Gain | None:
        """The newest gain over an interval as near `wanted_h` as the weighings allow, at least `shortest_h`.

        until: take the weighing with this index as the newest one.  None when no pair is far enough apart: a
        missing weighing gives no gain, not a gain of nothing.
        """
        end = self.count - 1 if until is None else until
        if end < 1:
            return None
        end_h = self.ages_h[end]
        best: int | None = None
        for index in range(end - 1, -1, -1):
            hours = end_h - self.ages_h[index]
            if hours < shortest_h:
                continue
            if best is None or abs(hours - wanted_h) < abs(end_h - self.ages_h[best] - wanted_h):
                best = index
            elif hours > wanted_h:
                break
        if best is None:
            return None
        return Gain(self.weights_g[best], self.weights_g[end], self.ages_h[best], end_h)

    def excess_at(self, age_h: float, slack_h: float) -> float | None:
        """`excess_logs` at an age, straight between weighings; None when none lies within `slack_h` of it."""
        ages_h, logs = self.ages_h, self.record.excess_logs
        after = bisect_right(ages_h, age_h)
        before = after - 1
        if before < 0 or after >= self.count:
            near = after if before < 0 else before
            if near < 0 or near >= self.count or abs(ages_h[near] - age_h) > slack_h:
                return None
            return logs[near]
        since, until = age_h - ages_h[before], ages_h[after] - age_h
        if since > slack_h and until > slack_h:
            return None
        return logs[before] + since / (since + until) * (logs[after] - logs[before])


def mean_birth_g(views: Sequence[PupView]) -> float | None:
    """Mean birth weight of the pups that have one; None when none has."""
    weights = [view.birth_g for view in views if view.birth_g is not None]
    return fmean(weights) if weights else None

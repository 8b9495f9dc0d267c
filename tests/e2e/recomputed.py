"""What the server's answers are held against: reckoned here from what the test itself typed, with nothing of ours.

Growth formula: NRC 2006, Table 15-2 (as quoted): 130 x BW^0.75 x 3.2 x (e^(-0.87 p) - 0.1) kcal a day, p the
share of the adult weight.  Water: parts by volume, the food's volume by its printed density.
"""

import math
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from tests.e2e.grid import BANDS

ADULT_KG, KCAL_PER_KG, DENSITY_G_PER_ML = 19.0, 3900.0, 0.4
SHARE_FROM_FOOD, MEALS_A_DAY, WATER_PARTS = 0.5, 2, 2
LATE, LATE_DOSE, HOUR = timedelta(minutes=15), timedelta(hours=2), timedelta(hours=1)


@dataclass(frozen=True)
class Bowl:
    """One meal of a litter: kcal ME, g of dry food, mL of water."""

    energy_kcal: float
    dry_g: float
    water_ml: float


@dataclass(frozen=True)
class Meal:
    """A meal as it was recorded, and the plan it stood against."""

    at: datetime
    dry_g: int
    water_ml: int
    left_wet_g: int | None
    planned: Bowl


@dataclass
class Ledger:
    """Everything that was typed about the litter, in the test's own words.

    weights: pup -> instant -> grams as stored (hundredths).  left: pup -> when it went.  due_meals and due_doses: when
    something was due, and when nothing of it was outstanding any more (None: never).  written: who wrote down what
    happened when, the scale apart.
    """

    born_at: datetime
    weights: dict[str, dict[datetime, Fraction]] = field(default_factory=dict)
    left: dict[str, datetime] = field(default_factory=dict)
    meals: list[Meal] = field(default_factory=list)
    due_meals: dict[datetime, datetime | None] = field(default_factory=dict)
    climate: dict[datetime, float] = field(default_factory=dict)
    doses: list[datetime] = field(default_factory=list)
    due_doses: dict[datetime, datetime | None] = field(default_factory=dict)
    written: set[tuple[datetime, str]] = field(default_factory=set)

    def weigh(self, band: str, at: datetime, grams: Fraction | int, by: str) -> None:
        """A weight that was written down; the server keeps hundredths of a gram."""
        hundredths = Decimal(Fraction(grams).numerator) / Decimal(Fraction(grams).denominator)
        kept = hundredths.quantize(Decimal("0.01"), ROUND_HALF_UP)
        self.weights.setdefault(band, {})[at] = Fraction(kept)
        if by:
            self.written.add((at, by))

    def last(self, band: str, before: datetime) -> tuple[datetime, Fraction] | None:
        """The newest weight of a pup before an instant."""
        known = [(at, grams) for at, grams in self.weights.get(band, {}).items() if at < before]
        return max(known) if known else None

    def here(self, at: datetime) -> list[str]:
        """Pups that have not left before an instant."""
        return [band for band in BANDS if band not in self.left or self.left[band] >= at]

    def bowl(self, at: datetime) -> Bowl:
        """The ration of a meal for the pups that are here, each by its newest weight."""
        energy_kcal = 0.0
        for band in self.here(at):
            known = self.last(band, at)
            assert known is not None
            mass_kg = float(known[1]) / 1000
            need = 130 * mass_kg**0.75 * 3.2 * (math.exp(-0.87 * mass_kg / ADULT_KG) - 0.1)
            energy_kcal += need * SHARE_FROM_FOOD / MEALS_A_DAY
        dry_g = energy_kcal / KCAL_PER_KG * 1000
        return Bowl(energy_kcal, dry_g, dry_g / DENSITY_G_PER_ML * WATER_PARTS)


def rounded(value: Fraction, places: int) -> Decimal:
    """A figure as PostgreSQL's round(numeric) gives it: half away from zero."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def summary(ledger: Ledger, from_at: datetime, to_at: datetime) -> dict[str, Any]:
    """Counts, weights, gains and food of [from_at, to_at), by plain exact arithmetic."""
    gains: dict[str, Decimal] = {}
    weighed: dict[str, Fraction] = {}
    for band in BANDS:
        now, before = ledger.last(band, to_at), ledger.last(band, from_at)
        if now is None or now[0] < from_at:
            continue
        weighed[band] = now[1]
        if before is not None:
            days = Fraction((now[0] - before[0]) // timedelta(milliseconds=1)) / 86_400_000
            gains[band] = rounded((now[1] - before[1]) / days, 2)
    here = ledger.here(to_at)
    return {
        "counts": {
            "born": len(BANDS),
            "live_born": len(BANDS),
            "stillborn": 0,
            "died": 0,
            "left": len(BANDS) - len(here),
            "resident": len(here),
            "sucking": len(here),
            "hand_fed": 0,
            "weighed": len(weighed),
            "not_weighed": max(0, len(here) - len(weighed)),
        },
        "weight_mean_g": rounded(sum(weighed.values(), Fraction(0)) / len(weighed), 2) if weighed else None,
        "gains": gains,
        "slowest": min(gains, key=lambda band: gains[band]) if gains else None,
        "feeding": _feeding(ledger, from_at, to_at),
        "climate": _climate(ledger.climate, from_at, to_at),
        "health": _health(ledger, from_at, to_at),
        "contributors": sorted({by for at, by in ledger.written if from_at <= at < to_at}),
    }


def _feeding(ledger: Ledger, from_at: datetime, to_at: datetime) -> dict[str, Any]:
    meals = [one for one in ledger.meals if from_at <= one.at < to_at]
    eaten = [
        Fraction(one.dry_g) * (1 - Fraction(one.left_wet_g, one.dry_g + one.water_ml))
        for one in meals
        if one.left_wet_g is not None
    ]
    planned = [_tenth(one.planned.energy_kcal) for one in meals]
    offered = [
        Fraction(one.dry_g) * Fraction(_tenth(one.planned.energy_kcal)) / Fraction(_tenth(one.planned.dry_g))
        for one in meals
    ]
    return {
        "meals": len(meals),
        "offered_dry_g": sum(one.dry_g for one in meals),
        "eaten_dry_g": rounded(sum(eaten, Fraction(0)), 1) if eaten else None,
        "left_wet_g": sum(one.left_wet_g for one in meals if one.left_wet_g is not None) if eaten else None,
        "not_weighed_back": sum(one.left_wet_g is None for one in meals),
        "planned_kcal": sum(planned) if planned else None,
        "offered_kcal": rounded(sum(offered, Fraction(0)), 1) if offered else None,
        **_asked("meals", ledger.due_meals, LATE, from_at, to_at),
        "bottles": 0,
        "bottle_ml": 0,
    }


def _health(ledger: Ledger, from_at: datetime, to_at: datetime) -> dict[str, Any]:
    return {
        "doses": sum(from_at <= at < to_at for at in ledger.doses),
        "doses_not_kept": 0,
        "dam_doses": 0,
        **_asked("doses", ledger.due_doses, LATE_DOSE, from_at, to_at),
        "watches_opened": 0,
        "watches_open": 0,
        "health_events": 0,
    }


def _climate(readings: dict[datetime, float], from_at: datetime, to_at: datetime) -> dict[str, Any]:
    """Minute by minute: the newest reading of the last hour speaks for it; 21 to 24 degrees C in the fifth week."""
    minutes = [from_at + timedelta(minutes=n) for n in range((to_at - from_at) // timedelta(minutes=1))]
    outside = unknown = 0
    for minute in minutes:
        speaks = max((at for at in readings if minute - HOUR < at <= minute), default=None)
        unknown += speaks is None
        outside += speaks is not None and not 21 <= readings[speaks] <= 24
    here = [value for at, value in readings.items() if from_at <= at < to_at]
    return {
        "readings": len(here),
        "surface_min_c": min(here, default=None),
        "surface_max_c": max(here, default=None),
        **dict.fromkeys(("area_min_c", "area_max_c", "humidity_min_pct", "humidity_max_pct")),
        "minutes_outside": outside,
        "minutes_unknown": unknown,
    }


def _asked(
    what: str, asked: dict[datetime, datetime | None], late: timedelta, from_at: datetime, to_at: datetime
) -> dict[str, int]:
    """How many were due then, and what became of them."""
    due = {at: done for at, done in asked.items() if from_at <= at < to_at}
    return {
        f"{what}_due": len(due),
        f"{what}_done": sum(done is not None for done in due.values()),
        f"{what}_late": sum(done is not None and done > at + late for at, done in due.items()),
        f"{what}_missed": sum(done is None for done in due.values()),
    }


def _tenth(value: float) -> Decimal:
    return Decimal(value).quantize(Decimal("0.1"), ROUND_HALF_EVEN)

"""Slips of the pencil at weighing: two pups exchanged, a factor of ten, ounces or pounds noted as grams.

Nothing is ever changed here: where an exchange or a factor makes readings fit that do not fit as written, a
carer is asked.  A reading that no slip explains gives no question: it may be a pup in trouble.  Common
practice, no source; the tolerances are ours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from statistics import median

from litters.domain.growth_measures import positive, published_log_growth
from litters.domain.growth_series import HOURS_PER_DAY, PupRecord, Weighing, instant_s
from litters.domain.units import GRAMS_PER_KILOGRAM, GRAMS_PER_OUNCE, GRAMS_PER_POUND

EXCHANGED, FACTOR_10, UNIT = "exchanged", "factor_10", "unit"

# In log weight: a full stomach, a coarse scale and a pup's own pace stay inside, most exchanges do not.
TOLERANCE = 0.07
TOLERANCE_PER_DAY = 0.03
LONGEST_DAYS = 10.0
BESIDE_LITTERMATES = math.log(2.0)
CLEARER_BY = 4.0
LITTERMATES_AGAINST_PUBLISHED = 3.0
EARLIER_LOOKED_AT = 3
ROUND_HOURS = 3.0

_FACTORS = (
    (FACTOR_10, 10.0, "a digit is missing"),
    (FACTOR_10, 0.1, "a digit too many"),
    (UNIT, GRAMS_PER_OUNCE, "ounces noted as grams"),
    (UNIT, 1.0 / GRAMS_PER_OUNCE, "grams noted as ounces"),
    (UNIT, GRAMS_PER_POUND, "pounds noted as grams"),
    (UNIT, 1.0 / GRAMS_PER_POUND, "grams noted as pounds"),
    (UNIT, GRAMS_PER_KILOGRAM, "kilograms noted as grams"),
    (UNIT, 1.0 / GRAMS_PER_KILOGRAM, "grams noted as kilograms"),
)


@dataclass(frozen=True)
class NewReading:
    """A weight just noted for a pup, with the weights before it; grams, aware times."""

    pup: str
    born_at: datetime
    weighed_at: datetime
    weight_g: float
    earlier: tuple[Weighing, ...] = ()

    def __post_init__(self) -> None:
        positive("weight_g", self.weight_g)
        if instant_s(self.weighed_at) < instant_s(self.born_at):
            raise ValueError("the reading lies before the birth")


@dataclass(frozen=True)
class SlipQuestion:
    """A question to whoever weighed: kind, pups, words, and what would fit.

    kind: exchanged, factor_10 or unit.  would_fit: (pup, grams) pairs; never to be stored without an answer.
    """

    kind: str
    pups: tuple[str, ...]
    words: str
    would_fit: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class _Expectation:
    """The log weight expected of a pup now, and how far off still fits; both None when nothing is known."""

    log_g: float
    tolerance: float

    def misfit(self, weight_g: float) -> float:
        """How many tolerances a weight lies off."""
        return abs(math.log(weight_g) - self.log_g) / self.tolerance


def readings_of_round(pups: Sequence[PupRecord], at: datetime) -> tuple[NewReading, ...]:
    """The readings within three hours of the litter's newest, one per pup, with the ones before."""
    known = {
        pup.pup: sorted(
            (w for w in pup.weighings if w.weighed_at <= at), key=lambda w: instant_s(w.weighed_at)
        )
        for pup in pups
    }
    newest_s = max((instant_s(found[-1].weighed_at) for found in known.values() if found), default=0.0)
    return tuple(
        NewReading(pup.pup, pup.born_at, found[-1].weighed_at, found[-1].weight_g, tuple(found[:-1]))
        for pup in pups
        if (found := known[pup.pup])
        and newest_s - instant_s(found[-1].weighed_at) <= ROUND_HOURS * 3600.0
        and found[-1].weighed_at >= pup.born_at
    )


def slip_finder(readings: Sequence[NewReading]) -> tuple[SlipQuestion, ...]:
    """Questions about the readings of one round; empty when all fit or no slip explains what does not.

    readings: the pups of one litter weighed together, at most one each.  ValueError for a pup given twice.
    """
    if len({reading.pup for reading in readings}) < len(readings):
        raise ValueError("one reading per pup in a round")
    expected = _expectations(readings)
    questions = _factor_questions(readings, expected)
    asked = {pup for question in questions for pup in question.pups}
    questions += _exchange_questions([r for r in readings if r.pup not in asked], expected)
    return tuple(questions)


def _expectations(readings: Sequence[NewReading]) -> dict[str, _Expectation]:
    """What each reading should be about: from the pup's own last weights, else from its littermates'."""
    own = {reading.pup: found for reading in readings if (found := _from_own_weights(reading)) is not None}
    moves = [
        math.log(reading.weight_g) - own[reading.pup].log_g
        for reading in readings
        if reading.pup in own and own[reading.pup].misfit(reading.weight_g) < 4.0
    ]
    weight = len(moves) / (len(moves) + LITTERMATES_AGAINST_PUBLISHED)
    shift = weight * median(moves) if moves else 0.0
    expected = {pup: _Expectation(found.log_g + shift, found.tolerance) for pup, found in own.items()}
    for reading in readings:
        others = [math.log(other.weight_g) for other in readings if other.pup != reading.pup]
        if reading.pup not in own and len(others) >= 2:
            expected[reading.pup] = _Expectation(median(others), BESIDE_LITTERMATES)
    return expected


def _from_own_weights(reading: NewReading) -> _Expectation | None:
    """The median of what the last three weights lead to at the published pace; None when they are too old."""
    now_h = _age_h(reading.born_at, reading.weighed_at)
    guesses = []
    for weighing in sorted(reading.earlier, key=lambda found: instant_s(found.weighed_at))[
        -EARLIER_LOOKED_AT:
    ]:
        then_h = _age_h(reading.born_at, weighing.weighed_at)
        days = (now_h - then_h) / HOURS_PER_DAY
        if 0.0 <= days <= LONGEST_DAYS:
            pace = published_log_growth(now_h) - published_log_growth(then_h)
            guesses.append((math.log(weighing.weight_g) + pace, TOLERANCE + TOLERANCE_PER_DAY * days))
    if not guesses:
        return None
    return _Expectation(median(log_g for log_g, _ in guesses), guesses[-1][1])


def _age_h(born_at: datetime, moment: datetime) -> float:
    return max(0.0, (instant_s(moment) - instant_s(born_at)) / 3600.0)


def _factor_questions(
    readings: Sequence[NewReading], expected: dict[str, _Expectation]
) -> list[SlipQuestion]:
    """Readings that fit once a factor of ten or a unit is put right; the best factor is asked about."""
    questions = []
    for reading in readings:
        known = expected.get(reading.pup)
        if known is None or known.misfit(reading.weight_g) <= 1.0:
            continue
        misfit, kind, factor, slip = min(
            (known.misfit(reading.weight_g * factor), kind, factor, slip) for kind, factor, slip in _FACTORS
        )
        if misfit > 1.0:
            continue
        meant_g = reading.weight_g * factor
        words = f"{reading.pup}: {reading.weight_g:g} g noted; was {meant_g:.4g} g meant ({slip})?"
        questions.append(SlipQuestion(kind, (reading.pup,), words, ((reading.pup, meant_g),)))
    return questions


def _exchange_questions(
    readings: Sequence[NewReading], expected: dict[str, _Expectation]
) -> list[SlipQuestion]:
    """Pairs of which a reading does not fit, and both do once exchanged; each pup once."""
    found = []
    for one, other in combinations([r for r in readings if r.pup in expected and r.earlier], 2):
        as_noted = (expected[one.pup].misfit(one.weight_g), expected[other.pup].misfit(other.weight_g))
        exchanged = (expected[one.pup].misfit(other.weight_g), expected[other.pup].misfit(one.weight_g))
        before, after = sum(m * m for m in as_noted), sum(m * m for m in exchanged)
        if max(as_noted) > 1.0 and max(exchanged) <= 1.0 and before >= CLEARER_BY * after:
            found.append((before - after, one, other))
    questions: list[SlipQuestion] = []
    asked: set[str] = set()
    for _, one, other in sorted(found, key=lambda pair: -pair[0]):
        if asked & {one.pup, other.pup}:
            continue
        asked |= {one.pup, other.pup}
        words = (
            f"Were {one.pup} ({one.weight_g:g} g) and {other.pup} ({other.weight_g:g} g) exchanged? "
            "Both would fit their curves the other way round."
        )
        fit = ((one.pup, other.weight_g), (other.pup, one.weight_g))
        questions.append(SlipQuestion(EXCHANGED, (one.pup, other.pup), words, fit))
    return questions

"""Puts one slip into clean rounds and counts which the slip finder asks about, and its needless questions."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace

from litters.domain.growth_series import PupRecord
from litters.domain.slips import EXCHANGED, NewReading, readings_of_round, slip_finder
from litters.domain.units import GRAMS_PER_OUNCE, GRAMS_PER_POUND
from tests.evaluation.replay import instant, pup_records
from tests.evaluation.simulator import simulate_litters
from tests.evaluation.world import World

CLEAN = {"swapped_per_round": 0.0, "mistyped_per_weight": 0.0}
DIFFERENT = 1.15
FACTORS = {
    "a factor of ten": (10.0, 0.1),
    "ounces or pounds for grams": (1.0 / GRAMS_PER_OUNCE, 1.0 / GRAMS_PER_POUND),
}


def slip_trial(world: World, seeds: Sequence[int], litters: int) -> Iterator[str]:
    """Lines of the report: needless questions per litter-week, and shares of slips asked about."""
    draw = random.Random(f"slips-{seeds}")
    needless = weeks = 0.0
    asked: dict[str, list[bool]] = {}
    for seed in seeds:
        for litter in simulate_litters(world.shifted(CLEAN), seed, litters):
            records = pup_records(litter)
            weeks += (litter.rounds_h[-1] if litter.rounds_h else 0.0) / 168.0
            for at_h in litter.rounds_h:
                readings = readings_of_round(_weighed(records, at_h), instant(at_h + 0.01))
                needless += len(slip_finder(readings))
            if litter.rounds_h:
                at_h = draw.choice(litter.rounds_h)
                readings = readings_of_round(_weighed(records, at_h), instant(at_h + 0.01))
                for kind, slipped, pups in _slips(readings, draw):
                    found = any(set(question.pups) == pups for question in slip_finder(slipped))
                    asked.setdefault(kind, []).append(found)
    yield f"{needless / max(weeks, 1e-9):.3f} needless questions per litter-week without any slip"
    for kind, results in asked.items():
        yield f"{kind}: asked about in {100 * sum(results) / len(results):.0f} % of {len(results)}"


def _weighed(records: Sequence[PupRecord], at_h: float) -> list[PupRecord]:
    """The pups weighed in that round, with what was known by then."""
    at = instant(at_h + 0.01)
    return [
        record
        for record in records
        if any(0 <= (at - weighing.weighed_at).total_seconds() < 60 for weighing in record.weighings)
    ]


def _slips(
    readings: Sequence[NewReading], draw: random.Random
) -> Iterator[tuple[str, list[NewReading], set[str]]]:
    """The round with one slip in it: kind, readings, pups concerned."""
    known = [reading for reading in readings if reading.earlier]
    if len(known) < 2:
        return
    one, other = draw.sample(known, 2)
    ratio = max(one.weight_g, other.weight_g) / min(one.weight_g, other.weight_g)
    kind = f"{EXCHANGED}, weights {'15 % or more' if ratio >= DIFFERENT else 'less than 15 %'} apart"
    swapped = {one.pup: other.weight_g, other.pup: one.weight_g}
    yield kind, _with_weights(readings, swapped), {one.pup, other.pup}
    for name, factors in FACTORS.items():
        yield name, _with_weights(readings, {one.pup: one.weight_g * draw.choice(factors)}), {one.pup}


def _with_weights(readings: Sequence[NewReading], weights_g: dict[str, float]) -> list[NewReading]:
    return [replace(reading, weight_g=weights_g.get(reading.pup, reading.weight_g)) for reading in readings]

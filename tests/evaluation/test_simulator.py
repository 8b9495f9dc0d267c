"""The simulated litters keep to the published figures they are anchored on (sources in the simulator)."""

from __future__ import annotations

import math
import statistics
from dataclasses import fields

import pytest

from tests.evaluation.simulator import SimulatedLitter, SimulatedPup, simulate_litters
from tests.evaluation.world import World


@pytest.fixture(scope="module")
def litters() -> list[SimulatedLitter]:
    return simulate_litters(World(), seed=20, litters=1200)


@pytest.fixture(scope="module")
def pups(litters: list[SimulatedLitter]) -> list[SimulatedPup]:
    return [pup for litter in litters for pup in litter.pups]


def test_the_same_seed_gives_the_same_litters_and_another_seed_does_not() -> None:
    assert simulate_litters(World(), 5, 4) == simulate_litters(World(), 5, 4)
    assert simulate_litters(World(), 5, 4) != simulate_litters(World(), 6, 4)


def test_a_longer_run_begins_with_the_litters_of_a_shorter_one() -> None:
    assert simulate_litters(World(), 5, 6)[:4] == simulate_litters(World(), 5, 4)


# Mugnier et al. 2020, BMC Vet Res 16, table 2: mortality to day 21 and share of pups by birth-weight class.
# The band of the rate is about three standard errors of that many simulated pups.
@pytest.mark.parametrize(
    ("weight_class", "share", "mortality", "band"),
    [("normal", 0.487, 0.042, 0.010), ("low", 0.479, 0.088, 0.014), ("very low", 0.034, 0.553, 0.11)],
)
def test_mortality_by_birth_weight_class_is_the_published_one(
    pups: list[SimulatedPup], weight_class: str, share: float, mortality: float, band: float
) -> None:
    members = [pup for pup in pups if pup.weight_class == weight_class]
    assert len(members) / len(pups) == pytest.approx(share, abs=0.03)
    assert sum(pup.fails for pup in members) / len(members) == pytest.approx(mortality, abs=band)


# Mila et al. 2015 (summary): 81.1 % of the pups dying in days 0 to 2 were of low birth weight.
def test_four_of_five_early_deaths_are_low_birth_weight_pups(pups: list[SimulatedPup]) -> None:
    early = [pup for pup in pups if pup.died_h is not None and pup.died_h - pup.born_h <= 48]
    share = sum(pup.weight_class != "normal" for pup in early) / len(early)
    assert share == pytest.approx(0.811, abs=0.07)


def _gain_pct_per_day(pup: SimulatedPup, from_h: float, to_h: float) -> float | None:
    """Average gain between the readings nearest two ages, % of the day before."""
    early = min(pup.readings, key=lambda reading: abs(reading.at_h - pup.born_h - from_h))
    late = min(pup.readings, key=lambda reading: abs(reading.at_h - pup.born_h - to_h))
    hours = late.at_h - early.at_h
    if hours < 72:
        return None
    return 100 * (math.exp(math.log(late.weight_g / early.weight_g) * 24 / hours) - 1)


# Small Animal Clinical Nutrition 5th ed., table 16-1: 8 % a day in week 1, 5 % in weeks 2 to 4.
@pytest.mark.parametrize(
    ("from_h", "to_h", "middle", "lower", "upper"), [(24, 168, 8.0, 5.0, 10.0), (168, 456, 5.0, 3.5, 6.0)]
)
def test_thriving_pups_gain_within_the_published_range(
    pups: list[SimulatedPup], from_h: float, to_h: float, middle: float, lower: float, upper: float
) -> None:
    gains = [
        gain
        for pup in pups
        if pup.cause == "thrives" and (gain := _gain_pct_per_day(pup, from_h, to_h)) is not None
    ]
    assert statistics.median(gains) == pytest.approx(middle, abs=0.8)
    assert sum(lower <= gain <= upper for gain in gains) / len(gains) > 0.65


# SACN: doubled by 8 to 10 days; Dog Owner's Home Veterinary Handbook: 10 to 12 days.
def test_thriving_pups_double_their_birth_weight_at_the_published_age(pups: list[SimulatedPup]) -> None:
    days = []
    for pup in pups:
        if pup.cause == "thrives":
            doubled = [r.at_h - pup.born_h for r in pup.readings if r.weight_g >= 2 * pup.birth_g]
            days.append(doubled[0] / 24 if doubled else 22.0)
    assert 8 <= statistics.median(days) <= 12


def test_nothing_is_weighed_after_a_death_and_every_reading_is_in_order(pups: list[SimulatedPup]) -> None:
    for pup in pups:
        hours = [reading.at_h for reading in pup.readings]
        assert hours == sorted(hours)
        assert all(reading.weight_g > 0 for reading in pup.readings)
        if pup.died_h is not None:
            assert hours[-1] < pup.died_h


@pytest.mark.parametrize("name", [field.name for field in fields(World)])
def test_every_number_can_be_shifted(name: str) -> None:
    shifted = World().shifted({name: 1.5})
    assert getattr(shifted, name) == pytest.approx(1.5 * getattr(World(), name))
    assert simulate_litters(shifted, 1, 2)


@pytest.mark.parametrize("factors", [{"nonsense": 2.0}, {"fill_noise": -1.0}, {"fill_noise": float("nan")}])
def test_an_unknown_name_or_an_impossible_factor_is_refused(factors: dict[str, float]) -> None:
    with pytest.raises(ValueError):
        World().shifted(factors)

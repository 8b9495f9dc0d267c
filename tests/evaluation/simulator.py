"""Seeded litters to try early-warning rules on: birth, growth, trouble, and what a carer's scale shows of it.

The simulator knows nothing of the rules.  It was written and committed before any detector of ours and is not
changed for one; what it assumes is listed here, and `World.shifted` (in `world.py` beside this file) lets
anybody assume something else.

Anchors read in published text
* breed means, spreads, litter sizes and the two birth-weight limits per breed: Mugnier et al. 2020,
  BMC Vet Res 16, doi 10.1186/s12917-020-02577-z, tables 1 and 2 (4971 pups, 784 litters, 10 breeds);
* deaths within 21 days by class: normal 4.2 %, low 8.8 %, very low 55.3 % (same paper);
* 81 % of the deaths of days 0 to 2 were low-birth-weight pups, and growth of -4 % or worse by day 2 goes with
  death between day 2 and 21 (Mila et al. 2015, J Anim Sci 93:4436-4442, summary);
* low-birth-weight pups grow less in the first days and catch up later (Mugnier et al. 2023, Animals 13:1928,
  abstract);
* healthy gain 8 % a day in week 1 (5 to 10), 5 % in weeks 2 to 4 (3.5 to 6), doubled at 8 to 12 days
  (Small Animal Clinical Nutrition 5th ed., table 16-1; Dog Owner's Home Veterinary Handbook, ch. 17);
* weighed at birth, at 12 h, daily to day 14, then every third day (same handbook);
* scale step 1 g for toys, 5 g otherwise (common practice, no source).

Assumed, no source: the split of growth between litter, pup and day, how a failing pup's gain falls, how often
a healthy pup has a bad day, how often a round is missed and how often a number is written down wrong.

Ages and times are hours after the first pup of the litter is born; weights are grams.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from itertools import pairwise

from tests.evaluation.world import BREEDS, Breed, World

STEP_H = 3.0
LAST_HOUR = 21 * 24.0
OUNCE_G = 28.349523125


@dataclass(frozen=True)
class SeenWeight:
    """What was written down: litter hour, grams, and whether it was dried and before the first suck."""

    at_h: float
    weight_g: float
    is_birth_weight: bool


@dataclass(frozen=True)
class SimulatedPup:
    """A pup with its true story and the readings a carer has of it.

    cause: "thrives", "setback" (a bad spell it survives), or for pups that die without help "early",
    "colostrum", "fade", "slow", "sudden".  trouble_h: from when the story runs differently (None = never).
    died_h: None for a pup alive at day 21.
    """

    name: str
    born_h: float
    birth_g: float
    weight_class: str
    cause: str
    trouble_h: float | None
    died_h: float | None
    readings: tuple[SeenWeight, ...]

    @property
    def fails(self) -> bool:
        """Whether the pup dies before day 21 when nobody helps."""
        return self.died_h is not None


@dataclass(frozen=True)
class SimulatedLitter:
    """A litter: its breed, pups, rounds and whether the dam's milk failed for a while (litter hours)."""

    breed: Breed
    pups: tuple[SimulatedPup, ...]
    rounds_h: tuple[float, ...]
    milk_failure_h: tuple[float, float] | None


@dataclass(frozen=True)
class _Story:
    """How a pup's daily log-gain departs from healthy: multiplier and offset as functions of its age."""

    cause: str
    trouble_h: float | None = None
    died_h: float | None = None
    factor: float = 1.0
    loss_per_day: float = 0.0
    first_days_gain: float | None = None
    spells: tuple[tuple[float, float, float], ...] = ()


def simulate_litters(world: World, seed: int, litters: int) -> list[SimulatedLitter]:
    """That many litters; the same world, seed and number always give the same litters."""
    draw = random.Random(f"litters-{seed}")
    return [_litter(world, draw) for _ in range(litters)]


def _litter(world: World, draw: random.Random) -> SimulatedLitter:
    breed = draw.choices(BREEDS, weights=[breed.pups / breed.litter_size for breed in BREEDS])[0]
    size = max(1, min(14, round(draw.gauss(breed.litter_size, breed.litter_size_sd))))
    within_sd = world.within_litter_cv * breed.mean_g
    between_sd = math.sqrt(max(0.0, breed.sd_g**2 - within_sd**2))
    litter_mean = max(0.5 * breed.mean_g, draw.gauss(breed.mean_g, between_sd))
    births = sorted([0.0, *(draw.uniform(0.0, 6.0) for _ in range(size - 1))])
    rounds = _rounds(world, draw)
    failure = None
    if draw.random() < world.milk_failure_share:
        start = draw.uniform(24.0, 240.0)
        failure = (start, start + draw.uniform(48.0, 96.0))
    dips = [
        (hour, hour + draw.uniform(24.0, 48.0), 0.3)
        for hour in (day * 24.0 for day in range(1, 21))
        if draw.random() < world.litter_dip_per_day
    ]
    if failure is not None:
        dips.append((*failure, 0.35))
    steps = int(LAST_HOUR / STEP_H) + 4
    litter_noise = [draw.gauss(0.0, world.litter_day_sd) for _ in range(steps // 8 + 1)]
    litter_factor = math.exp(draw.gauss(0.0, world.litter_gain_spread))
    pups = []
    for number, born_h in enumerate(births):
        birth_g = max(0.4 * breed.mean_g, draw.gauss(litter_mean, within_sd))
        pups.append(
            _pup(
                world,
                draw,
                breed,
                f"pup {number + 1}",
                born_h,
                birth_g,
                rounds,
                dips,
                litter_noise,
                litter_factor,
            )
        )
    return SimulatedLitter(breed, tuple(_with_swaps(world, draw, pups, rounds)), rounds, failure)


def _rounds(world: World, draw: random.Random) -> tuple[float, ...]:
    """Litter hours of the weighing rounds: after 12 h, daily, from day 14 every third day."""
    planned = [18.0, *(30.0 + 24.0 * day for day in range(14)), *(30.0 + 24.0 * day for day in (16, 19))]
    return tuple(
        max(13.0, hour + draw.gauss(0.0, world.round_jitter_h))
        for hour in planned
        if draw.random() >= world.missed_round
    )


def _weight_class(breed: Breed, birth_g: float) -> str:
    if birth_g < breed.very_low_below_g:
        return "very low"
    return "low" if birth_g < breed.low_below_g else "normal"


def _story(world: World, draw: random.Random, weight_class: str) -> _Story:
    """Draw what becomes of a pup of that birth-weight class."""
    key = weight_class.replace(" ", "_")
    if draw.random() < getattr(world, f"death_{key}"):
        if draw.random() < getattr(world, f"early_share_{key}"):
            loss = draw.gauss(world.early_loss_per_day, world.early_loss_sd)
            return _Story("early", 0.0, draw.uniform(10.0, 48.0), factor=0.0, loss_per_day=loss)
        return _late_story(world, draw)
    spells = []
    for day in range(1, 21):
        if draw.random() < world.setback_per_pup_day:
            start = day * 24.0 + draw.uniform(0.0, 24.0)
            spells.append((start, start + draw.uniform(12.0, 36.0), draw.uniform(-0.2, 0.4)))
    if spells:
        return _Story("setback", spells[0][0], spells=tuple(spells))
    return _Story("thrives")


def _late_story(world: World, draw: random.Random) -> _Story:
    """Draw a death between day 2 and 21: poor start, fading, slow starving, or no warning at all."""
    loss = draw.gauss(world.last_loss_per_day, world.last_loss_sd)
    kind = draw.choices(
        ("colostrum", "fade", "slow", "sudden"),
        weights=(
            world.colostrum_share,
            world.fade_share,
            world.slow_share,
            max(0.0, 1.0 - world.colostrum_share - world.fade_share - world.slow_share),
        ),
    )[0]
    if kind == "colostrum":
        died_h = min(LAST_HOUR - 1, 48.0 + 24.0 * draw.lognormvariate(math.log(4.0), 0.7))
        first = draw.gauss(-0.05, 0.03)
        return _Story(kind, 0.0, died_h, draw.uniform(0.1, 0.5), loss, first_days_gain=first)
    if kind == "fade":
        trouble_h = draw.uniform(36.0, 17 * 24.0)
        length = draw.lognormvariate(math.log(max(1.0, world.fade_hours)), world.fade_hours_spread)
        return _Story(kind, trouble_h, min(LAST_HOUR - 1, trouble_h + length), 1.0, loss)
    if kind == "slow":
        return _Story(kind, 24.0, draw.uniform(6 * 24.0, 18 * 24.0), draw.uniform(0.2, 0.5), loss)
    died_h = draw.uniform(48.0, 20 * 24.0)
    return _Story("sudden", died_h, died_h)


def _healthy_gain(world: World, age_h: float) -> float:
    """Log-gain per day of a healthy pup after its first day; straight lines between the anchors."""
    day = age_h / 24.0
    anchors = (
        (1.0, world.gain_day_1),
        (7.0, world.gain_day_7),
        (14.0, world.gain_day_14),
        (21.0, world.gain_day_21),
    )
    for (day_a, gain_a), (day_b, gain_b) in pairwise(anchors):
        if day <= day_b:
            return gain_a + (gain_b - gain_a) * max(0.0, day - day_a) / (day_b - day_a)
    return anchors[-1][1]


def _gain_per_day(world: World, story: _Story, age_h: float, healthy: float) -> float:
    """Log-gain per day at that age: the healthy figure bent by the pup's story."""
    if story.cause == "early":
        return -story.loss_per_day
    if story.cause == "fade" and story.trouble_h is not None and story.died_h is not None:
        if age_h < story.trouble_h:
            return healthy
        done = (age_h - story.trouble_h) / max(1.0, story.died_h - story.trouble_h)
        return healthy + (-story.loss_per_day - healthy) * min(1.0, done)
    if story.cause in ("colostrum", "slow") and story.died_h is not None:
        if age_h >= story.died_h - world.final_decline_hours:
            return -story.loss_per_day
        if story.first_days_gain is not None and age_h < 48.0:
            return story.first_days_gain / 2.0
        if story.trouble_h is not None and age_h >= story.trouble_h:
            return healthy * story.factor
        return healthy
    for start, end, factor in story.spells:
        if start <= age_h < end:
            return healthy * factor
        if end <= age_h < end + 48.0:
            return healthy * 1.2
    return healthy


def _pup(
    world: World,
    draw: random.Random,
    breed: Breed,
    name: str,
    born_h: float,
    birth_g: float,
    rounds: tuple[float, ...],
    dips: list[tuple[float, float, float]],
    litter_noise: list[float],
    litter_factor: float,
) -> SimulatedPup:
    """Grow one pup in steps of three hours and write down what the scale shows at each round."""
    weight_class = _weight_class(breed, birth_g)
    story = _story(world, draw, weight_class)
    pup_factor = math.exp(draw.gauss(0.0, world.pup_gain_spread))
    first_day = draw.gauss(world.first_day_gain, world.first_day_gain_sd)
    drag = world.low_weight_drag if weight_class != "normal" else 0.0
    log_weights = [math.log(birth_g)]
    noise = 0.0
    for step in range(int(LAST_HOUR / STEP_H)):
        age_h = step * STEP_H
        if step % 8 == 0:
            noise = draw.gauss(0.0, world.pup_day_sd)
        if age_h < 24.0:
            healthy = first_day - drag
        else:
            healthy = _healthy_gain(world, age_h) * litter_factor * pup_factor
            healthy += drag * (-1.0 if age_h < 48.0 else 0.15)
            healthy += noise + litter_noise[int((age_h + born_h) // 24.0)]
            for start, end, factor in dips:
                if start <= age_h + born_h < end:
                    healthy *= factor
        log_weights.append(log_weights[-1] + _gain_per_day(world, story, age_h, healthy) * STEP_H / 24.0)
    step_g = world.scale_step_small_g if breed.mean_g < 250.0 else world.scale_step_large_g
    is_late = draw.random() < world.late_first_weight
    first_h = draw.uniform(1.0, 6.0) if is_late else 0.0
    readings = []
    for age_h, is_birth in [(first_h, not is_late), *((hour - born_h, False) for hour in rounds)]:
        missed = draw.random() < world.missed_pup and age_h != first_h
        fill = draw.gauss(0.0, world.fill_noise)
        mistyped = draw.random() < world.mistyped_per_weight
        wrong_by = draw.choice((10.0, 0.1, 1.0 / OUNCE_G))
        alive = story.died_h is None or age_h < story.died_h
        if missed or not alive or not 0.0 <= age_h <= LAST_HOUR:
            continue
        # an empty newborn weighs what it weighs; later stomach and bladder add or take a little
        seen_g = _true_weight_g(log_weights, age_h) * math.exp(0.0 if is_birth else fill)
        seen_g = max(step_g, round(seen_g / step_g) * step_g)
        readings.append(SeenWeight(age_h + born_h, seen_g * wrong_by if mistyped else seen_g, is_birth))
    trouble = None if story.trouble_h is None else story.trouble_h + born_h
    died = None if story.died_h is None else story.died_h + born_h
    return SimulatedPup(name, born_h, birth_g, weight_class, story.cause, trouble, died, tuple(readings))


def _true_weight_g(log_weights: list[float], age_h: float) -> float:
    position = min(age_h / STEP_H, len(log_weights) - 1.001)
    index = int(position)
    share = position - index
    return math.exp(log_weights[index] * (1.0 - share) + log_weights[index + 1] * share)


def _with_swaps(
    world: World, draw: random.Random, pups: list[SimulatedPup], rounds: tuple[float, ...]
) -> list[SimulatedPup]:
    """Exchange two pups' numbers in a few rounds, as tired people do."""
    for hour in rounds:
        if draw.random() >= world.swapped_per_round or len(pups) < 2:
            continue
        one, other = draw.sample(range(len(pups)), 2)
        found = [
            next((n for n, reading in enumerate(pups[pup].readings) if abs(reading.at_h - hour) < 1e-6), None)
            for pup in (one, other)
        ]
        if found[0] is None or found[1] is None:
            continue
        first, second = list(pups[one].readings), list(pups[other].readings)
        first_g, second_g = first[found[0]].weight_g, second[found[1]].weight_g
        first[found[0]] = replace(first[found[0]], weight_g=second_g)
        second[found[1]] = replace(second[found[1]], weight_g=first_g)
        pups[one] = replace(pups[one], readings=tuple(first))
        pups[other] = replace(pups[other], readings=tuple(second))
    return pups

"""The energy need of single pups by the method a kennel chose, and the weights it stands on.

A weight that is old is used and said to be old; a missing one leaves the pup out unless the littermates' mean
was asked for by name.  Nothing is ever filled in silently.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from feeding.domain import energy

STALE_AFTER_DAYS = 3.0


class PupMethod(StrEnum):
    """Published ways to the need of a pup."""

    GROWTH_NRC = "growth_nrc"
    GROWTH_KLEIN = "growth_klein"
    GROWTH_FEDIAF_STEP = "growth_fediaf_step"
    NEWBORN = "newborn"


class MissingWeight(StrEnum):
    """What to do with a pup nobody has weighed."""

    LEAVE_OUT = "leave_out"
    LITTERMATES_MEAN = "littermates_mean"


@dataclass(frozen=True)
class PupToFeed:
    """A pup at the bowl: completed days of age, last weight in g and its instant, expected adult mass."""

    name: str
    age_days: int
    weight_g: float | None
    weighed_at: datetime | None
    expected_adult_kg: float | None = None


@dataclass(frozen=True)
class WeightUsed:
    """The weight a need stands on: grams, its age in days, whether it is stale or assumed."""

    weight_g: float
    age_days: float | None
    is_stale: bool
    is_assumed: bool


@dataclass(frozen=True)
class PupNeed:
    """A pup's need with the weight it stands on."""

    pup: PupToFeed
    weight: WeightUsed
    need: energy.EnergyNeed


@dataclass(frozen=True)
class LeftOut:
    """A pup that could not be reckoned, and why."""

    name: str
    reason: str


_GROWTH: dict[PupMethod, Callable[[float, float], energy.EnergyNeed]] = {
    PupMethod.GROWTH_NRC: energy.growth_nrc,
    PupMethod.GROWTH_KLEIN: energy.growth_klein,
    PupMethod.GROWTH_FEDIAF_STEP: energy.growth_fediaf_step,
}


def need_of_pup(weight_g: float, method: PupMethod, expected_adult_kg: float | None) -> energy.EnergyNeed:
    """Need of a pup of `weight_g` grams; growth methods raise ValueError without an expected adult mass."""
    if method is PupMethod.NEWBORN:
        return energy.newborn(weight_g)
    if expected_adult_kg is None:
        raise ValueError(f"no expected adult weight, which {method} needs")
    return _GROWTH[method](weight_g / 1000, expected_adult_kg)


def needs_of_litter(
    pups: Sequence[PupToFeed],
    method: PupMethod,
    at: datetime,
    stale_after_days: float = STALE_AFTER_DAYS,
    missing: MissingWeight = MissingWeight.LEAVE_OUT,
) -> tuple[list[PupNeed], list[LeftOut]]:
    """The needs of all pups that can be reckoned at an instant, and the others with the reason.

    ValueError for no pup at all or two of one name.
    """
    names = [pup.name for pup in pups]
    if not names:
        raise ValueError("a ration needs at least one pup")
    if len(set(names)) < len(names):
        raise ValueError("two pups bear one name")
    mean_g = _mean_weight_g(pups) if missing is MissingWeight.LITTERMATES_MEAN else None
    needs, left_out = [], []
    for pup in pups:
        weight = _weight_used(pup, at, stale_after_days, mean_g)
        if weight is None:
            left_out.append(LeftOut(pup.name, "no weight"))
            continue
        try:
            need = need_of_pup(weight.weight_g, method, pup.expected_adult_kg)
        except ValueError as error:
            left_out.append(LeftOut(pup.name, str(error)))
        else:
            needs.append(PupNeed(pup, weight, need))
    return needs, left_out


def weight_cautions(needs: Sequence[PupNeed], left_out: Sequence[LeftOut]) -> tuple[str, ...]:
    """Sentences on every weight that is old, assumed or missing."""
    cautions = [f"{one.name} is left out of the amounts: {one.reason}." for one in left_out]
    for one in needs:
        if one.weight.is_assumed:
            cautions.append(
                f"{one.pup.name} was not weighed: {one.weight.weight_g:.0f} g, the litter's mean, assumed."
            )
        elif one.weight.age_days is None:
            cautions.append(f"Nobody knows when {one.pup.name} was weighed: weigh again.")
        elif one.weight.is_stale:
            cautions.append(
                f"The weight of {one.pup.name} is {one.weight.age_days:.1f} days old: weigh again."
            )
    return tuple(cautions)


def _weight_used(
    pup: PupToFeed, at: datetime, stale_after_days: float, mean_g: float | None
) -> WeightUsed | None:
    if pup.weight_g is None:
        return None if mean_g is None else WeightUsed(mean_g, None, is_stale=False, is_assumed=True)
    if pup.weighed_at is None:
        return WeightUsed(pup.weight_g, None, is_stale=True, is_assumed=False)
    age_days = (at - pup.weighed_at) / timedelta(days=1)
    return WeightUsed(pup.weight_g, age_days, age_days > stale_after_days, is_assumed=False)


def _mean_weight_g(pups: Sequence[PupToFeed]) -> float | None:
    weights = [pup.weight_g for pup in pups if pup.weight_g is not None]
    return sum(weights) / len(weights) if weights else None

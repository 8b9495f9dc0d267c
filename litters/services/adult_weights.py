"""What a pup may weigh when grown, by every model that can say something: always as a range."""

from dataclasses import dataclass
from datetime import datetime

from litters import selectors_litters
from litters.domain.growth import (
    AdultWeightRange,
    adult_weight_from_one_weighing,
    adult_weight_from_parents,
    adult_weight_ranges,
)
from litters.selectors_litters import LitterHead, Measured


@dataclass(frozen=True, slots=True)
class AdultWeights:
    """Ranges by model, the weights they stand on, and why a model says nothing."""

    ranges: tuple[AdultWeightRange, ...]
    weights: tuple[Measured, ...]
    silent: tuple[str, ...]


def adult_weights(
    pup_id: int, born_at: datetime, sex: str, size: str, head: LitterHead, kennel_id: int, at: datetime
) -> AdultWeights:
    """Ranges from the parents, from curves through the pup's weights, and from the newest weight.

    size: "small", "medium" or "large" for the published ages of growth; empty leaves that model out.
    One query; inside an open door.
    """
    weights = selectors_litters.weights_of_pups([pup_id], kennel_id, at)
    points = selectors_litters.ages_and_kg(weights, born_at)
    found: list[AdultWeightRange] = []
    silent: list[str] = []
    if head.dam_kg is None:
        silent.append("parents: the dam's usual weight is not on record")
    elif sex not in ("female", "male"):
        silent.append("parents: the pup's sex is not on record")
    else:
        found.append(adult_weight_from_parents(head.dam_kg, head.sire_kg, sex))
    curves = adult_weight_ranges(points)
    found += curves
    if not curves:
        silent.append("curves: too few weights, or too early, for a curve through the pup's own weights")
    if not size:
        silent.append("one weighing: the size class (small, medium, large) was not asked for")
    elif points and points[-1][0] > 0:
        try:
            found.append(adult_weight_from_one_weighing(*points[-1], size))
        except ValueError as error:
            silent.append(f"one weighing: {error}")
    else:
        silent.append("one weighing: the pup was not weighed yet")
    return AdultWeights(tuple(found), tuple(weights), tuple(silent))

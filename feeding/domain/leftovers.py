"""What came back over the last meals, and how far the next offer is corrected by it.

Leftovers are weighed as they are, wet; what was eaten is reckoned on the dry food.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from feeding.domain.gruel import eaten
from feeding.domain.ranges import above_zero, finite

MEALS_LOOKED_AT = 6
LEAST_MEALS = 2
MARGIN = 1.1
LEAST_FACTOR = 0.25
MUCH_LEFT_SHARE = 0.5
METHOD = (
    f"offer {MARGIN - 1:.0%} more than was eaten over the last meals, never more than planned"
    " (common practice, no source)"
)


@dataclass(frozen=True)
class MealOutcome:
    """One past bowl: dry food planned and offered, the mix offered and what of it came back, all in g."""

    planned_dry_g: float
    offered_dry_g: float
    offered_mix_g: float
    left_mix_g: float


@dataclass(frozen=True)
class Correction:
    """Factor on the planned food, 0.25..1, with the share of the plan eaten and what to say about it."""

    factor: float
    eaten_share_of_plan: float | None
    meals_counted: int
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def correction(meals: Sequence[MealOutcome]) -> Correction:
    """The correction from past meals, oldest first; the last six count, fewer than two correct nothing.

    Measured against the plan, not against the offer, so a small offer that was emptied raises the next one.
    ValueError for leftovers larger than the mix.
    """
    counted = meals[-MEALS_LOOKED_AT:]
    if len(counted) < LEAST_MEALS:
        return Correction(
            1.0, None, len(counted), ("Too few meals with leftovers weighed: the plan is uncorrected.",), ()
        )
    planned_g = sum(above_zero("planned dry food in g", meal.planned_dry_g) for meal in counted)
    # The energy of the food cancels out of the share, so any density serves.
    eaten_g = sum(
        eaten(meal.offered_dry_g, meal.offered_mix_g, meal.left_mix_g, 1000).dry_g for meal in counted
    )
    share = finite("share eaten", eaten_g / planned_g)
    factor = min(1.0, max(LEAST_FACTOR, share * MARGIN))
    return Correction(
        factor,
        share,
        len(counted),
        (
            f"Corrected to {factor:.0%} of the plan: {share:.0%} of it was eaten in the last {len(counted)}"
            f" meals; {METHOD}.",
        ),
        _cautions(share),
    )


def _cautions(share: float) -> tuple[str, ...]:
    if share < MUCH_LEFT_SHARE:
        return (
            "More than half came back: look at the pups, weigh them, ask the vet if any is dull or thin.",
        )
    if share >= 1:
        return ("The bowls come back empty: if gains are short, raise the share from food.",)
    return ()

"""Where a pup's weights stand in growth tables: score, centile, lines crossed, for each table that speaks of it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from kennel.records.refusals import invalid
from litters.domain.centiles import CentilePath, Standing, centile_path
from litters.selectors_litters import Measured, PupHead, ages_and_kg, litter_heads, weights_of_pups
from litters.services.assessments import expected_adult
from litters.services.figures import agreed_figures, growth_limits
from litters.services.growth_tables import GrowthTable, growth_tables

POSITION_CAUTION = (
    "A centile compares with healthy dogs of the table; it is no target, and a thin or a fat pup can stand on any. "
    "Show crossed lines to the vet together with the body condition. No table covers pups under 12 weeks."
)


@dataclass(frozen=True, slots=True)
class GrowthPosition:
    """What one table says; misfit: why the table is for other dogs (only when it was asked for by name).

    path: None when the table covers none of the weights; not_covered: how many it leaves out.
    """

    table: GrowthTable
    misfit: str
    path: CentilePath | None
    not_covered: int


@dataclass(frozen=True, slots=True)
class GrowthPositions:
    """A pup in every table that speaks of it, the table supplied last first; silent: why others say nothing."""

    at: datetime
    positions: tuple[GrowthPosition, ...]
    silent: tuple[str, ...]
    weights: tuple[Measured, ...]
    adult_kg: float | None
    adult_from: str
    born_at: datetime

    def weighed_at(self, one: Standing) -> datetime:
        """When a weight that stands in a table was taken."""
        return self.born_at + timedelta(days=one.age_days)


def growth_positions(
    pup: PupHead, kennel_id: int, at: datetime, asked: UUID | None = None
) -> GrowthPositions:
    """Read a pup's weights until an instant in the kennel's tables, or in the one asked for, whatever dogs it is for.

    Four queries, inside an open door.  Raises Refusal("validation") for a table that is not here.
    """
    adult_kg, adult_from = expected_adult(litter_heads([pup.litter], kennel_id)[pup.litter])
    limits = growth_limits(agreed_figures(kennel_id))
    weights = weights_of_pups([pup.id], kennel_id, at)
    tables = growth_tables(kennel_id)
    if asked is not None:
        tables = [table for table in tables if table.uid == asked]
        if not tables:
            raise invalid("table", "unknown", "This growth table is not here.")
    points = ages_and_kg(weights, pup.born_at)
    found: list[GrowthPosition] = []
    silent: list[str] = []
    for table in tables:
        misfit = table.misfit(pup.sex, adult_kg)
        if misfit and asked is None:
            silent.append(f"{table.name}: {misfit}")
            continue
        values = table.values
        path = centile_path(values, points, limits.centile_lines_crossed, limits.centile_line_spacing_sd)
        outside = sum(not values.covers(age) for age, _ in points)
        found.append(GrowthPosition(table, misfit, path, outside))
    if not tables:
        silent.append("no growth table is stored: enter the values that your vet gave you")
    return GrowthPositions(at, tuple(found), tuple(silent), tuple(weights), adult_kg, adult_from, pup.born_at)

"""Where in a sheet a weight may stand, and what its surroundings say about it."""

from collections.abc import Sequence
from dataclasses import dataclass

from litters.domain.weight_cells import Cell
from litters.domain.weight_moments import Moment

Rows = Sequence[Sequence[Cell]]
HEADING_ROWS = 30  # titles above a table are few


@dataclass(frozen=True)
class Spot:
    """A cell (row and column from 0) with the pup and the moment its line and column name, None where unreadable.

    unit: of a unit cell on the same line; heading_unit: of the heading above.
    """

    row: int
    column: int
    pup: str | None
    pup_label: str
    moment: Moment | None
    moment_label: str
    unit: str | None = None
    heading_unit: str | None = None


def cell_at(rows: Rows, row: int, column: int) -> Cell:
    """The cell, None outside the sheet: lines of a file need not be equally long."""
    return rows[row][column] if row < len(rows) and column < len(rows[row]) else None


def width_of(rows: Rows) -> int:
    """Number of columns of the widest line."""
    return max((len(row) for row in rows), default=0)

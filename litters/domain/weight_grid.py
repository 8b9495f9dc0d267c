"""The grid: days down and pups across, or pups down and days across; the second is the first, turned over."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from litters.domain.weight_cells import (
    Cell,
    NotAWeight,
    is_blank,
    text_of,
    unit_named,
    weight_of,
    without_unit,
)
from litters.domain.weight_moments import Calendar, Moment, label_of, moment_of, time_of
from litters.domain.weight_places import HEADING_ROWS, Rows, Spot, cell_at, width_of
from litters.domain.weight_pups import LitterLabels, folded

_NO_PUP = {
    "total", "sum", "mean", "average", "avg", "min", "max", "minimum", "maximum", "gain", "change", "diff",
    "difference", "note", "notes", "comment", "comments", "remarks", "temp", "temperature", "dam", "by", "initials",
    "weighed by", "count",
}  # fmt: skip
_DAYS = {"day", "days", "date", "age", "hours", "week", "weeks"}
_PUPS = {"pup", "pups", "puppy", "puppies", "band", "collar", "name", "colour", "color", "number", "no"}


@dataclass
class Grid:
    """A grid that was found: `header` is the row of pups, `day_column` the column of days, after turning over."""

    rows: Rows
    labels: LitterLabels
    calendar: Calendar
    is_turned: bool
    header: int
    day_column: int
    time_column: int | None
    pups: dict[int, str]
    left_out: list[str] = field(default_factory=list)

    @property
    def first_row(self) -> int:
        """Last row of headings in the sheet as it was saved."""
        return self.day_column if self.is_turned else self.header

    def spots(self) -> Iterator[Spot]:
        """Every cell below the pups, row by row, with carried days under merged labels."""
        heading = text_of(cell_at(self.rows, self.header, self.day_column))
        columns = self._columns()
        units = {c: unit_named(text_of(cell_at(self.rows, self.header, c))) for c in columns}
        carried: Moment | None = None
        for row in range(self.header + 1, len(self.rows)):
            label = cell_at(self.rows, row, self.day_column)
            at = None if self.time_column is None else time_of(cell_at(self.rows, row, self.time_column))
            moment = moment_of(label, heading, self.calendar)
            if moment is None and is_blank(label) and at is not None:
                moment = carried
            carried = moment or carried
            if moment is None and self._is_no_day(row, label, columns, units):
                continue
            moment = moment.with_time(at) if moment else None
            for column, (pup, pup_label) in columns.items():
                spot = Spot(row, column, pup, pup_label, moment, label_of(label), None, units[column])
                yield replace(spot, row=column, column=row) if self.is_turned else spot

    def _columns(self) -> dict[int, tuple[str | None, str]]:
        """Columns of pups, and columns that look like a pup's but name none (their weights are refused)."""
        found: dict[int, tuple[str | None, str]] = {}
        for column in range(width_of(self.rows)):
            label = without_unit(text_of(cell_at(self.rows, self.header, column)))
            if column in self.pups:
                found[column] = (self.pups[column], label)
            elif label and column not in (self.day_column, self.time_column):
                if set(folded(label).split()) & _NO_PUP or column < min(self.pups):
                    self.left_out.append(label)
                elif any(
                    _is_weight(cell_at(self.rows, row, column))
                    for row in range(self.header + 1, len(self.rows))
                ):
                    found[column] = (None, label)
        return found

    def _is_no_day(
        self, row: int, label: Cell, columns: dict[int, tuple[str | None, str]], units: dict[int, str | None]
    ) -> bool:
        """Whether a row is a second heading (units, sexes), a row of averages, or empty."""
        cells = {column: cell_at(self.rows, row, column) for column in columns}
        for column, cell in cells.items():
            if isinstance(cell, str) and (unit := unit_named(cell)) and not any(c.isdigit() for c in cell):
                units[column] = unit
        if set(folded(label_of(label)).strip(":").split()) & _NO_PUP:
            self.left_out.append(label_of(label))
            return True
        return not any(_is_weight(cell) for cell in cells.values())


def find_grid(rows: Rows, labels: LitterLabels, calendar: Calendar) -> Grid | None:
    """The grid of a sheet in the direction that explains more of it; None when there is none, or both do alike."""
    turned = [[cell_at(rows, r, c) for r in range(len(rows))] for c in range(width_of(rows))]
    upright, over = _best(rows, labels, calendar, False), _best(turned, labels, calendar, True)
    if upright is None or over is None:
        found = upright or over
        return found[1] if found else None
    if upright[0] != over[0]:
        return max(upright, over, key=lambda scored: scored[0])[1]
    corner = set(folded(text_of(cell_at(rows, upright[1].header, upright[1].day_column))).split())
    if corner & _DAYS and not corner & _PUPS:
        return upright[1]
    return over[1] if corner & _PUPS and not corner & _DAYS else None


def _best(rows: Rows, labels: LitterLabels, calendar: Calendar, is_turned: bool) -> tuple[int, Grid] | None:
    best: tuple[int, Grid] | None = None
    best_dates = 0
    for header in range(min(len(rows), HEADING_ROWS)):
        pups: dict[int, str] = {}
        for column, cell in enumerate(rows[header]):
            label = without_unit(text_of(cell))
            if label and not set(folded(label).split()) & _NO_PUP and (pup := labels.find(label)) is not None:
                pups[column] = pup
        for column in range(min(pups) if pups else 0):
            heading = text_of(cell_at(rows, header, column))
            below = [cell_at(rows, row, column) for row in range(header + 1, len(rows))]
            moments = [found for cell in below if (found := moment_of(cell, heading, calendar)) is not None]
            score = len(moments) * len(pups)
            # Beside a column of ages a column of dates is the more exact one.
            dates = sum(found.on is not None and found.age_days is None for found in moments)
            if score and (best is None or (score, dates) > (best[0], best_dates)):
                best_dates = dates
                best = (
                    score,
                    Grid(rows, labels, calendar, is_turned, header, column, None, pups),
                )
    if best is not None:
        best[1].time_column = _time_column(best[1])
    return best


def _time_column(grid: Grid) -> int | None:
    for column in range(min(grid.pups)):
        cells = [cell_at(grid.rows, row, column) for row in range(grid.header + 1, len(grid.rows))]
        if column != grid.day_column and any(time_of(cell) is not None for cell in cells):
            return column
    return None


def _is_weight(cell: Cell) -> bool:
    try:
        return weight_of(cell, None) is not None
    except NotAWeight:
        return False

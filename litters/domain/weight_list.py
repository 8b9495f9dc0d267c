"""The list: one line per weighing, with columns for pup, day, perhaps hour, weight, perhaps unit, in any order.

Columns are recognised by heading; where headings say nothing known (another language, none at all), by content.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from litters.domain.weight_cells import Cell, NotAWeight, is_blank, plain, text_of, unit_named, weight_of
from litters.domain.weight_moments import Calendar, Moment, label_of, moment_of, time_of
from litters.domain.weight_places import HEADING_ROWS, Rows, Spot, cell_at, width_of
from litters.domain.weight_pups import LitterLabels

_PUP = {
    "pup",
    "puppy",
    "band",
    "collar",
    "ribbon",
    "name",
    "colour",
    "color",
    "number",
    "no",
    "nr",
    "id",
    "order",
}
_WHEN = {
    "date",
    "day",
    "days",
    "age",
    "when",
    "hour",
    "hours",
    "week",
    "weeks",
    "datetime",
    "timestamp",
    "weighed",
}
_TIME = {"time", "clock", "round"}
_WEIGHT = {"weight", "weights", "mass", "wt", "reading"}
_UNIT = {"unit", "units"}
_OTHER = {
    "note",
    "notes",
    "comment",
    "comments",
    "gain",
    "remarks",
    "by",
    "litter",
    "dam",
    "temperature",
    "sex",
}
_MOSTLY = 0.6


@dataclass
class Columns:
    """Which column holds what; several may name the pup (band and name)."""

    first_row: int
    pups: list[int]
    when: int
    weight: int
    time: int | None = None
    unit: int | None = None


@dataclass
class WeightList:
    """A list that was found; `first_row` is the row of its headings."""

    rows: Rows
    labels: LitterLabels
    calendar: Calendar
    columns: Columns

    @property
    def first_row(self) -> int:
        """Row of the headings."""
        return self.columns.first_row

    def spots(self) -> Iterator[Spot]:
        """Every line below the headings."""
        columns = self.columns
        heading = text_of(cell_at(self.rows, columns.first_row, columns.when))
        heading_unit = unit_named(text_of(cell_at(self.rows, columns.first_row, columns.weight)))
        for row in range(columns.first_row + 1, len(self.rows)):
            when = cell_at(self.rows, row, columns.when)
            pup, pup_label = self._pup(row)
            yield Spot(
                row,
                columns.weight,
                pup,
                pup_label,
                self._moment(row, when, heading),
                label_of(when),
                self._unit(row),
                heading_unit,
            )

    def _pup(self, row: int) -> tuple[str | None, str]:
        texts = [text_of(cell_at(self.rows, row, column)) for column in self.columns.pups]
        found = {pup for text in texts if text and (pup := self.labels.find(text)) is not None}
        return (found.pop() if len(found) == 1 else None), " / ".join(text for text in texts if text)

    def _moment(self, row: int, when: Cell, heading: str) -> Moment | None:
        moment = moment_of(when, heading, self.calendar)
        if moment is None or self.columns.time is None:
            return moment
        return moment.with_time(time_of(cell_at(self.rows, row, self.columns.time)))

    def _unit(self, row: int) -> str | None:
        return (
            None
            if self.columns.unit is None
            else unit_named(text_of(cell_at(self.rows, row, self.columns.unit)))
        )


def find_list(rows: Rows, labels: LitterLabels, calendar: Calendar) -> WeightList | None:
    """The list of a sheet, by headings or else by content; None when it is none."""
    columns = _by_headings(rows, labels) or _by_content(rows, labels, calendar)
    return None if columns is None else WeightList(rows, labels, calendar, columns)


def _by_headings(rows: Rows, labels: LitterLabels) -> Columns | None:
    for number, row in enumerate(rows[:HEADING_ROWS]):
        kinds: dict[str, list[int]] = {}
        for column, cell in enumerate(row):
            if isinstance(cell, str) and (kind := _kind(cell)):
                kinds.setdefault(kind, []).append(column)
        if {"pup", "when", "weight"} <= kinds.keys() and not _is_grid(row, labels):
            return Columns(
                number,
                kinds["pup"],
                kinds["when"][0],
                kinds["weight"][0],
                kinds.get("time", [None])[0],
                kinds.get("unit", [None])[0],
            )
    return None


def _is_grid(row: Sequence[Cell], labels: LitterLabels) -> bool:
    return sum(labels.find(text_of(cell)) is not None for cell in row if not is_blank(cell)) >= 2


def _kind(heading: str) -> str | None:
    """What a heading announces; "time" is a moment of its own only beside a day."""
    words = set(re.findall(r"[^\W\d_]+", heading.casefold()))
    if words & _OTHER or len(words) > 5 or ("birth" in words and "weight" in words):
        return None
    for kind, known in (
        ("unit", _UNIT),
        ("weight", _WEIGHT),
        ("when", _WHEN),
        ("time", _TIME),
        ("pup", _PUP),
    ):
        if words & known:
            return kind
    return "weight" if words and unit_named(heading) and len(words) == 1 else None


def _by_content(rows: Rows, labels: LitterLabels, calendar: Calendar) -> Columns | None:
    width = width_of(rows)

    def share(column: int, fits: Callable[[Cell], bool]) -> float:
        cells = [cell for row in rows if column < len(row) and not is_blank(cell := row[column])]
        return sum(map(fits, cells)) / len(cells) if len(cells) > 1 else 0.0

    def is_pup(cell: Cell) -> bool:
        return isinstance(plain(cell), str) and labels.find(text_of(cell)) is not None

    def is_day(cell: Cell) -> bool:
        # Bare numbers are left out: without a heading they may as well be weights.
        bare = not isinstance(plain(cell), str) or re.fullmatch(r"[0-9]+([.,][0-9]+)?", text_of(cell))
        if bare and not hasattr(plain(cell), "year"):
            return False
        return moment_of(cell, "", calendar) is not None

    pups = [c for c in range(width) if share(c, is_pup) >= _MOSTLY]
    days = [c for c in range(width) if c not in pups and share(c, is_day) >= _MOSTLY]
    weights = [c for c in range(width) if c not in (*pups, *days) and share(c, _is_weight) >= _MOSTLY]
    if not pups or len(days) != 1 or len(weights) != 1:
        return None
    lines = [n for n in range(len(rows)) if any(is_pup(cell_at(rows, n, c)) for c in pups)]
    times = [c for c in range(width) if c not in (*pups, *days, *weights) and share(c, _is_time) >= _MOSTLY]
    return Columns(lines[0] - 1, pups, days[0], weights[0], times[0] if times else None)


def _is_weight(cell: Cell) -> bool:
    try:
        return weight_of(cell, None) is not None
    except NotAWeight:
        return False


def _is_time(cell: Cell) -> bool:
    return time_of(cell) is not None

"""Rows of cells from somebody's weight sheet -> readings, each with its place in the sheet.

Two shapes are read, with the headings people happen to use: a *list* (one line per weighing: pup, day, weight) and
a *grid* (days by pups, in either direction).  Titles, empty rows, merged headings, rows of averages and columns of
notes around them are left out and named.  What cannot be read is refused cell by cell.  Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from litters.domain.weight_cells import (
    UNITS,
    NotAWeight,
    is_blank,
    text_of,
    unit_named,
    weight_of,
)
from litters.domain.weight_grid import Grid, find_grid
from litters.domain.weight_list import find_list
from litters.domain.weight_moments import Calendar, Moment, day_order
from litters.domain.weight_places import Rows, Spot, cell_at
from litters.domain.weight_pups import LitterLabels, PupLabels


@dataclass(frozen=True)
class Reading:
    """One weight read: place in the sheet (row and column from 1), pup key, moment, value as written, its unit."""

    row: int
    column: int
    pup: str
    moment: Moment
    value: Decimal
    unit: str
    doubts: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class RefusedCell:
    """A cell that looks like a weighing and cannot be read: its place, what stands there, code and words why."""

    row: int
    column: int
    shown: str
    code: str
    text: str


@dataclass
class TableRead:
    """What a sheet says.  form: "list" or "grid".  notes: (code, text) about the sheet as a whole."""

    form: str
    readings: list[Reading] = field(default_factory=list)
    refused: list[RefusedCell] = field(default_factory=list)
    notes: list[tuple[str, str]] = field(default_factory=list)


class TableNotUnderstood(ValueError):
    """Neither a list nor a grid of these pups was found; the message says what was looked for."""


def read_table(rows: Rows, pups: Sequence[PupLabels], whelped_on: date, unit: str | None = None) -> TableRead:
    """Readings of one sheet.

    pups: the litter's.  whelped_on: wall date of the whelping, from which ages count (day 0).  unit: g, kg, oz or lb
    as the person says, before headings are asked; a unit written in the cell itself wins.
    Raises TableNotUnderstood, ValueError for an unknown unit.
    """
    if unit is not None and unit not in UNITS:
        raise ValueError(f"unknown unit {unit!r}; known are {', '.join(UNITS)}")
    calendar = Calendar(whelped_on, day_order([cell for row in rows for cell in row]))
    labels = LitterLabels(tuple(pups))
    found = find_list(rows, labels, calendar) or find_grid(rows, labels, calendar)
    if found is None:
        raise TableNotUnderstood(
            "No weights of this litter were found: neither lines with pup, day and weight, nor a grid of days and pups."
            " Pups are recognised by the word of their band, their name or their number."
        )
    read = TableRead("grid" if isinstance(found, Grid) else "list")
    general = _unit_of_sheet(rows, found.first_row)
    _note_other_unit(read, unit, general)
    for spot in found.spots():
        _read_spot(rows, spot, read, unit, general)
    if isinstance(found, Grid) and found.left_out:
        read.notes.append(
            ("left_out", "Left out, not weights of a pup: " + ", ".join(found.left_out[:12]) + ".")
        )
    _note_day_one(read)
    return read


def _read_spot(rows: Rows, spot: Spot, read: TableRead, unit: str | None, general: str | None) -> None:
    cell = cell_at(rows, spot.row, spot.column)
    if is_blank(cell):
        return
    said = spot.unit or unit or spot.heading_unit or general
    try:
        weight = weight_of(cell, said)
        if weight is None:
            return
        if spot.pup is None:
            name = spot.pup_label[:40]
            words = f"No pup of this litter is called “{name}”." if name else "This line names no pup."
            raise NotAWeight("unknown_pup", words)
        if spot.moment is None:
            name = spot.moment_label[:40]
            words = f"“{name}” is no day that can be read." if name else "This line names no day."
            raise NotAWeight("unknown_day", words)
        own = weight.unit or said
        if own is None:
            raise NotAWeight("unknown_unit", "Say which unit this is: g, kg, oz or lb.")
    except NotAWeight as reason:
        read.refused.append(
            RefusedCell(spot.row + 1, spot.column + 1, text_of(cell), reason.code, str(reason))
        )
        return
    doubts = (*spot.moment.doubts, *weight.doubts)
    read.readings.append(
        Reading(spot.row + 1, spot.column + 1, spot.pup, spot.moment, weight.value, own, doubts)
    )


def _unit_of_sheet(rows: Rows, first_row: int) -> str | None:
    """The one unit that titles and headings above the weights agree on."""
    named = {
        unit
        for row in rows[: first_row + 1]
        for cell in row
        if isinstance(cell, str) and (unit := unit_named(cell)) is not None
    }
    return named.pop() if len(named) == 1 else None


def _note_other_unit(read: TableRead, unit: str | None, general: str | None) -> None:
    if unit and general and unit != general:
        text = f"The sheet speaks of {general}; {unit} was said and counts where no cell names its own unit."
        read.notes.append(("unit_differs", text))


def _note_day_one(read: TableRead) -> None:
    """Some count the day of whelping as day 1; a sheet that begins with 1 leaves it open."""
    days = {r.moment.age_days for r in read.readings if r.moment.age_days is not None}
    has_birth = any(r.moment.is_birth or r.moment.age_hours is not None for r in read.readings)
    if days and min(days) == 1 and not has_birth:
        read.notes.append(
            ("day_one", "Day 1 is taken as the day after the day of whelping (which is day 0).")
        )

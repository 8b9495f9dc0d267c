"""Reading a growth table that somebody pasted: lines of age, L, M and S, with or without a heading.

Only forms people write are read; anything else is refused with its line, never guessed.  Common practice, no source.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

DAYS_PER = {"days": 1.0, "weeks": 7.0}
COLUMNS = ("age_days", "power", "median_kg", "spread")
MOST_PROBLEMS = 10

# The letters of the method, and what statistical programs call the same three.
_HEADINGS = {
    "age": "age_days",
    "day": "age_days",
    "days": "age_days",
    "week": "age_days",
    "weeks": "age_days",
    "l": "power",
    "nu": "power",
    "lambda": "power",
    "power": "power",
    "m": "median_kg",
    "mu": "median_kg",
    "median": "median_kg",
    "s": "spread",
    "sigma": "spread",
    "spread": "spread",
}
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?", re.ASCII)


@dataclass(frozen=True)
class Problem:
    """A line (counted from 1) that could not be read, and why."""

    line: int
    text: str


class NotATable(ValueError):
    """Text that is no table; `problems` says why, line by line, ten at most."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(" ".join(f"Line {one.line}: {one.text}" for one in problems))
        self.problems = tuple(problems[:MOST_PROBLEMS])


def rows_from_text(text: str, age_unit: str = "days") -> list[dict[str, float]]:
    """Rows (age_days, power, median_kg, spread) of a pasted table, in its order.

    age_unit: days or weeks, unless the heading names one.  Cells are parted by tabs, semicolons, blanks, or by commas
    where decimals have points.  Raises NotATable with the lines that could not be read.
    """
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise NotATable([Problem(1, "There is nothing here.")])
    columns: Sequence[str] = COLUMNS
    if re.search(r"[^\W\d_]", lines[0][1]):
        columns, age_unit = _heading(*lines.pop(0), age_unit)
    rows: list[dict[str, float]] = []
    problems: list[Problem] = []
    for number, line in lines:
        try:
            rows.append(_row(line, columns, DAYS_PER[age_unit]))
        except ValueError as error:
            problems.append(Problem(number, str(error)))
    if problems:
        raise NotATable(problems)
    return rows


def _heading(number: int, line: str, age_unit: str) -> tuple[list[str], str]:
    """The column each cell of the heading names, and the unit of age it names."""
    columns = []
    for cell in _cells(line):
        words = re.findall(r"[^\W\d_]+", cell.casefold())
        named = {_HEADINGS[word] for word in words if word in _HEADINGS}
        columns.append(named.pop() if len(named) == 1 else "")
        for unit in DAYS_PER:
            if unit in words or unit.removesuffix("s") in words:
                age_unit = unit
    if sorted(columns) != sorted(COLUMNS):
        raise NotATable([Problem(number, "The heading should name four columns: age, L, M and S.")])
    return columns, age_unit


def _cells(line: str) -> list[str]:
    for mark in ("\t", ";"):
        if mark in line:
            return [cell.strip() for cell in line.split(mark) if cell.strip()]
    blanks = line.split()
    if len(blanks) < len(COLUMNS) and "," in line:
        return [cell.strip() for cell in line.split(",") if cell.strip()]
    return [cell.removesuffix(",") for cell in blanks]


def _row(line: str, columns: Sequence[str], days_per_age: float) -> dict[str, float]:
    cells = _cells(line)
    if len(cells) != len(COLUMNS):
        raise ValueError(f"four numbers are expected, not {len(cells)}.")
    row = {}
    for column, cell in zip(columns, cells, strict=True):
        if not _NUMBER.fullmatch(cell):
            raise ValueError(f"“{cell[:20]}” is not a number.")
        value = float(cell.replace(",", "."))
        if not math.isfinite(value):
            raise ValueError(f"“{cell[:20]}” is out of all proportion.")
        row[column] = value * days_per_age if column == "age_days" else value
    return {name: row[name] for name in COLUMNS}

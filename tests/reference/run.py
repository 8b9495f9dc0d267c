"""Checks reference files against the product: `python -m tests.reference.run FILE...`.

Reads case rows, pedigrees (`pedigree,animal,sire,dam,expected_F`) and weight series (`age_days,weight_kg`),
plain or fenced inside Markdown; prints one line per failure and a closing count; exits 1 when anything
fails, an unknown formula key or a file without rows included, and 2 when called wrongly.

A row's weight series is the last one above it in its file, else the first below it, else one of the other
files given, else the committed one.  Pedigrees are looked up by name in the same order of files.
An expected value of `ValueError` means that the product must refuse the inputs.
"""

import itertools
import math
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.reference.blocks import CASES, PEDIGREE, SERIES, Block, Row, read_contents
from tests.reference.compare import REFUSED, difference, pedigree_tolerance, render
from tests.reference.discovery import Adapter, find_adapters
from tests.reference.inputs import Datasets, Inputs, PedigreeRow

CASES_FOLDER = Path(__file__).parent / "cases"
PEDIGREE_KEY = "pedigree_inbreeding"
_FAILURES_OF_AN_ADAPTER = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)

Series = tuple[tuple[float, float], ...]
Pedigrees = dict[str, tuple[PedigreeRow, ...]]


@dataclass
class Outcome:
    """Counts and failures of a run."""

    checked: int = 0
    passed: int = 0
    data_rows: int = 0
    failures: list[str] = field(default_factory=list)

    def add(self, where: str, problem: str) -> None:
        """One check: passed when `problem` is empty."""
        self.checked += 1
        if problem:
            self.failures.append(f"FAIL {where}: {problem}")
        else:
            self.passed += 1


@dataclass(frozen=True)
class _File:
    path: Path
    blocks: tuple[Block, ...]


def run(paths: Sequence[Path]) -> Outcome:
    """Checks every row of the files and gives counts and failures."""
    outcome = Outcome()
    adapters, problems = find_adapters()
    outcome.failures.extend(f"FAIL {problem}" for problem in problems)
    files = [file for path in paths for file in _read(path, outcome)]
    committed = [file for path in _committed_data(paths) for file in _read(path, outcome)]
    for file in files:
        others = [other for other in [*files, *committed] if other is not file]
        _check_file(file, others, adapters, outcome)
    return outcome


def _read(path: Path, outcome: Outcome) -> Iterable[_File]:
    try:
        contents = read_contents(path)
    except (OSError, UnicodeDecodeError) as error:
        outcome.add(str(path), str(error))
        return
    for problem in contents.problems:
        outcome.add(str(path), problem)
    yield _File(path, tuple(contents.blocks))


def _committed_data(given: Sequence[Path]) -> list[Path]:
    """Our pedigrees and weight series, for rows that name them from a file without its own."""
    known = {path.resolve() for path in given}
    candidates = (CASES_FOLDER / "pedigrees.csv", CASES_FOLDER / "weight_series.csv")
    return [path for path in candidates if path.exists() and path.resolve() not in known]


def _check_file(
    file: _File, others: Sequence[_File], adapters: Mapping[str, Adapter], outcome: Outcome
) -> None:
    own = _pedigrees(file.blocks)
    known: Pedigrees = {}
    for other in reversed(others):
        known.update(_pedigrees(other.blocks))
    known.update(own)
    _check_pedigrees(file, own, adapters, outcome)
    for index, block in enumerate(file.blocks):
        if block.kind == SERIES:
            outcome.data_rows += len(block.rows)
            outcome.add(f"{file.path}:{block.line} weight series", _series_problem(block))
        elif block.kind == CASES:
            datasets = Datasets(_series_for(file, index, others), known, _current_pedigree(file, index))
            for row in block.rows:
                outcome.add(_place(file, row, "case_id", "formula"), _case_problem(row, datasets, adapters))


def _case_problem(row: Row, datasets: Datasets, adapters: Mapping[str, Adapter]) -> str:
    """What is wrong with one case row; empty when it passes."""
    formula = row.values["formula"]
    expected = row.values["expected"]
    if formula not in adapters:
        return f"unknown formula key {formula!r}"
    if not expected:
        return "nothing is expected"
    try:
        rel_tol = _tolerance(row.values.get("rel_tol", ""))
        inputs = Inputs.parse(row.values["inputs"], datasets)
    except ValueError as error:
        return f"broken row: {error}"
    try:
        answer = adapters[formula](inputs, row.values["output"])
    except _FAILURES_OF_AN_ADAPTER as error:
        refused = expected == REFUSED and isinstance(error, ValueError)
        return "" if refused else f"{type(error).__name__}: {error}"
    if expected == REFUSED:
        return f"got {render(answer)}, expected a refusal"
    return difference(answer, expected, rel_tol)


def _check_pedigrees(
    file: _File, pedigrees: Pedigrees, adapters: Mapping[str, Adapter], outcome: Outcome
) -> None:
    """Inbreeding coefficients of a file's pedigrees, all animals of one pedigree in one call."""
    rows = [row for block in file.blocks if block.kind == PEDIGREE for row in block.rows]
    outcome.data_rows += len(rows)
    answers = {name: _inbreeding(name, parentage, adapters) for name, parentage in pedigrees.items()}
    checked = set()
    for row in rows:
        name, expected = row.values["pedigree"], row.values.get("expected_F", "")
        if expected:
            checked.add(name)
            verdict = _coefficient_problem(*answers[name], row.values["animal"], expected)
            outcome.add(_place(file, row, "pedigree", "animal"), verdict)
    for name in pedigrees.keys() - checked:
        outcome.add(f"{file.path} pedigree {name}", answers[name][1])


def _inbreeding(
    name: str, rows: tuple[PedigreeRow, ...], adapters: Mapping[str, Adapter]
) -> tuple[Mapping[str, float], str]:
    if PEDIGREE_KEY not in adapters:
        return {}, f"no adapter offers {PEDIGREE_KEY!r}"
    datasets = Datasets(pedigrees={name: rows}, current_pedigree=name)
    try:
        answer = adapters[PEDIGREE_KEY](Inputs({}, datasets), "F")
    except _FAILURES_OF_AN_ADAPTER as error:
        return {}, f"{REFUSED if isinstance(error, ValueError) else type(error).__name__}: {error}"
    return (answer, "") if isinstance(answer, Mapping) else ({}, "the adapter gave no coefficients")


def _coefficient_problem(answers: Mapping[str, float], problem: str, animal: str, expected: str) -> str:
    if expected == REFUSED:
        return "" if problem.startswith(REFUSED) else "accepted, expected a refusal"
    if problem:
        return problem
    try:
        wanted, tolerance = float(expected), pedigree_tolerance(expected)
    except ValueError:
        return f"expected_F {expected!r} is not a number"
    answer = answers.get(animal)
    if answer is not None and math.isfinite(answer) and abs(answer - wanted) <= tolerance:
        return ""
    return f"got F {answer}, expected {expected}"


def _pedigrees(blocks: Iterable[Block]) -> Pedigrees:
    """Pedigrees by name, from all pedigree blocks."""
    gathered: dict[str, list[PedigreeRow]] = {}
    for block in blocks:
        for row in block.rows if block.kind == PEDIGREE else ():
            animal, sire, dam = (row.values[column] for column in ("animal", "sire", "dam"))
            gathered.setdefault(row.values["pedigree"], []).append(
                PedigreeRow(animal, sire or None, dam or None)
            )
    return {name: tuple(rows) for name, rows in gathered.items()}


def _current_pedigree(file: _File, index: int) -> str | None:
    above = [name for block in file.blocks[:index] for name in _pedigrees([block])]
    below = [name for block in file.blocks[index:] for name in _pedigrees([block])]
    return above[-1] if above else (below[0] if below else None)


def _series_for(file: _File, index: int, others: Sequence[_File]) -> Series | None:
    own = [*reversed(file.blocks[:index]), *file.blocks[index:]]
    elsewhere = [block for other in others for block in other.blocks]
    for block in [*own, *elsewhere]:
        if block.kind == SERIES and not _series_problem(block):
            return _series(block)
    return None


def _series(block: Block) -> Series:
    return tuple((float(row.values["age_days"]), float(row.values["weight_kg"])) for row in block.rows)


def _series_problem(block: Block) -> str:
    """Ages must rise and weights be positive; a series that is neither serves no fit."""
    try:
        series = _series(block)
    except ValueError as error:
        return str(error)
    ages = [age for age, _ in series]
    if not all(math.isfinite(age) and math.isfinite(weight) and weight > 0 for age, weight in series):
        return "an age or weight is not a finite number, or a weight not above 0"
    return "" if all(one < next_ for one, next_ in itertools.pairwise(ages)) else "ages do not rise"


def _tolerance(text: str) -> float:
    """The rel_tol column; empty means exact."""
    tolerance = float(text or "0")
    if not 0 <= tolerance < 1:
        raise ValueError(f"rel_tol {text!r} is outside 0..1")
    return tolerance


def _place(file: _File, row: Row, *columns: str) -> str:
    return f"{file.path}:{row.line} " + " ".join(row.values[column] for column in columns)


def main(arguments: Sequence[str]) -> int:
    """Runs the files named on the command line; gives the exit code."""
    if not arguments:
        print("usage: python -m tests.reference.run FILE...", file=sys.stderr)
        return 2
    outcome = run([Path(argument) for argument in arguments])
    for failure in outcome.failures:
        print(failure)
    print(
        f"{outcome.checked} checks, {outcome.passed} passed, {len(outcome.failures)} failed"
        f" ({outcome.data_rows} rows of data read)"
    )
    return 1 if outcome.failures or not outcome.checked else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

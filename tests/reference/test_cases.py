"""Runs every committed reference row, and checks that every formula key of theirs has an adapter."""

from pathlib import Path

import pytest

from tests.reference.blocks import CASES, read_contents
from tests.reference.discovery import find_adapters
from tests.reference.run import CASES_FOLDER, run

FILES = sorted(CASES_FOLDER.glob("*.csv"))


def _formula_keys(path: Path) -> set[str]:
    blocks = read_contents(path).blocks
    return {row.values["formula"] for block in blocks if block.kind == CASES for row in block.rows}


def test_the_committed_case_files_are_all_there() -> None:
    assert {path.stem for path in FILES} >= {
        "energy-and-feeding",
        "genetics",
        "gestation-and-whelping",
        "growth-standards",
        "identification-and-law",
        "neonate-monitoring",
        "parasites-and-vaccines",
        "pedigrees",
        "record-and-safety",
        "weight_series",
    }


def test_every_adapter_module_can_be_imported() -> None:
    _, problems = find_adapters()
    assert problems == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_formula_key_of_the_case_files_is_known(path: Path) -> None:
    adapters, _ = find_adapters()
    assert _formula_keys(path) - adapters.keys() == set()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_row_of_the_case_files_passes(path: Path) -> None:
    outcome = run([path])
    assert outcome.failures == []
    assert outcome.passed == outcome.checked > 0

"""A read costs as many SQL statements as its line in `counts.toml` says, with 3 animals and with 30."""

import os

import pytest

from tests.queries.measure import FILE, committed, measured, reads, write
from tests.tenancy.operations import KENNEL

FEW, MANY = 3, 30
# Reads of the whole kennel or litter that do not grow with it: about one animal, about none, or the newest few.
_OF_ONE = {
    "GET kennels/{kennel}",
    f"GET {KENNEL}reminder-choices",
    f"GET {KENNEL}digests/unsubscribe/{{token}}",
    f"GET {KENNEL}medicine-labels",
    f"GET {KENNEL}treatment-schemes",
    f"GET {KENNEL}planned-mating",
    f"GET {KENNEL}litters/{{uid}}",
    f"GET {KENNEL}litters/{{uid}}/history",
    f"GET {KENNEL}litters/{{uid}}/dam-ration",
    f"GET {KENNEL}litters/{{uid}}/vet-card",
}


def _statements(animals: int) -> dict[str, int]:
    return {name: cost.statements for name, cost in measured(animals).items()}


@pytest.mark.usefixtures("db")
def test_every_read_costs_the_statements_written_down_with_few_and_with_many_animals() -> None:
    few, many = _statements(FEW), _statements(MANY)
    grown = {name: (few[name], many[name]) for name in few if few[name] != many[name]}
    assert grown == {}, "(statements with 3 animals, with 30)"
    if os.environ.get("WRITE_QUERY_COUNTS"):
        write(many)
    written = committed()
    moved = {name: (written[name], few[name]) for name in few.keys() & written if written[name] != few[name]}
    assert moved == {}, f"(statements in {FILE.name}, now)"


def test_the_file_has_one_line_for_every_read_and_none_for_what_is_gone() -> None:
    assert set(committed()) == reads()


@pytest.mark.usefixtures("db")
def test_lists_and_reads_of_a_litter_hold_all_the_animals_that_were_counted() -> None:
    whole = {
        name: cost.rows
        for name, cost in measured(MANY).items()
        if cost.rows is not None and ("{uid}" not in name or "/litters/{uid}" in name) and name not in _OF_ONE
    }
    assert len(whole) > 40
    assert {name: rows for name, rows in whole.items() if rows < MANY} == {}

"""Inbreeding and relationship against published pedigrees, a dense-matrix method and the path method."""

import random
import time
from datetime import date

import networkx
import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from litters.domain.pedigree import (
    MOST_ANIMALS_FOR_A_TABLE,
    Parentage,
    Pedigree,
    ancestors_within,
    build_pedigree,
    gene_shares,
    inbreeding_coefficients,
    relationship_table,
    relationships,
)


@st.composite
def pedigrees(draw: st.DrawFn, most: int = 14) -> list[Parentage]:
    """Random pedigrees with unknown parents, close matings and records in any order."""
    count = draw(st.integers(min_value=1, max_value=most))
    records = []
    for index in range(count):
        earlier = [None, *(f"d{one}" for one in range(index))]
        sire = draw(st.sampled_from(earlier))
        dam = draw(st.sampled_from([one for one in earlier if one is None or one != sire]))
        records.append(Parentage(f"d{index}", sire, dam))
    return draw(st.permutations(records))


def _dense_relationships(records: list[Parentage]) -> tuple[list[str], numpy.ndarray]:
    """A = T D T' with T = (I - P)^-1 by numpy, P half for each parent, order by networkx.

    The factorisation is Henderson's and Quaas's (Mrode, Linear Models, App. B); nothing of ours is used.
    """
    graph = networkx.DiGraph()
    graph.add_nodes_from(record.animal for record in records)
    for record in records:
        graph.add_edges_from((parent, record.animal) for parent in (record.sire, record.dam) if parent)
    order = list(networkx.topological_sort(graph))
    place = {animal: index for index, animal in enumerate(order)}
    known = {record.animal: [place[p] for p in (record.sire, record.dam) if p] for record in records}
    halves = numpy.zeros((len(order), len(order)))
    for animal, parents in known.items():
        halves[place[animal], parents] = 0.5
    transmitted = numpy.linalg.inv(numpy.eye(len(order)) - halves)
    own = numpy.zeros(len(order))
    for index, animal in enumerate(order):
        parents = known.get(animal, [])
        inbreeding = (transmitted[parents] ** 2 @ own) - 1 if parents else numpy.zeros(0)
        own[index] = 1 - 0.25 * len(parents) - 0.25 * float(inbreeding.sum())
    return order, transmitted @ numpy.diag(own) @ transmitted.T


def _inbreeding_by_paths(records: list[Parentage], animal: str) -> float:
    """Wright's path method, every path written out: sum of (1/2)^(n1+n2+1) (1 + F_A)."""
    parents = {record.animal: (record.sire, record.dam) for record in records}

    def lines(start: str) -> list[list[str]]:
        found, waiting = [], [[start]]
        while waiting:
            line = waiting.pop()
            found.append(line)
            waiting.extend([*line, parent] for parent in parents.get(line[-1], (None, None)) if parent)
        return found

    sire, dam = parents.get(animal, (None, None))
    if sire is None or dam is None:
        return 0.0
    return sum(
        0.5 ** (len(up) + len(down) - 1) * (1 + _inbreeding_by_paths(records, up[-1]))
        for up in lines(sire)
        for down in lines(dam)
        if up[-1] == down[-1] and not set(up[:-1]) & set(down[:-1]) and up[-1] not in [*up[:-1], *down[:-1]]
    )


FULL_SIBS = [Parentage("s"), Parentage("d"), Parentage("a", "s", "d"), Parentage("b", "s", "d")]


def _population(count: int, sires: int, dams: int, seed: int) -> list[Parentage]:
    """A closed population in generations, with few sires, as in a breed."""
    chance = random.Random(seed)
    records = [Parentage(f"d{index}") for index in range(60)]
    generation = [record.animal for record in records]
    while len(records) < count:
        males, females = generation[::2], generation[1::2]
        chosen = chance.sample(males, min(sires, len(males)))
        generation = []
        for dam in chance.sample(females, min(dams, len(females))):
            sire = chance.choice(chosen)
            for _ in range(min(6, count - len(records))):
                records.append(Parentage(f"d{len(records)}", sire, dam))
                generation.append(records[-1].animal)
    return records


@settings(deadline=None)
@given(records=pedigrees())
def test_inbreeding_agrees_with_a_dense_matrix_by_numpy(records: list[Parentage]) -> None:
    known = relationships(build_pedigree(records))
    order, dense = _dense_relationships(records)
    for one, x in enumerate(order):
        assert known.inbreeding(x) == pytest.approx(dense[one, one] - 1, abs=1e-12)
        for other, y in enumerate(order):
            assert known.additive(x, y) == pytest.approx(dense[one, other], abs=1e-12)


@settings(deadline=None)
@given(records=pedigrees())
def test_the_tabular_method_and_the_recursion_agree(records: list[Parentage]) -> None:
    pedigree = build_pedigree(records)
    known = relationships(pedigree)
    table = relationship_table(pedigree)
    for one, x in enumerate(pedigree.animals):
        for other, y in enumerate(pedigree.animals):
            assert known.additive(x, y) == pytest.approx(table[one][other], abs=1e-12)


@settings(deadline=None)
@given(records=pedigrees(most=9))
def test_inbreeding_agrees_with_every_path_written_out(records: list[Parentage]) -> None:
    known = relationships(build_pedigree(records))
    for record in records:
        expected = _inbreeding_by_paths(records, record.animal)
        assert known.inbreeding(record.animal) == pytest.approx(expected, abs=1e-12)


@settings(deadline=None)
@given(records=pedigrees())
def test_the_form_of_meuwissen_and_luo_gives_the_same_coefficients(records: list[Parentage]) -> None:
    # F_i = sum_j L_ij^2 D_jj - 1 (Meuwissen & Luo 1992), D from the parents' coefficients.
    pedigree = build_pedigree(records)
    coefficients = inbreeding_coefficients(pedigree)
    for position, coefficient in enumerate(coefficients):
        total = 0.0
        for ancestor, share in gene_shares(pedigree, position).items():
            parents = pedigree.parents(ancestor)
            own = {0: 1.0, 1: 0.75, 2: 0.5}[len(parents)] - sum(coefficients[one] for one in parents) / 4
            total += share**2 * own
        assert coefficient == pytest.approx(total - 1, abs=1e-12)


@settings(deadline=None)
@given(records=pedigrees())
def test_coefficients_and_relationships_stay_within_their_ranges(records: list[Parentage]) -> None:
    known = relationships(build_pedigree(records))
    for x in known.pedigree.animals:
        assert 0 <= known.inbreeding(x) < 1
        assert known.additive(x, x) == pytest.approx(1 + known.inbreeding(x), abs=1e-12)
        assert known.wright(x, x) == pytest.approx(1, abs=1e-12)
        for y in known.pedigree.animals:
            assert 0 <= known.additive(x, y) <= 2
            assert known.kinship(x, y) == known.additive(x, y) / 2
            assert known.wright(x, y) == pytest.approx(known.wright(y, x), abs=1e-12)


@settings(deadline=None)
@given(records=pedigrees(), data=st.data())
def test_learning_an_unknown_parent_never_lowers_inbreeding(
    records: list[Parentage], data: st.DataObject
) -> None:
    before = relationships(build_pedigree(records))
    chosen = data.draw(st.sampled_from(records))
    fewer = [Parentage(one.animal, None, one.dam) if one.animal == chosen.animal else one for one in records]
    after = relationships(build_pedigree(fewer))
    for animal in before.pedigree.animals:
        assert after.inbreeding(animal) <= before.inbreeding(animal) + 1e-12


@settings(deadline=None)
@given(records=pedigrees())
def test_the_order_puts_parents_first_whatever_the_records_order(records: list[Parentage]) -> None:
    pedigree = build_pedigree(records)
    assert sorted(pedigree.animals) == sorted(record.animal for record in records)
    for position in range(len(pedigree.animals)):
        assert all(parent < position for parent in pedigree.parents(position))


def test_the_relationships_of_a_known_exercise_come_out() -> None:
    # University animal-breeding course, covariance-table exercise: F_X 0.53125, a_SX 1.21875.
    records = [
        Parentage("Z"),
        Parentage("T"),
        Parentage("R", "Z", "T"),
        Parentage("A", "R", "T"),
        Parentage("B", "R", "T"),
        Parentage("D", "A", "B"),
        Parentage("S", "R", "D"),
        Parentage("X", "S", "D"),
    ]
    known = relationships(build_pedigree(records))
    assert [known.inbreeding(x) for x in "ADSX"] == [0.25, 0.375, 0.375, 0.53125]
    assert known.additive("S", "X") == 1.21875
    # Wright's R from the same table: 1.21875 / sqrt(1.375 x 1.53125).
    assert known.wright("S", "X") == pytest.approx(0.83993, rel=1e-4)


def test_unrelated_parents_have_no_inbred_offspring() -> None:
    known = relationships(build_pedigree([Parentage("Marram"), Parentage("Bramble"), Parentage("Sorrel")]))
    assert known.progeny_inbreeding("Marram", "Bramble") == 0
    assert known.wright("Marram", "Bramble") == 0


def test_a_parent_without_a_record_becomes_a_founder() -> None:
    known = relationships(
        build_pedigree([Parentage("a", "s", "d"), Parentage("b", "s", "d"), Parentage("x", "a", "b")])
    )
    assert known.inbreeding("x") == 0.25
    assert known.inbreeding("s") == 0


@pytest.mark.parametrize(
    ("records", "named"),
    [
        ([Parentage("a"), Parentage("a")], "a is recorded twice"),
        ([Parentage("a", "a", None)], "a cannot be its own parent"),
        ([Parentage("x", "s", "s")], "s cannot be sire and dam of x"),
        ([Parentage("a", "b", None), Parentage("b", None, "a")], "its own ancestor"),
        (
            [
                Parentage("c", "a", None),
                Parentage("a", "b", None),
                Parentage("b", None, "a"),
                Parentage("e", "c"),
            ],
            "[ab] is its own ancestor",
        ),
        (
            [
                Parentage("Moss", "Marram", None, date(2026, 3, 1)),
                Parentage("Marram", born_on=date(2026, 3, 1)),
            ],
            "Marram is not older than its offspring Moss",
        ),
    ],
)
def test_an_impossible_pedigree_is_refused_naming_the_animal(records: list[Parentage], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        build_pedigree(records)


def test_an_older_parent_is_accepted_and_unknown_birthdays_are_not_compared() -> None:
    young = Parentage("Moss", "Marram", "Bramble", date(2026, 3, 1))
    pedigree = build_pedigree([young, Parentage("Marram", born_on=date(2024, 2, 29))])
    assert set(pedigree.animals[:2]) == {"Marram", "Bramble"}


def test_an_animal_outside_the_pedigree_and_a_mating_with_itself_are_refused() -> None:
    known = relationships(build_pedigree(FULL_SIBS))
    with pytest.raises(ValueError, match="Teasel is not in the pedigree"):
        known.progeny_inbreeding("s", "Teasel")
    with pytest.raises(ValueError, match="sire and dam of the same offspring"):
        known.progeny_inbreeding("a", "a")


def test_cutting_generations_makes_the_last_ones_founders() -> None:
    records = [*FULL_SIBS, Parentage("o"), Parentage("x", "a", "o"), Parentage("y", "b", "o")]
    pedigree = build_pedigree(records)

    def inbreeding(cut: Pedigree) -> float:
        return relationships(cut).progeny_inbreeding("x", "y")

    assert inbreeding(ancestors_within(pedigree, ["x", "y"])) == pytest.approx(0.125 + 0.0625)
    assert inbreeding(ancestors_within(pedigree, ["x", "y"], 2)) == 0.125
    assert inbreeding(ancestors_within(pedigree, ["x", "y"], 1)) == 0
    with pytest.raises(ValueError):
        ancestors_within(pedigree, ["x"], 0)


def test_a_table_of_too_many_animals_is_refused() -> None:
    records = [Parentage(str(index)) for index in range(MOST_ANIMALS_FOR_A_TABLE + 1)]
    with pytest.raises(ValueError, match="too much memory"):
        relationship_table(build_pedigree(records))


def test_a_line_of_ten_thousand_generations_needs_no_recursion() -> None:
    records = [Parentage("d0"), *(Parentage(f"d{index}", f"d{index - 1}") for index in range(1, 10_000))]
    known = relationships(build_pedigree(reversed(records)))
    assert max(known.coefficients) == 0
    assert known.additive("d0", "d9") == 0.5**9


def test_ten_thousand_dogs_take_seconds() -> None:
    records = _population(10_000, sires=15, dams=60, seed=20260301)
    begun = time.perf_counter()
    coefficients = inbreeding_coefficients(build_pedigree(records))
    elapsed_s = time.perf_counter() - begun
    assert len(coefficients) == 10_000
    assert 0.2 < max(coefficients) < 0.9
    # It takes under a second on two idle cores; ten leave room for a busy machine.
    assert elapsed_s < 10


def test_a_population_agrees_with_the_dense_matrix() -> None:
    records = _population(600, sires=4, dams=15, seed=7)
    known = relationships(build_pedigree(records))
    order, dense = _dense_relationships(records)
    got = numpy.array([known.inbreeding(animal) for animal in order])
    assert numpy.abs(got - (numpy.diag(dense) - 1)).max() < 1e-10
    assert got.max() > 0.25

"""Known generations, and the parts of common ancestors against paths written out."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from litters.domain.ancestry import common_ancestors, known_ancestry, parents_of
from litters.domain.pedigree import Parentage, build_pedigree, relationships
from tests.litters.domain.test_pedigree import FULL_SIBS, pedigrees


def _parts_by_paths(records: list[Parentage], sire: str, dam: str) -> dict[str, float]:
    """Wright's parts (1/2)^(n1+n2+1) (1 + F_A), every path walked; F_A from the checked recursion."""
    parents = {record.animal: (record.sire, record.dam) for record in records}
    known = relationships(build_pedigree(records))

    def lines(start: str) -> list[list[str]]:
        above = [line for parent in parents[start] if parent for line in lines(parent)]
        return [[start], *([start, *line] for line in above)]

    parts: dict[str, float] = {}
    for up in lines(sire):
        for down in lines(dam):
            if up[-1] == down[-1] and not set(up[:-1]) & set(down[:-1]):
                part = 0.5 ** (len(up) + len(down) - 1) * (1 + known.inbreeding(up[-1]))
                parts[up[-1]] = parts.get(up[-1], 0.0) + part
    return parts


@settings(deadline=None)
@given(records=pedigrees(most=10), data=st.data())
def test_the_parts_of_common_ancestors_are_those_of_wrights_paths(
    records: list[Parentage], data: st.DataObject
) -> None:
    names = [record.animal for record in records]
    sire, dam = data.draw(st.sampled_from(names)), data.draw(st.sampled_from(names))
    expected = _parts_by_paths(records, sire, dam) if sire != dam else {}
    known = relationships(build_pedigree(records))
    got = {one.animal: one.contribution for one in common_ancestors(known, sire, dam)} if sire != dam else {}
    assert got == pytest.approx(expected, abs=1e-12)
    if sire != dam:
        assert sum(got.values()) == pytest.approx(known.progeny_inbreeding(sire, dam), abs=1e-12)


def test_full_sibs_share_their_inbreeding_between_both_parents() -> None:
    ancestors = common_ancestors(relationships(build_pedigree(FULL_SIBS)), "a", "b")
    assert [(one.animal, one.contribution, one.share_of_inbreeding) for one in ancestors] == [
        ("s", 0.125, 0.5),
        ("d", 0.125, 0.5),
    ]


def test_an_inbred_common_ancestor_counts_more_and_says_its_own_inbreeding() -> None:
    # Half sibs through an animal of F = 0.25: (1/2)^3 x 1.25 (Wright 1922).
    records = [*FULL_SIBS, Parentage("A", "a", "b"), Parentage("h", "A", "m"), Parentage("k", "A", "n")]
    (only,) = common_ancestors(relationships(build_pedigree(records)), "h", "k")
    assert (only.animal, only.contribution, only.own_inbreeding) == ("A", 0.15625, 0.25)


def test_unrelated_animals_have_no_common_ancestor() -> None:
    assert common_ancestors(relationships(build_pedigree(FULL_SIBS)), "s", "d") == ()


def test_known_generations_are_counted_by_place() -> None:
    records = [*FULL_SIBS, Parentage("x", "a", "b"), Parentage("y", "x", None)]
    pedigree = build_pedigree(records)
    ancestry = known_ancestry(pedigree, *parents_of(pedigree, "x"))
    assert (ancestry.complete_generations, ancestry.deepest_generation) == (2, 2)
    # The same two grandparents stand in all four places: equivalents are 2/2 + 4/4.
    assert ancestry.equivalent_generations == 2
    half = known_ancestry(pedigree, *parents_of(pedigree, "y"))
    assert [(one.generation, one.known, one.possible, one.known_pct) for one in half.by_generation] == [
        (1, 1, 2, 50),
        (2, 2, 4, 50),
        (3, 4, 8, 50),
    ]
    assert half.complete_generations == 0


def test_an_animal_without_parents_has_no_known_generation() -> None:
    pedigree = build_pedigree(FULL_SIBS)
    assert parents_of(pedigree, "s") == (None, None)
    ancestry = known_ancestry(pedigree, None, None)
    assert (ancestry.deepest_generation, ancestry.by_generation) == (0, ())


def test_deep_ancestries_are_counted_but_only_twenty_generations_listed() -> None:
    records = [Parentage("d0"), *(Parentage(f"d{index}", f"d{index - 1}") for index in range(1, 1200))]
    ancestry = known_ancestry(build_pedigree(records), "d1199", None)
    assert ancestry.deepest_generation == 1200
    assert len(ancestry.by_generation) == 20

"""Mendelian shares against counting every gamete by hand and against binomial counting by scipy."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from litters.domain.mendel import (
    CoatColour,
    Inheritance,
    Status,
    be_colour,
    chance_carrier_if_healthy,
    chance_of_at_least_one,
    cross_be,
    cross_recessive,
    mating_cautions,
    merle_cautions,
    read_be_genotype,
    read_status,
)

ALLELES = {Status.CLEAR: "NN", Status.CARRIER: "Nm", Status.AFFECTED: "mm"}
GENOTYPES = [b + e for b in ("BB", "Bb", "bb") for e in ("EE", "Ee", "ee")]


@pytest.mark.parametrize(("sire", "dam"), list(itertools.product(Status, Status)))
def test_a_recessive_cross_is_the_count_of_its_four_squares(sire: Status, dam: Status) -> None:
    squares = [(one + other).count("m") for one in ALLELES[sire] for other in ALLELES[dam]]
    cross = cross_recessive(sire, dam)
    assert (cross.clear, cross.carrier, cross.affected) == tuple(squares.count(n) / 4 for n in range(3))


@pytest.mark.parametrize(("sire", "dam"), list(itertools.product(GENOTYPES, GENOTYPES)))
def test_a_colour_cross_is_the_count_of_its_sixteen_squares(sire: str, dam: str) -> None:
    def gametes(genotype: str) -> list[str]:
        return [b + e for b in genotype[:2] for e in genotype[2:]]

    counted = dict.fromkeys(CoatColour, 0)
    for one, other in itertools.product(gametes(sire), gametes(dam)):
        if one[1] == other[1] == "e":
            counted[CoatColour.YELLOW] += 1
        elif one[0] == other[0] == "b":
            counted[CoatColour.BROWN] += 1
        else:
            counted[CoatColour.BLACK] += 1
    cross = cross_be(sire, dam)
    assert {colour: getattr(cross, colour) * 16 for colour in CoatColour} == counted
    assert sum(cross.genotypes.values()) == 1


def test_two_doubly_mixed_parents_give_nine_three_four() -> None:
    # Little 1957, as quoted: BbEe x BbEe is 9 black : 3 brown : 4 yellow.
    cross = cross_be("BbEe", "BbEe")
    assert (cross.black * 16, cross.brown * 16, cross.yellow * 16) == (9, 3, 4)


@given(share=st.floats(min_value=0, max_value=1), pups=st.integers(min_value=0, max_value=1000))
def test_at_least_one_agrees_with_the_binomial_of_scipy(share: float, pups: int) -> None:
    assert chance_of_at_least_one(share, pups) == pytest.approx(binom.sf(0, pups, share), abs=1e-9)


@given(share=st.floats(min_value=0, max_value=1), pups=st.integers(min_value=0, max_value=999))
def test_one_more_pup_never_lowers_the_chance(share: float, pups: int) -> None:
    assert chance_of_at_least_one(share, pups + 1) >= chance_of_at_least_one(share, pups)


@given(share=st.floats(), pups=st.integers())
def test_any_share_and_count_gives_a_chance_or_is_refused(share: float, pups: int) -> None:
    is_sound = 0 <= share <= 1 and 0 <= pups <= 1000
    try:
        chance = chance_of_at_least_one(share, pups)
    except ValueError:
        assert not is_sound
    else:
        assert is_sound
        assert 0 <= chance <= 1
        assert math.isfinite(chance)


@pytest.mark.parametrize(("sire", "dam"), list(itertools.product(Status, Status)))
def test_the_chance_of_a_healthy_carrier_is_its_share_among_the_healthy(sire: Status, dam: Status) -> None:
    cross = cross_recessive(sire, dam)
    if cross.affected == 1:
        with pytest.raises(ValueError, match="no healthy pup"):
            chance_carrier_if_healthy(sire, dam)
    else:
        expected = cross.carrier / (1 - cross.affected)
        assert chance_carrier_if_healthy(sire, dam) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "inheritance", [Inheritance.X_LINKED, Inheritance.INCOMPLETE_DOMINANCE, Inheritance.RISK_FACTOR]
)
def test_the_recessive_table_is_refused_for_other_inheritance(inheritance: Inheritance) -> None:
    with pytest.raises(ValueError, match="must not be used"):
        cross_recessive(Status.CARRIER, Status.CLEAR, inheritance)


@pytest.mark.parametrize(
    ("text", "status"),
    [("N/N", "clear"), ("N/m", "carrier"), ("m/N", "carrier"), (" m/m ", "affected"), ("Carrier", "carrier")],
)
def test_test_results_are_read_in_both_ways_of_writing(text: str, status: str) -> None:
    assert read_status(text) == status


@pytest.mark.parametrize("text", ["", "maybe", "N", "N/N/N"])
def test_an_unknown_test_result_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        read_status(text)


@pytest.mark.parametrize("text", ["BbEe", "bBeE", "Ee Bb", "eE/bB"])
def test_letters_of_a_genotype_may_stand_in_any_order(text: str) -> None:
    assert read_be_genotype(text) == ("Bb", "Ee")


@pytest.mark.parametrize("text", ["", "Bb", "BbE", "BBBE", "BbEeE", "XxEe", "BbEe1"])
def test_a_broken_genotype_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="B/E genotype"):
        read_be_genotype(text)


@pytest.mark.parametrize(
    ("genotype", "colour"), [("BBee", "yellow"), ("bbee", "yellow"), ("bbEe", "brown"), ("BbEE", "black")]
)
def test_yellow_hides_the_other_locus(genotype: str, colour: str) -> None:
    assert be_colour(genotype) == colour


def test_a_cross_with_affected_pups_says_so_and_a_harmless_one_does_not() -> None:
    assert any("25% of the pups" in text for text in cross_recessive(Status.CARRIER, Status.CARRIER).cautions)
    assert not any(
        "expected to be" in text for text in cross_recessive(Status.CLEAR, Status.AFFECTED).cautions
    )


def test_cautions_of_a_mating_name_the_gene_and_the_missing_test() -> None:
    said = mating_cautions(
        [
            ("eye gene", Status.AFFECTED, Status.CARRIER),
            ("heart gene", Status.CARRIER, None),
            ("coat gene", Status.CLEAR, None),
            ("joint gene", Status.CLEAR, Status.AFFECTED),
        ]
    )
    assert len(said) == 2
    assert said[0].startswith("eye gene: affected × carrier: 50%")
    assert said[1] == "heart gene: one parent carries it and the other is not tested."


@pytest.mark.parametrize(
    ("sire", "dam", "begins"),
    [
        (True, True, "Merle × merle"),
        (True, None, "One parent is merle"),
        (None, True, "One parent is merle"),
        (True, False, None),
        (False, False, None),
        (None, None, None),
    ],
)
def test_merle_is_warned_of_where_both_could_carry_it(
    sire: bool | None, dam: bool | None, begins: str | None
) -> None:
    said = merle_cautions(sire, dam)
    assert [text.startswith(begins or "") for text in said] == ([True] if begins else [])

"""Genetics keys: inbreeding, relationship and Mendelian shares."""

from collections.abc import Callable
from functools import lru_cache

from litters.domain.ancestry import common_ancestors, known_ancestry, parents_of
from litters.domain.mendel import (
    be_colour,
    chance_carrier_if_healthy,
    chance_of_at_least_one,
    cross_be,
    cross_recessive,
    read_status,
)
from litters.domain.pedigree import Parentage, Relationships, build_pedigree, relationships
from litters.domain.planned_mating import inbreeding_level
from tests.reference.inputs import Inputs, PedigreeRow


def _known(inputs: Inputs) -> Relationships:
    return _relationships_of(tuple(inputs.pedigree()))


@lru_cache(maxsize=8)
def _relationships_of(rows: tuple[PedigreeRow, ...]) -> Relationships:
    return relationships(build_pedigree(Parentage(*row) for row in rows))


def _only(output: str, *names: str) -> None:
    if output not in names:
        raise ValueError(f"unknown output {output!r}")


def pedigree_inbreeding(inputs: Inputs, output: str) -> object:
    """F of every animal of the pedigree, by name."""
    _only(output, "F")
    known = _known(inputs)
    return dict(zip(known.pedigree.animals, known.coefficients, strict=True))


def inbreeding(inputs: Inputs, output: str) -> object:
    """F of one animal."""
    _only(output, "F", "inbreeding")
    return _known(inputs).inbreeding(inputs.text(inputs.name_of("animal", "x")))


def relationship_a(inputs: Inputs, output: str) -> object:
    """Additive relationship of two animals."""
    _only(output, "a")
    return _known(inputs).additive(inputs.text("x"), inputs.text("y"))


def kinship(inputs: Inputs, output: str) -> object:
    """Kinship of two animals."""
    _only(output, "f", "kinship")
    return _known(inputs).kinship(inputs.text("x"), inputs.text("y"))


def wright_relationship(inputs: Inputs, output: str) -> object:
    """Wright's coefficient of relationship of two animals."""
    _only(output, "R")
    return _known(inputs).wright(inputs.text("x"), inputs.text("y"))


def progeny_inbreeding(inputs: Inputs, output: str) -> object:
    """F of pups of two animals, or the level at which it is said."""
    _only(output, "F_if_mated", "level")
    value = _known(inputs).progeny_inbreeding(inputs.text("sire"), inputs.text("dam"))
    return value if output == "F_if_mated" else inbreeding_level(value)


def generations_known(inputs: Inputs, output: str) -> object:
    """Depth of an animal's known ancestry, or % of ancestors known by generation."""
    pedigree = _known(inputs).pedigree
    ancestry = known_ancestry(pedigree, *parents_of(pedigree, inputs.text(inputs.name_of("animal", "x"))))
    answers: dict[str, object] = {
        "complete_generations": ancestry.complete_generations,
        "deepest_generation": ancestry.deepest_generation,
        "equivalent_generations": ancestry.equivalent_generations,
        "known_pct": [one.known_pct for one in ancestry.by_generation],
    }
    return answers[_one_of(output, answers)]


def common_ancestor(inputs: Inputs, output: str) -> object:
    """The most influential common ancestor of two animals, or its part of their pups' F."""
    first = common_ancestors(_known(inputs), inputs.text("sire"), inputs.text("dam"))[0]
    answers: dict[str, object] = {"animal": first.animal, "contribution": first.contribution}
    return answers[_one_of(output, answers)]


def cross_of_a_recessive(inputs: Inputs, output: str) -> object:
    """Expected shares, one of them or several in the order asked for."""
    cross = cross_recessive(read_status(inputs.text("sire")), read_status(inputs.text("dam")))
    return _shares({"clear": cross.clear, "carrier": cross.carrier, "affected": cross.affected}, output)


def at_least_one(inputs: Inputs, output: str) -> object:
    """Chance that at least one pup of a litter has it."""
    _only(output, "prob")
    return chance_of_at_least_one(inputs.number("p"), inputs.integer("n"))


def carrier_given_healthy(inputs: Inputs, output: str) -> object:
    """Chance that a healthy pup carries it; the cross as `carrier x carrier` or as sire and dam."""
    _only(output, "prob")
    if "cross" in inputs:
        sire, _, dam = inputs.text("cross").replace("×", "x").partition(" x ")
    else:
        sire, dam = inputs.text("sire"), inputs.text("dam")
    return chance_carrier_if_healthy(read_status(sire), read_status(dam))


def cross_of_be(inputs: Inputs, output: str) -> object:
    """Expected colours, one of them or several in the order asked for."""
    cross = cross_be(inputs.text("sire"), inputs.text("dam"))
    return _shares({"black": cross.black, "brown": cross.brown, "yellow": cross.yellow}, output)


def colour_of_be(inputs: Inputs, output: str) -> object:
    """Colour of one genotype."""
    _only(output, "colour")
    return be_colour(inputs.text("genotype"))


def _shares(shares: dict[str, float], output: str) -> object:
    parts = [shares[_one_of(part.strip(), shares)] for part in output.split("|")]
    return parts if "|" in output else parts[0]


def _one_of(output: str, known: dict[str, float] | dict[str, object]) -> str:
    if output not in known:
        raise ValueError(f"unknown output {output!r}")
    return output


FORMULAS: dict[str, Callable[[Inputs, str], object]] = {
    "pedigree_inbreeding": pedigree_inbreeding,
    "inbreeding": inbreeding,
    "relationship_a": relationship_a,
    "kinship": kinship,
    "wright_relationship": wright_relationship,
    "progeny_F": progeny_inbreeding,
    "generations_known": generations_known,
    "common_ancestor": common_ancestor,
    "cross_recessive": cross_of_a_recessive,
    "p_at_least_one": at_least_one,
    "p_carrier_given_healthy": carrier_given_healthy,
    "cross_BE": cross_of_be,
    "colour_BE": colour_of_be,
}

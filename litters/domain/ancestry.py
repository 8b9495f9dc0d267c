"""How much of an ancestry is known, and which common ancestors an inbreeding comes from.

The share of each common ancestor A is Wright's: the sum over all paths through A that meet nowhere younger of
(1/2)^(n1 + n2 + 1) (1 + F_A) (Wright 1922, Am Nat 56:330-338; from memory).  Instead of walking every path it
is solved from the gene shares: both lines pass through j with chance L_sj L_dj, and that chance is the sum
over the youngest animal A they share of P_A L_Aj^2, a triangular system (own derivation, checked against the
paths).
"""

from dataclasses import dataclass

from litters.domain.pedigree import UNKNOWN, Pedigree, Relationships, gene_shares

DEEPEST_GENERATION_LISTED = 20
NEGLIGIBLE = 1e-12


@dataclass(frozen=True)
class GenerationKnown:
    """Ancestors known in one generation (1 = parents) of 2^generation places."""

    generation: int
    known: int
    possible: int
    known_pct: float


@dataclass(frozen=True)
class KnownAncestry:
    """How deep an ancestry goes: complete generations, the deepest, and equivalents, sum of known (1/2)^g."""

    complete_generations: int
    deepest_generation: int
    equivalent_generations: float
    by_generation: tuple[GenerationKnown, ...]


@dataclass(frozen=True)
class CommonAncestor:
    """A common ancestor with its part of the offspring's F, that part as a share, and its own F."""

    animal: str
    contribution: float
    share_of_inbreeding: float
    own_inbreeding: float


def known_ancestry(pedigree: Pedigree, sire: str | None, dam: str | None) -> KnownAncestry:
    """The ancestry of offspring of two parents, either of them unknown; at most 20 generations are listed."""
    places = {pedigree.position(parent): 1 for parent in (sire, dam) if parent is not None}
    listed: list[GenerationKnown] = []
    deepest, complete, equivalent = 0, 0, 0.0
    while places:
        deepest += 1
        known, possible = sum(places.values()), 2**deepest
        equivalent += known / possible
        complete = deepest if known == possible else complete
        if deepest <= DEEPEST_GENERATION_LISTED:
            listed.append(GenerationKnown(deepest, known, possible, known / possible * 100))
        places = _one_generation_up(pedigree, places)
    return KnownAncestry(complete, deepest, equivalent, tuple(listed))


def common_ancestors(known: Relationships, sire: str, dam: str) -> tuple[CommonAncestor, ...]:
    """Common ancestors of two animals by their part of their offspring's F, greatest first; they sum to F.

    Cost grows with the square of the number of common ancestors.
    """
    pedigree = known.pedigree
    meetings = _first_meetings(pedigree, pedigree.position(sire), pedigree.position(dam))
    contributions = {
        position: chance * (1 + known.coefficients[position]) / 2 for position, chance in meetings.items()
    }
    whole = sum(contributions.values())
    ranked = sorted(contributions.items(), key=lambda item: (-item[1], item[0]))
    return tuple(
        CommonAncestor(pedigree.animals[position], part, part / whole, known.coefficients[position])
        for position, part in ranked
    )


def _first_meetings(pedigree: Pedigree, sire: int, dam: int) -> dict[int, float]:
    """P_A by position: the chance that two random lines up from sire and dam first share the animal A."""
    reach_sire, reach_dam = gene_shares(pedigree, sire), gene_shares(pedigree, dam)
    both = {j: reach_sire[j] * reach_dam[j] for j in reach_sire if j in reach_dam}
    meetings: dict[int, float] = {}
    for youngest in sorted(both, reverse=True):
        chance = both[youngest]
        if chance <= NEGLIGIBLE:
            continue
        meetings[youngest] = chance
        for ancestor, share in gene_shares(pedigree, youngest).items():
            both[ancestor] -= chance * share * share
    return meetings


def _one_generation_up(pedigree: Pedigree, places: dict[int, int]) -> dict[int, int]:
    """How often each animal stands in the next generation of an ancestry."""
    above: dict[int, int] = {}
    for position, times in places.items():
        for parent in pedigree.parents(position):
            above[parent] = above.get(parent, 0) + times
    return above


def parents_of(pedigree: Pedigree, animal: str) -> tuple[str | None, str | None]:
    """Names of the sire and dam of an animal, None for unknown."""
    position = pedigree.position(animal)
    sire, dam = pedigree.sires[position], pedigree.dams[position]
    return (
        None if sire == UNKNOWN else pedigree.animals[sire],
        None if dam == UNKNOWN else pedigree.animals[dam],
    )

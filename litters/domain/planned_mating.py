"""What a planned mating would mean for the inbreeding of its pups, shown before it is saved."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from litters.domain.ancestry import CommonAncestor, KnownAncestry, common_ancestors, known_ancestry
from litters.domain.pedigree import Pedigree, ancestors_within, relationships

AMBER_FROM = 0.125
RED_FROM = 0.25
SOURCE = (
    "Wright 1922, Am Nat 56:330-338; Quaas 1976, Biometrics 32:949-953; Meuwissen & Luo 1992,"
    " Genet Sel Evol 24:305-313"
)


class InbreedingLevel(StrEnum):
    """How loudly a coefficient is said."""

    NONE = "none"
    AMBER = "amber"
    RED = "red"


@dataclass(frozen=True)
class MatingForecast:
    """Expected inbreeding of pups of two animals, relationship of the two, and what it stands on."""

    inbreeding: float
    level: InbreedingLevel
    additive_relationship: float
    kinship: float
    wright_relationship: float
    sire_inbreeding: float
    dam_inbreeding: float
    common_ancestors: tuple[CommonAncestor, ...]
    ancestry: KnownAncestry
    method: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def inbreeding_level(
    inbreeding: float, amber_from: float = AMBER_FROM, red_from: float = RED_FROM
) -> InbreedingLevel:
    """The level of a coefficient, 0..1; the lines are common practice without a source, the kennel's to set.

    ValueError for a coefficient outside 0..1 and for lines that do not rise.
    """
    if not 0 <= inbreeding <= 1:
        raise ValueError(f"a coefficient of inbreeding lies between 0 and 1, not {inbreeding}")
    if not 0 <= amber_from <= red_from <= 1:
        raise ValueError("the lines must rise from amber to red within 0 to 1")
    if inbreeding >= red_from:
        return InbreedingLevel.RED
    return InbreedingLevel.AMBER if inbreeding >= amber_from else InbreedingLevel.NONE


def mating_forecast(
    pedigree: Pedigree,
    sire: str,
    dam: str,
    *,
    generations: int | None = None,
    amber_from: float = AMBER_FROM,
    red_from: float = RED_FROM,
    most_ancestors: int = 5,
) -> MatingForecast:
    """The forecast for pups of two animals, from all known ancestors or from `generations` (1 = parents).

    It asks, it never forbids.  ValueError for an animal outside the pedigree or one animal as both parents.
    """
    used = ancestors_within(pedigree, [sire, dam], generations)
    known = relationships(used)
    inbreeding = known.progeny_inbreeding(sire, dam)
    ancestry = known_ancestry(used, sire, dam)
    level = inbreeding_level(inbreeding, amber_from, red_from)
    return MatingForecast(
        inbreeding,
        level,
        known.additive(sire, dam),
        known.kinship(sire, dam),
        known.wright(sire, dam),
        known.inbreeding(sire),
        known.inbreeding(dam),
        common_ancestors(known, sire, dam)[:most_ancestors],
        ancestry,
        "F = half the additive relationship of the parents (A = L D L')",
        SOURCE,
        (f"sire {sire}", f"dam {dam}", f"{len(used.animals)} animals"),
        _assumptions(ancestry, generations),
        _cautions(level, inbreeding, ancestry),
    )


def _assumptions(ancestry: KnownAncestry, generations: int | None) -> tuple[str, ...]:
    depth = "all known" if generations is None else f"at most {generations}"
    known = ", ".join(f"{one.known_pct:.0f} % in {one.generation}" for one in ancestry.by_generation[:6])
    return (
        f"Generations used: {depth}; ancestors known by generation: {known}.",
        "Unknown ancestors count as unrelated, which makes F come out too low.",
    )


def _cautions(level: InbreedingLevel, inbreeding: float, ancestry: KnownAncestry) -> tuple[str, ...]:
    said: list[str] = []
    if level is InbreedingLevel.RED:
        said.append(
            f"F {inbreeding:.4g}: like full siblings, or parent and offspring, and closer. Is it meant?"
        )
    elif level is InbreedingLevel.AMBER:
        said.append(f"F {inbreeding:.4g}: like half siblings and closer. Is it meant?")
    if ancestry.complete_generations < 3:
        said.append("Fewer than three generations are fully known: a low F says little.")
    said.append("Programs given pedigrees of different depth give different F; compare like with like.")
    return tuple(said)


def forecasts_ranked(pedigree: Pedigree, dam: str, sires: Sequence[str]) -> list[tuple[str, float]]:
    """Possible sires for a dam by the F of their pups, lowest first, equal ones by name."""
    known = relationships(ancestors_within(pedigree, [dam, *sires]))
    return sorted(
        ((sire, known.progeny_inbreeding(sire, dam)) for sire in sires), key=lambda pair: (pair[1], pair[0])
    )

"""Shares of offspring by Mendel's rules: one autosomal recessive gene, and the E and B coat colour loci.

Shares are exact expectations for each pup; litters vary by chance.  The recessive table does not hold for
X-linked genes, incomplete dominance and risk factors of low penetrance (common practice, no source).
Colour rule: Little 1957 and later crosses, as quoted in encyclopaedia and breed-genetics pages.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import product

MOST_PUPS = 1_000
RECESSIVE_SOURCE = "Mendelian segregation of one autosomal recessive gene"
BY_CHANCE = "Shares are expectations for each pup; a litter varies by chance."
BY_PARENTAGE = (
    "'Clear by parentage' holds only when both parents are truly clear and parentage is proved;"
    " it loses value after a couple of generations."
)
OTHER_COLOUR_GENES = (
    "Holds only where no dominant black, agouti, merle, dilution or spotting gene segregates; otherwise other"
    " genes apply."
)


class Status(StrEnum):
    """Result of a test for an autosomal recessive gene: N/N, N/m or m/m."""

    CLEAR = "clear"
    CARRIER = "carrier"
    AFFECTED = "affected"


class Inheritance(StrEnum):
    """How a tested trait is inherited."""

    AUTOSOMAL_RECESSIVE = "autosomal_recessive"
    X_LINKED = "x_linked"
    INCOMPLETE_DOMINANCE = "incomplete_dominance"
    RISK_FACTOR = "risk_factor"


class CoatColour(StrEnum):
    """Colour by the E and B loci alone."""

    BLACK = "black"
    BROWN = "brown"
    YELLOW = "yellow"


@dataclass(frozen=True)
class RecessiveCross:
    """Expected shares of clear, carrier and affected pups; they sum to 1."""

    clear: float
    carrier: float
    affected: float
    method: str
    source: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class ColourCross:
    """Expected shares of black, brown and yellow pups, and of each genotype; both sum to 1."""

    black: float
    brown: float
    yellow: float
    genotypes: Mapping[str, float]
    method: str
    source: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


# The chance that an animal hands on the changed copy of the gene.
_HANDS_ON = {Status.CLEAR: Fraction(0), Status.CARRIER: Fraction(1, 2), Status.AFFECTED: Fraction(1)}
_WRITTEN = {"n/n": Status.CLEAR, "n/m": Status.CARRIER, "m/n": Status.CARRIER, "m/m": Status.AFFECTED}


def read_status(text: str) -> Status:
    """A test result from `clear`, `carrier`, `affected` or N/N, N/m, m/m; ValueError for anything else."""
    written = text.strip().lower()
    return _WRITTEN[written] if written in _WRITTEN else Status(written)


def cross_recessive(
    sire: Status, dam: Status, inheritance: Inheritance = Inheritance.AUTOSOMAL_RECESSIVE
) -> RecessiveCross:
    """Expected shares for two tested parents; ValueError for a gene the recessive table does not fit."""
    if inheritance is not Inheritance.AUTOSOMAL_RECESSIVE:
        raise ValueError(f"the recessive table must not be used for {inheritance.replace('_', ' ')}")
    clear, carrier, affected = _recessive_shares(sire, dam)
    return RecessiveCross(
        float(clear),
        float(carrier),
        float(affected),
        f"{sire} × {dam}",
        RECESSIVE_SOURCE,
        ("One autosomal recessive gene with full penetrance; both results are right.",),
        (*_recessive_cautions(sire, dam, affected), BY_CHANCE, BY_PARENTAGE),
    )


def chance_of_at_least_one(share: float, pups: int) -> float:
    """1 - (1-p)^n: chance that one or more of n pups (0..1,000) has what each has with chance p (0..1)."""
    if not 0 <= share <= 1:
        raise ValueError(f"a share lies between 0 and 1, not {share}")
    if not 0 <= pups <= MOST_PUPS:
        raise ValueError(f"pups must be 0 to {MOST_PUPS}, not {pups}")
    if share == 1:
        return 1.0 if pups else 0.0
    return -math.expm1(pups * math.log1p(-share))


def chance_carrier_if_healthy(sire: Status, dam: Status) -> float:
    """Chance that a pup that is not affected is a carrier; ValueError when every pup is affected."""
    clear, carrier, _ = _recessive_shares(sire, dam)
    if clear + carrier == 0:
        raise ValueError("two affected parents have no healthy pup")
    return float(carrier / (clear + carrier))


def read_be_genotype(text: str) -> tuple[str, str]:
    """The B and E pairs of a genotype such as `BbEe`, letters of a locus together in any order.

    The two loci may be separated by blanks or a slash; ValueError for anything else.
    """
    letters = [letter for letter in text if letter not in " /"]
    b_pair = [letter for letter in letters if letter in "Bb"]
    e_pair = [letter for letter in letters if letter in "Ee"]
    if len(letters) != 4 or len(b_pair) != 2 or len(e_pair) != 2:
        raise ValueError(f"a B/E genotype has two letters B or b and two E or e, not {text!r}")
    return "".join(sorted(b_pair)), "".join(sorted(e_pair))


def be_colour(genotype: str) -> CoatColour:
    """Colour of a B/E genotype: ee yellow whatever B is, E_ B_ black, E_ bb brown."""
    b_pair, e_pair = read_be_genotype(genotype)
    if e_pair == "ee":
        return CoatColour.YELLOW
    return CoatColour.BROWN if b_pair == "bb" else CoatColour.BLACK


def cross_be(sire: str, dam: str) -> ColourCross:
    """Expected colours of pups of two B/E genotypes such as `BbEe` and `bbee`; ValueError for other texts."""
    genotypes: dict[str, Fraction] = {}
    for gametes in product(_gametes(sire), _gametes(dam)):
        b_pair = "".join(sorted(gamete[0] for gamete in gametes))
        e_pair = "".join(sorted(gamete[1] for gamete in gametes))
        genotypes[b_pair + e_pair] = genotypes.get(b_pair + e_pair, Fraction(0)) + Fraction(1, 16)
    shares = {
        colour: sum(
            (part for genotype, part in genotypes.items() if be_colour(genotype) is colour), Fraction()
        )
        for colour in CoatColour
    }
    return ColourCross(
        float(shares[CoatColour.BLACK]),
        float(shares[CoatColour.BROWN]),
        float(shares[CoatColour.YELLOW]),
        {genotype: float(part) for genotype, part in sorted(genotypes.items())},
        f"{sire} × {dam}, two loci that segregate independently",
        "E locus (MC1R) and B locus (TYRP1): Little 1957 and later crosses (as quoted)",
        (OTHER_COLOUR_GENES,),
        (BY_CHANCE,),
    )


def merle_cautions(sire_is_merle: bool | None, dam_is_merle: bool | None) -> tuple[str, ...]:
    """What to say about merle before a mating is saved; None stands for not known (from memory)."""
    if sire_is_merle and dam_is_merle:
        return (
            "Merle × merle: about a quarter of the pups get two copies and may be deaf or blind. Do not mate"
            " them without a vet's advice.",
        )
    if None in (sire_is_merle, dam_is_merle) and (sire_is_merle or dam_is_merle):
        return ("One parent is merle and the other not known: a hidden merle can exist, have it tested.",)
    return ()


def mating_cautions(results: Iterable[tuple[str, Status | None, Status | None]]) -> tuple[str, ...]:
    """What to say about tested genes before a mating is saved: (gene, sire's result, dam's result)."""
    said: list[str] = []
    for gene, sire, dam in results:
        if sire is None or dam is None:
            if Status.CARRIER in (sire, dam) or Status.AFFECTED in (sire, dam):
                said.append(f"{gene}: one parent carries it and the other is not tested.")
            continue
        affected = _recessive_shares(sire, dam)[2]
        said.extend(f"{gene}: {caution}" for caution in _recessive_cautions(sire, dam, affected))
    return tuple(said)


def _recessive_shares(sire: Status, dam: Status) -> tuple[Fraction, Fraction, Fraction]:
    from_sire, from_dam = _HANDS_ON[sire], _HANDS_ON[dam]
    clear = (1 - from_sire) * (1 - from_dam)
    affected = from_sire * from_dam
    return clear, 1 - clear - affected, affected


def _recessive_cautions(sire: Status, dam: Status, affected: Fraction) -> tuple[str, ...]:
    if affected == 0:
        return ()
    return (f"{sire} × {dam}: {float(affected):.0%} of the pups are expected to be affected.",)


def _gametes(genotype: str) -> list[tuple[str, str]]:
    b_pair, e_pair = read_be_genotype(genotype)
    return list(product(b_pair, e_pair))

"""Energy of a food reckoned from its label, two published ways, and the printed figure before both.

A guaranteed analysis states least protein and fat and most fibre and moisture, so what follows from it is
approximate (common practice, no source).  Both ways hold for complete dog foods of usual fibre, about
0 to 8 % as fed (common practice, no source); not for milk replacers and pure supplements.
"""

import math
from dataclasses import dataclass

from feeding.domain.ranges import above_zero, between

ATWATER = "atwater"
FOUR_STEP = "four_step"
PRINTED = "printed"

USUAL_FIBRE_PCT = 8.0
WET_FROM_MOISTURE_PCT = 60.0
ASSUMED_ASH_WET_PCT = 2.5
ASSUMED_ASH_DRY_PCT = 7.5

ESTIMATE = "Label analyses state minima and maxima: the energy reckoned from them is approximate."
PREFER_PRINTED = "Prefer the kcal/kg printed by the maker where it is there."


@dataclass(frozen=True)
class LabelAnalysis:
    """Analysis of a food in % as fed; ash None when the label does not state it."""

    protein_pct: float
    fat_pct: float
    fibre_pct: float
    moisture_pct: float
    ash_pct: float | None = None


@dataclass(frozen=True)
class LabelEnergy:
    """Energy of a food in kcal ME per kg as fed with its method and what was assumed."""

    energy_kcal_per_kg: float
    method: str
    source: str
    is_estimated: bool
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class FourStep:
    """The steps of the four-step method; energies in kcal per 100 g as fed."""

    nfe_pct: float
    gross_energy_kcal_per_100_g: float
    fibre_pct_of_dry_matter: float
    energy_digestibility_pct: float
    digestible_energy_kcal_per_100_g: float
    metabolisable_energy_kcal_per_kg: float


def nitrogen_free_extract_pct(analysis: LabelAnalysis) -> float:
    """NFE, what is left of 100 % after protein, fat, fibre, moisture and ash.

    ValueError for a part outside 0..100 or parts of more than 100 % together.
    """
    parts = (
        analysis.protein_pct,
        analysis.fat_pct,
        analysis.fibre_pct,
        analysis.moisture_pct,
        _ash_pct(analysis),
    )
    for name, part in zip(("protein", "fat", "fibre", "moisture", "ash"), parts, strict=True):
        between(f"{name} in %", part, 0, 100)
    # fsum, because label figures are decimal and 39 must not come out as 38.99999.
    rest = math.fsum((100.0, *(-part for part in parts)))
    if rest < -1e-9:
        raise ValueError("protein, fat, fibre, moisture and ash come to more than 100 %")
    return max(0.0, rest)


def atwater(analysis: LabelAnalysis) -> LabelEnergy:
    """Modified Atwater: ME kcal/kg = 10 (3.5 protein + 8.5 fat + 3.5 NFE).

    Source: AAFCO Model Regulation PF9 (verified in the text of a state code).
    """
    nfe_pct = nitrogen_free_extract_pct(analysis)
    energy_kcal = 10 * math.fsum((3.5 * analysis.protein_pct, 8.5 * analysis.fat_pct, 3.5 * nfe_pct))
    return _answer(energy_kcal, ATWATER, "modified Atwater, AAFCO Model Regulation PF9", analysis)


def four_step(analysis: LabelAnalysis) -> FourStep:
    """The four steps: gross energy, digestibility from fibre of dry matter, digestible, metabolisable energy.

    Source: NRC 2006 p. 65, in FEDIAF's annex on energy the same (read in a quotation).
    """
    nfe_pct = nitrogen_free_extract_pct(analysis)
    if analysis.moisture_pct >= 100:
        raise ValueError("a food of 100 % moisture has no dry matter")
    gross_kcal = math.fsum(
        (5.7 * analysis.protein_pct, 9.4 * analysis.fat_pct, 4.1 * (nfe_pct + analysis.fibre_pct))
    )
    fibre_of_dry = analysis.fibre_pct * 100 / (100 - analysis.moisture_pct)
    digestibility_pct = 91.2 - 1.43 * fibre_of_dry
    if digestibility_pct <= 0:
        raise ValueError("too much fibre for the digestibility equation")
    digestible_kcal = gross_kcal * digestibility_pct / 100
    metabolisable_kcal = digestible_kcal - 1.04 * analysis.protein_pct
    return FourStep(
        nfe_pct, gross_kcal, fibre_of_dry, digestibility_pct, digestible_kcal, 10 * metabolisable_kcal
    )


def four_step_energy(analysis: LabelAnalysis) -> LabelEnergy:
    """The answer of the four-step method as energy of a food."""
    energy_kcal = four_step(analysis).metabolisable_energy_kcal_per_kg
    return _answer(energy_kcal, FOUR_STEP, "four-step method, NRC 2006 p. 65 (as quoted)", analysis)


def energy_of_food(
    analysis: LabelAnalysis | None, printed_kcal_per_kg: float | None = None, method: str = FOUR_STEP
) -> LabelEnergy:
    """Energy of a food: the printed figure when there is one, otherwise from the analysis by `method`.

    ValueError when neither is given, for an unknown method and for a printed figure outside 100..9,500.
    """
    if printed_kcal_per_kg is not None:
        between("printed kcal/kg", printed_kcal_per_kg, 100, 9_500)
        return LabelEnergy(
            printed_kcal_per_kg, PRINTED, "printed by the maker", False, (f"{printed_kcal_per_kg:g} kcal/kg",)
        )
    if analysis is None:
        raise ValueError("a food needs a printed energy or an analysis")
    ways = {ATWATER: atwater, FOUR_STEP: four_step_energy}
    if method not in ways:
        raise ValueError(f"unknown way to label energy {method!r}")
    return ways[method](analysis)


def _answer(energy_kcal: float, method: str, source: str, analysis: LabelAnalysis) -> LabelEnergy:
    above_zero("energy of the food in kcal/kg", energy_kcal)
    assumptions = []
    cautions = [ESTIMATE, PREFER_PRINTED]
    if analysis.ash_pct is None:
        assumptions.append(
            f"Ash is not stated: {_ash_pct(analysis):g} % assumed (common practice, no source)."
        )
    if analysis.fibre_pct > USUAL_FIBRE_PCT:
        cautions.append(f"More fibre ({analysis.fibre_pct:g} %) than the method is meant for.")
    return LabelEnergy(
        energy_kcal,
        method,
        source,
        analysis.ash_pct is None,
        (
            f"protein {analysis.protein_pct:g} %, fat {analysis.fat_pct:g} %, fibre {analysis.fibre_pct:g} %,"
            f" moisture {analysis.moisture_pct:g} %, ash {_ash_pct(analysis):g} %",
        ),
        tuple(assumptions),
        tuple(cautions),
    )


def _ash_pct(analysis: LabelAnalysis) -> float:
    """Ash as stated, else 2.5 % of a wet food and 7.5 % (7-8) of a dry one (common practice, no source)."""
    if analysis.ash_pct is not None:
        return analysis.ash_pct
    is_wet = analysis.moisture_pct >= WET_FROM_MOISTURE_PCT
    return ASSUMED_ASH_WET_PCT if is_wet else ASSUMED_ASH_DRY_PCT

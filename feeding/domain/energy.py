"""Energy needs of dogs in kcal of metabolisable energy (ME) a day, by published method.

Needs differ widely between dogs of one weight, so every answer says which formula it came from and ends in
the advice to follow body condition and the trend of the weight.  Body mass is in kg, above 0 and at most 120;
BWm stands for BW^0.75, p for body mass over expected adult mass.  ValueError outside the ranges given.
"""

import math
from dataclasses import dataclass

from feeding.domain.ranges import ROUNDING, above_zero, dog_mass_kg, not_negative

FOLLOW_THE_DOG = "Needs differ widely from dog to dog: adjust to body condition and the trend of the weight."
IDEAL_WEIGHT = "For a fat or thin adult dog use the ideal weight (common practice, no source)."

ACTIVE_ADULT_FACTOR = 130.0
NRC_2006_ADULT_FACTOR = 132.0
INACTIVE_PET_FACTOR = 95.0

LACTATION_WEEK_FACTORS = {1: 0.75, 2: 0.95, 3: 1.1, 4: 1.2}
PUPS_COUNTED_FULLY = 4
PUPS_COUNTED = 8
LARGEST_LITTER = 30

LATE_GESTATION_FROM_DAY = 30
LATE_GESTATION_FACTOR = 130.0

NEWBORN_KCAL_PER_100_G = 25.0
HALF_GROWN = 0.5
FOUR_FIFTHS_GROWN = 0.8
FEDIAF_STEPS = ((HALF_GROWN, 210.0), (FOUR_FIFTHS_GROWN, 175.0), (1.0, 140.0))


@dataclass(frozen=True)
class EnergyNeed:
    """An energy need in kcal ME a day with what it stands on."""

    energy_kcal_per_day: float
    method: str
    formula: str
    source: str
    inputs: tuple[str, ...]
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = (FOLLOW_THE_DOG,)


@dataclass(frozen=True)
class EnergyRange:
    """An energy need given as a range, kcal ME a day."""

    low_kcal_per_day: float
    high_kcal_per_day: float
    method: str
    source: str
    inputs: tuple[str, ...]
    cautions: tuple[str, ...] = (FOLLOW_THE_DOG,)


def metabolic_mass(mass_kg: float) -> float:
    """BW^0.75 of a body mass in kg."""
    return float(dog_mass_kg("body mass in kg", mass_kg) ** 0.75)


def resting(mass_kg: float) -> EnergyNeed:
    """Resting energy requirement, 70 BWm.

    Source: Small Animal Clinical Nutrition, 5th ed., Table 5-2 (read in a quotation).
    """
    return EnergyNeed(
        70 * metabolic_mass(mass_kg),
        "rer",
        "70 × BW^0.75",
        "Small Animal Clinical Nutrition, 5th ed., Table 5-2 (as quoted)",
        (_mass_text(mass_kg),),
        (IDEAL_WEIGHT,),
    )


def maintenance(mass_kg: float, factor: float = ACTIVE_ADULT_FACTOR) -> EnergyNeed:
    """Need of an adult dog, factor × BWm.

    factor: kcal per kg^0.75, 50..400; 132 is NRC 2006 as quoted by Small Animal Clinical Nutrition,
    130 (active adult) and 95 (inactive pet) are from memory after NRC 2006 and FEDIAF.
    """
    if not 50 <= factor <= 400:
        raise ValueError(f"the activity factor must lie between 50 and 400 kcal per kg^0.75, not {factor}")
    return EnergyNeed(
        factor * metabolic_mass(mass_kg),
        "maintenance",
        f"{factor:g} × BW^0.75",
        "NRC 2006 (132 as quoted in Small Animal Clinical Nutrition; 130 and 95 from memory)",
        (_mass_text(mass_kg), f"activity factor {factor:g}"),
        (IDEAL_WEIGHT,),
    )


def gestation_late(mass_kg: float, factor: float = LATE_GESTATION_FACTOR) -> EnergyNeed:
    """Need of a pregnant dam from week 5 to term, factor × BWm + 26 BW, with her own present weight.

    Source: NRC 2006 Table 15-6 (from memory); FEDIAF prints 132 in place of 130 (from memory).
    """
    if not 100 <= factor <= 160:
        raise ValueError(f"the factor of late gestation must lie between 100 and 160, not {factor}")
    return EnergyNeed(
        factor * metabolic_mass(mass_kg) + 26 * mass_kg,
        "gestation_late",
        f"{factor:g} × BW^0.75 + 26 × BW",
        "NRC 2006 Table 15-6 (from memory, unverified)",
        (_mass_text(mass_kg),),
        ("Holds from week 5 of pregnancy to term; before that the need is that of maintenance.",),
        (FOLLOW_THE_DOG, "Do not add calcium or dairy in pregnancy: it raises the risk of eclampsia."),
    )


def gestation(
    mass_kg: float,
    pregnant_days: int,
    adult_factor: float = ACTIVE_ADULT_FACTOR,
    late_from_day: int = LATE_GESTATION_FROM_DAY,
) -> EnergyNeed:
    """Need on a day of pregnancy, 0..75 completed days: maintenance, then the late formula.

    late_from_day: 28..35; the sources say after about day 30 to 35.
    """
    if not 0 <= pregnant_days <= 75:
        raise ValueError(f"a pregnancy has 0 to 75 days, not {pregnant_days}")
    if not 28 <= late_from_day <= 35:
        raise ValueError(f"late gestation begins between day 28 and 35, not {late_from_day}")
    return gestation_late(mass_kg) if pregnant_days >= late_from_day else maintenance(mass_kg, adult_factor)


def lactation(mass_kg: float, pups: int, week: int) -> EnergyNeed:
    """Need of a nursing dam in weeks 1 to 4, 145 BWm + BW (24 n + 12 m) L.

    pups: sucking pups, 1..30, of which at most 8 count (n = the first four, m = the fifth to eighth).
    week: 1 is days 0-6 after whelping; L is 0.75, 0.95, 1.1, 1.2.  There is no factor beyond week 4.
    Source: NRC 2006 ch. 3 and Table 15-7 (read in a quotation).
    """
    if week not in LACTATION_WEEK_FACTORS:
        raise ValueError(f"the lactation formula holds for weeks 1 to 4, not {week}")
    _check_litter(pups)
    first = min(pups, PUPS_COUNTED_FULLY)
    further = min(pups, PUPS_COUNTED) - first
    energy_kcal = (
        145 * metabolic_mass(mass_kg) + mass_kg * (24 * first + 12 * further) * LACTATION_WEEK_FACTORS[week]
    )
    capped = (f"{pups} pups suck, the formula counts at most {PUPS_COUNTED}.",) if pups > PUPS_COUNTED else ()
    return EnergyNeed(
        energy_kcal,
        "lactation",
        "145 × BW^0.75 + BW × (24 n + 12 m) × L",
        "NRC 2006 ch. 3 and Table 15-7 (as quoted)",
        (_mass_text(mass_kg), f"{pups} pups sucking", f"lactation week {week}"),
        capped,
    )


def lactation_after_week_4(
    mass_kg: float,
    pups: int,
    milk_share: float,
    milk_share_in_week_4: float = 0.9,
    adult_factor: float = ACTIVE_ADULT_FACTOR,
) -> EnergyNeed:
    """Need beyond week 4: the need of week 4, its part above maintenance shrinking with the pups' milk share.

    milk_share: part of the pups' need still met by milk, 0..1; milk_share_in_week_4: above 0, at most 1.
    No published factor exists for these weeks (common practice, no source).
    """
    if not (0 <= milk_share <= 1 and 0 < milk_share_in_week_4 <= 1):
        raise ValueError("shares of milk lie between 0 and 1, and above 0 in week 4")
    peak = lactation(mass_kg, pups, max(LACTATION_WEEK_FACTORS))
    base = maintenance(mass_kg, adult_factor).energy_kcal_per_day
    above_base = max(0.0, peak.energy_kcal_per_day - base)
    return EnergyNeed(
        base + above_base * min(1.0, milk_share / milk_share_in_week_4),
        "lactation_after_week_4",
        "maintenance + (week 4 − maintenance) × milk share / milk share in week 4",
        "common practice, no source; week 4 after NRC 2006",
        (_mass_text(mass_kg), f"{pups} pups sucking", f"{milk_share:.0%} of the pups' need from milk"),
        (
            *peak.assumptions,
            "No published factor covers weeks 5 and later: week 4 is held and tapered with the pups' food.",
        ),
    )


def lactation_peak_by_resting_multiple(mass_kg: float, pups: int, multiple: float = 2.1) -> EnergyNeed:
    """Peak need of a nursing dam the other way: multiple × RER, and a quarter of that more for each pup.

    multiple: 1.5..2.5; Small Animal Clinical Nutrition, 5th ed., states 2.1, its worked case uses 1.9.
    """
    if not 1.5 <= multiple <= 2.5:
        raise ValueError(f"the multiple of RER must lie between 1.5 and 2.5, not {multiple}")
    _check_litter(pups)
    return EnergyNeed(
        multiple * resting(mass_kg).energy_kcal_per_day * (1 + 0.25 * pups),
        "lactation_peak_by_resting_multiple",
        f"{multiple:g} × RER × (1 + 0.25 × pups)",
        "Small Animal Clinical Nutrition, 5th ed., Table 15-10 and its worked case",
        (_mass_text(mass_kg), f"{pups} pups sucking"),
        ("Peak of lactation, weeks 3 to 4.",),
    )


def resting_multiple_range(mass_kg: float, condition: str) -> EnergyRange:
    """Range of need as multiples of RER; condition: gestation_weeks_1_4, gestation_last_5_weeks or lactation.

    Source: Small Animal Clinical Nutrition, 5th ed., Table 15-10.
    """
    multiples = {
        "gestation_weeks_1_4": (1.8, 2.0),
        "gestation_last_5_weeks": (2.2, 3.5),
        "lactation": (4.0, 8.0),
    }
    if condition not in multiples:
        raise ValueError(f"no multiples of RER for {condition!r}")
    low, high = multiples[condition]
    rer_kcal = resting(mass_kg).energy_kcal_per_day
    return EnergyRange(
        low * rer_kcal,
        high * rer_kcal,
        f"{low:g} to {high:g} × RER",
        "Small Animal Clinical Nutrition, 5th ed., Table 15-10",
        (_mass_text(mass_kg), condition),
    )


def newborn(mass_g: float) -> EnergyNeed:
    """Need of an unweaned pup, 25 kcal per 100 g; mass_g: above 0, at most 20,000.

    Source: NRC 2006 and FEDIAF (read in quotations).  Other texts give as little as 13 to 20 kcal per 100 g.
    """
    above_zero("pup's mass in g", mass_g, 20_000)
    return EnergyNeed(
        NEWBORN_KCAL_PER_100_G * mass_g / 100,
        "newborn",
        "25 kcal × 100 g",
        "NRC 2006 and FEDIAF (as quoted)",
        (f"body mass {mass_g:g} g",),
        ("Unweaned pup.",),
        ("Published needs differ almost two-fold: start low, with a healthy gain as the aim, and raise.",),
    )


def growth_nrc(mass_kg: float, adult_mass_kg: float) -> EnergyNeed:
    """Need of a weaned, growing pup, 130 BWm × 3.2 × (e^(-0.87 p) - 0.1), p at most 1.

    Source: NRC 2006 Table 15-2 (read in a quotation).  It overpredicts in small breeds (17 terriers of one
    small breed needed less at every age: Animals 2021, 11:1380).
    """
    grown = _grown_share(mass_kg, adult_mass_kg)
    energy_kcal = 130 * metabolic_mass(mass_kg) * 3.2 * (math.exp(-0.87 * grown) - 0.1)
    cautions = (FOLLOW_THE_DOG, "NRC's growth formula runs high, in small breeds most of all.")
    formula = "130 × BW^0.75 × 3.2 × (e^(−0.87 p) − 0.1)"
    source = "NRC 2006 Table 15-2 (as quoted)"
    return _growth(energy_kcal, "growth_nrc", formula, source, mass_kg, adult_mass_kg, cautions)


def growth_klein(mass_kg: float, adult_mass_kg: float) -> EnergyNeed:
    """Need of a weaned, growing pup, (254.1 - 135.0 p) BWm, p at most 1.

    Source: Klein et al. 2019, taken up by FEDIAF from 2020 (from memory).
    """
    grown = _grown_share(mass_kg, adult_mass_kg)
    energy_kcal = (254.1 - 135.0 * grown) * metabolic_mass(mass_kg)
    source = "Klein et al. 2019, FEDIAF from 2020 (from memory, unverified)"
    formula = "(254.1 − 135.0 p) × BW^0.75"
    return _growth(energy_kcal, "growth_klein", formula, source, mass_kg, adult_mass_kg)


def growth_fediaf_step(mass_kg: float, adult_mass_kg: float) -> EnergyNeed:
    """Need of a weaned, growing pup, 210 BWm up to half the adult mass, 175 up to 80 %, 140 above.

    Source: FEDIAF 2021 as tabulated in a nursing journal, September 2022 (read in a quotation).  That exactly
    0.5 still takes 210 and exactly 0.8 takes 175 is common practice; the sources do not say.
    """
    grown = _grown_share(mass_kg, adult_mass_kg)
    factor = next(factor for limit, factor in FEDIAF_STEPS if grown <= limit * (1 + ROUNDING))
    energy_kcal = factor * metabolic_mass(mass_kg)
    source = "FEDIAF 2021 (as tabulated in a veterinary nursing journal, 2022)"
    formula = f"{factor:g} × BW^0.75"
    return _growth(energy_kcal, "growth_fediaf_step", formula, source, mass_kg, adult_mass_kg)


def dry_grams_per_day(energy_kcal_per_day: float, energy_kcal_per_kg: float) -> float:
    """Grams of a food as fed that hold an energy need; kcal a day 0 or more, food 100..9,500 kcal/kg."""
    not_negative("energy need", energy_kcal_per_day)
    if not 100 <= energy_kcal_per_kg <= 9_500:
        raise ValueError(f"a food holds 100 to 9,500 kcal/kg, not {energy_kcal_per_kg}")
    grams = energy_kcal_per_day / energy_kcal_per_kg * 1000
    if not math.isfinite(grams):
        raise ValueError(f"no food holds {energy_kcal_per_day} kcal")
    return grams


def _growth(
    energy_kcal: float,
    method: str,
    formula: str,
    source: str,
    mass_kg: float,
    adult_mass_kg: float,
    cautions: tuple[str, ...] = (FOLLOW_THE_DOG,),
) -> EnergyNeed:
    return EnergyNeed(
        energy_kcal,
        method,
        formula,
        source,
        (_mass_text(mass_kg), f"expected adult mass {adult_mass_kg:g} kg"),
        ("Published for weaned pups; the expected adult mass is itself an estimate.",),
        cautions,
    )


def _grown_share(mass_kg: float, adult_mass_kg: float) -> float:
    """p, the part of the expected adult mass reached; ValueError above 1, where growth formulae end."""
    grown = dog_mass_kg("body mass in kg", mass_kg) / dog_mass_kg("expected adult mass in kg", adult_mass_kg)
    if grown > 1 + ROUNDING:
        raise ValueError(
            f"{mass_kg:g} kg is above the expected adult mass of {adult_mass_kg:g} kg: correct that estimate"
            " or use the adult's maintenance"
        )
    return min(grown, 1.0)


def _check_litter(pups: int) -> None:
    if not 1 <= pups <= LARGEST_LITTER:
        raise ValueError(f"sucking pups must be 1 to {LARGEST_LITTER}, not {pups}")


def _mass_text(mass_kg: float) -> str:
    return f"body mass {mass_kg:g} kg"

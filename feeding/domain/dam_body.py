"""Milk output of a nursing dam and the weight she gains in pregnancy."""

from dataclasses import dataclass

from feeding.domain.ranges import dog_mass_kg, finite

PEAK_DAY_SHARE = 0.04
LARGEST_LITTER = 30
PREGNANCY_GAIN_LOW_PCT = 15.0
PREGNANCY_GAIN_HIGH_PCT = 25.0


@dataclass(frozen=True)
class PregnancyGain:
    """A dam's gain over her weight before breeding, and the published gain by term in kg."""

    gain_kg: float
    gain_pct: float
    at_term_low_kg: float
    at_term_high_kg: float
    source: str
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def total_milk_l(mass_kg: float, pups: int) -> float:
    """Milk of a whole lactation to day 45 in litres, k BW + (pups - 4) 0.1 BW.

    k is 1.6 up to 8 kg, 1.8 between 8 and 25 kg, 2.0 from 25 kg; pups 1..30.
    Source: Grandjean 1986 in Small Animal Clinical Nutrition, 5th ed., Table 15-8.
    """
    dog_mass_kg("body mass in kg", mass_kg)
    if not 1 <= pups <= LARGEST_LITTER:
        raise ValueError(f"sucking pups must be 1 to {LARGEST_LITTER}, not {pups}")
    per_kg = 1.6 if mass_kg <= 8 else 1.8 if mass_kg < 25 else 2.0
    return per_kg * mass_kg + (pups - 4) * 0.1 * mass_kg


def peak_milk_l_per_day(mass_kg: float, pups: int) -> float:
    """Milk on the peak day, in weeks 3 to 4, in litres: 4 % of the whole (same source)."""
    return PEAK_DAY_SHARE * total_milk_l(mass_kg, pups)


def pregnancy_gain(pre_breeding_mass_kg: float, mass_kg: float) -> PregnancyGain:
    """Gain of a pregnant dam so far against the published 15 to 25 % by term.

    Source: Small Animal Clinical Nutrition, 5th ed., Table 15-2 (about 25 %); 15 to 25 % as quoted elsewhere.
    """
    dog_mass_kg("mass before breeding in kg", pre_breeding_mass_kg)
    gain_kg = dog_mass_kg("body mass in kg", mass_kg) - pre_breeding_mass_kg
    gain_pct = finite("gain in %", gain_kg / pre_breeding_mass_kg * 100)
    cautions = []
    if gain_pct > PREGNANCY_GAIN_HIGH_PCT:
        cautions.append("More than the published gain by term: look at her condition, ask the vet.")
    if gain_kg < 0:
        cautions.append("She weighs less than before breeding: ask the vet.")
    return PregnancyGain(
        gain_kg,
        gain_pct,
        pre_breeding_mass_kg * (1 + PREGNANCY_GAIN_LOW_PCT / 100),
        pre_breeding_mass_kg * (1 + PREGNANCY_GAIN_HIGH_PCT / 100),
        "Small Animal Clinical Nutrition, 5th ed., Table 15-2; 15 to 25 % as quoted elsewhere",
        ("Her weight before breeding is taken as her right weight.",),
        tuple(cautions),
    )

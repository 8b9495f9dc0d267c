"""Softened food: what a soak of dry food and water holds, and how much dry food was really eaten.

Water adds mass, never energy, so a ration is reckoned on the dry weight.  A ratio by volume is not one by
weight: dry food weighs about 0.35 to 0.45 g/mL (common practice, no source), which makes one part food to one
part water by volume about 1 : 2.5 by weight.
"""

from dataclasses import dataclass

from feeding.domain.ranges import above_zero, between, finite, not_negative

DRY_FOOD_G_PER_ML = 0.40
DRY_FOOD_G_PER_ML_LOW = 0.35
DRY_FOOD_G_PER_ML_HIGH = 0.45
WATER_G_PER_ML = 1.0
LARGEST_BOWL_G = 100_000.0

DENSITY_ASSUMED = (
    f"Dry food assumed at {DRY_FOOD_G_PER_ML:.2f} g/mL ({DRY_FOOD_G_PER_ML_LOW:.2f} to"
    f" {DRY_FOOD_G_PER_ML_HIGH:.2f}; common practice, no source): weigh one level cup to replace it."
)
SOAK_CAUTIONS = (
    "Soak about 2 h, cool and covered; once warmed or offered, lift it after 20 to 30 min and throw it away.",
)


@dataclass(frozen=True)
class SoakRatio:
    """Parts of food to parts of water by volume; water may be 0."""

    food_parts: float
    water_parts: float

    def __post_init__(self) -> None:
        above_zero("parts of food", self.food_parts, 100)
        between("parts of water", self.water_parts, 0, 100)
        between("parts of water to one of food", self.water_parts / self.food_parts, 0, 100)

    def __str__(self) -> str:
        return f"{self.food_parts:g}:{self.water_parts:g}"


@dataclass(frozen=True)
class SoakMix:
    """A soak of food and water: masses in g, energy in kcal ME."""

    dry_g: float
    water_ml: float
    mass_g: float
    moisture_pct: float
    energy_kcal: float
    energy_kcal_per_g: float
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = SOAK_CAUTIONS


@dataclass(frozen=True)
class Eaten:
    """What of an offered bowl was eaten, in dry grams and kcal, and the share of it."""

    dry_g: float
    energy_kcal: float
    share: float


def soak_moisture_pct(dry_g: float, dry_moisture_pct: float, water_ml: float) -> float:
    """Moisture of a soak in % of its mass; dry food above 0 g, water 0 mL or more."""
    above_zero("dry food in g", dry_g, LARGEST_BOWL_G)
    between("moisture in %", dry_moisture_pct, 0, 100)
    between("water in mL", water_ml, 0, LARGEST_BOWL_G)
    water_g = dry_g * dry_moisture_pct / 100 + water_ml * WATER_G_PER_ML
    return water_g / mix_mass_g(dry_g, water_ml) * 100


def mix_mass_g(dry_g: float, water_ml: float) -> float:
    """Mass of a soak in g: dry food and water together."""
    above_zero("dry food in g", dry_g, LARGEST_BOWL_G)
    between("water in mL", water_ml, 0, LARGEST_BOWL_G)
    return dry_g + water_ml * WATER_G_PER_ML


def soak_energy_kcal(dry_g: float, energy_kcal_per_g: float) -> float:
    """Energy of a soak in kcal: that of its dry food, whatever the water; food 0.1..9.5 kcal/g."""
    above_zero("dry food in g", dry_g, LARGEST_BOWL_G)
    between("energy of the dry food in kcal/g", energy_kcal_per_g, 0.1, 9.5)
    return dry_g * energy_kcal_per_g


def soak_energy_kcal_per_g(dry_g: float, energy_kcal_per_g: float, water_ml: float) -> float:
    """Energy density of a soak in kcal per g of the wet mix."""
    return soak_energy_kcal(dry_g, energy_kcal_per_g) / mix_mass_g(dry_g, water_ml)


def mix_by_weight(dry_g: float, water_ml: float, energy_kcal_per_kg: float, moisture_pct: float) -> SoakMix:
    """A soak from weighed dry food (energy 100..9,500 kcal/kg as fed) and measured water."""
    energy_kcal_per_g = energy_kcal_per_kg / 1000
    return SoakMix(
        dry_g,
        water_ml,
        mix_mass_g(dry_g, water_ml),
        soak_moisture_pct(dry_g, moisture_pct, water_ml),
        soak_energy_kcal(dry_g, energy_kcal_per_g),
        soak_energy_kcal_per_g(dry_g, energy_kcal_per_g, water_ml),
    )


def mix_by_volume(
    dry_ml: float,
    ratio: SoakRatio,
    energy_kcal_per_kg: float,
    moisture_pct: float,
    density_g_per_ml: float | None = None,
) -> SoakMix:
    """A soak from dry food measured by volume; density 0.1..1.2 g/mL, assumed 0.40 when not given."""
    above_zero("dry food in mL", dry_ml, LARGEST_BOWL_G)
    dry_g = dry_ml * _density(density_g_per_ml)
    water_ml = dry_ml * ratio.water_parts / ratio.food_parts
    mix = mix_by_weight(dry_g, water_ml, energy_kcal_per_kg, moisture_pct)
    assumptions = () if density_g_per_ml is not None else (DENSITY_ASSUMED,)
    return SoakMix(
        mix.dry_g,
        mix.water_ml,
        mix.mass_g,
        mix.moisture_pct,
        mix.energy_kcal,
        mix.energy_kcal_per_g,
        assumptions,
    )


def water_for_dry_ml(dry_g: float, ratio: SoakRatio, density_g_per_ml: float | None = None) -> float:
    """Water in mL that soaks a weighed amount of dry food (0 g or more) in a ratio by volume."""
    not_negative("dry food in g", dry_g)
    volume_ml = finite("volume of dry food", dry_g / _density(density_g_per_ml))
    return finite("water", volume_ml * ratio.water_parts / ratio.food_parts)


def water_range_ml(
    dry_g: float, ratio: SoakRatio, density_g_per_ml: float | None = None
) -> tuple[float, float]:
    """Least and most water in mL for a ratio by volume, over the usual densities when none is known."""
    if density_g_per_ml is not None:
        known_ml = water_for_dry_ml(dry_g, ratio, density_g_per_ml)
        return known_ml, known_ml
    return (
        water_for_dry_ml(dry_g, ratio, DRY_FOOD_G_PER_ML_HIGH),
        water_for_dry_ml(dry_g, ratio, DRY_FOOD_G_PER_ML_LOW),
    )


def eaten(offered_dry_g: float, offered_mix_g: float, left_mix_g: float, energy_kcal_per_kg: float) -> Eaten:
    """What was eaten of a bowl whose leftovers were weighed wet: offered dry × (1 - left / offered mix).

    ValueError when more came back than was offered, or the dry food outweighs its mix.
    """
    above_zero("offered mix in g", offered_mix_g, LARGEST_BOWL_G)
    between("offered dry food in g", offered_dry_g, 0, offered_mix_g)
    between("leftovers in g", left_mix_g, 0, offered_mix_g)
    between("energy in kcal/kg", energy_kcal_per_kg, 100, 9_500)
    share = 1 - left_mix_g / offered_mix_g
    dry_g = offered_dry_g * share
    return Eaten(dry_g, dry_g * energy_kcal_per_kg / 1000, share)


def _density(density_g_per_ml: float | None) -> float:
    """The density given, 0.1..1.2 g/mL, or the assumed one."""
    if density_g_per_ml is None:
        return DRY_FOOD_G_PER_ML
    return between("density in g/mL", density_g_per_ml, 0.1, 1.2)

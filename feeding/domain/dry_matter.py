"""Contents of a food as fed, on dry matter and per 1000 kcal; percentages are mass percentages.

Plain arithmetic: dry matter % = 100 - moisture %.  ValueError outside the ranges given.
"""

from feeding.domain.ranges import above_zero, between, finite


def dry_matter_pct(moisture_pct: float) -> float:
    """Dry matter of a food in % of its mass; moisture 0..100, 100 excluded."""
    between("moisture in %", moisture_pct, 0, 100)
    dry = 100 - moisture_pct
    if dry <= 0:
        raise ValueError("a food of 100 % moisture has no dry matter")
    return dry


def on_dry_matter_pct(as_fed_pct: float, moisture_pct: float) -> float:
    """A content stated as fed, in % of dry matter; it cannot exceed the dry matter itself."""
    dry = dry_matter_pct(moisture_pct)
    between("content as fed in %", as_fed_pct, 0, dry)
    return as_fed_pct * 100 / dry


def as_fed_pct(on_dry_matter: float, moisture_pct: float) -> float:
    """A content stated on dry matter (0..100 %), in % as fed."""
    between("content of dry matter in %", on_dry_matter, 0, 100)
    return on_dry_matter * dry_matter_pct(moisture_pct) / 100


def grams_per_1000_kcal(on_dry_matter_pct: float, energy_kcal_per_g_dry_matter: float) -> float:
    """Grams of a nutrient per 1000 kcal ME; content 0..100 % of dry matter, energy 0.1..9.5 kcal/g."""
    between("content of dry matter in %", on_dry_matter_pct, 0, 100)
    between("energy of dry matter in kcal/g", energy_kcal_per_g_dry_matter, 0.1, 9.5)
    return on_dry_matter_pct * 10 / energy_kcal_per_g_dry_matter


def energy_kcal_per_g_dry_matter(energy_kcal_per_kg_as_fed: float, moisture_pct: float) -> float:
    """Energy density of the dry matter from that of the food as fed."""
    above_zero("energy in kcal/kg", energy_kcal_per_kg_as_fed, 9_500)
    return finite("energy of dry matter", energy_kcal_per_kg_as_fed / 10 / dry_matter_pct(moisture_pct))

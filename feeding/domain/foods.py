"""A food as a ration sees it: energy as fed, dry or wet, and how its dry pieces fill a measure."""

from dataclasses import dataclass

from feeding.domain.gruel import DENSITY_ASSUMED
from feeding.domain.ranges import between

WET_FOOD_G_PER_ML = 1.0
WET_DENSITY_ASSUMED = "Wet food taken as 1 g/mL (common practice, no source)."


@dataclass(frozen=True)
class Food:
    """A food: energy 100..9,500 kcal ME per kg as fed, where that figure comes from, and its density.

    density_g_per_ml: of the food as poured, 0.1..1.2; None lets the usual range stand, named as assumed.
    """

    name: str
    energy_kcal_per_kg: float
    energy_source: str
    is_dry: bool = True
    density_g_per_ml: float | None = None

    def __post_init__(self) -> None:
        between(f"energy of {self.name} in kcal/kg", self.energy_kcal_per_kg, 100, 9_500)
        if self.density_g_per_ml is not None:
            between(f"density of {self.name} in g/mL", self.density_g_per_ml, 0.1, 1.2)

    @property
    def known_density_g_per_ml(self) -> float | None:
        """The density to reckon with; None only for dry food whose density nobody measured."""
        if self.density_g_per_ml is None and not self.is_dry:
            return WET_FOOD_G_PER_ML
        return self.density_g_per_ml

    @property
    def density_assumptions(self) -> tuple[str, ...]:
        """What is assumed about the density, in words; empty when it was measured."""
        if self.density_g_per_ml is not None:
            return ()
        return (DENSITY_ASSUMED if self.is_dry else WET_DENSITY_ASSUMED,)

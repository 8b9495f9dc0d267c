"""Rules of foods: their energy follows from the label."""

from collections.abc import Sequence

from feeding.choices import FoodKind
from feeding.domain.label_energy import ATWATER, LabelAnalysis, LabelEnergy, energy_of_food
from feeding.inputs import FoodInput
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft


def foods_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Fill in the energy: printed, else modified Atwater; refuse a food nobody could reckon with."""
    for draft in drafts:
        food: FoodInput = draft.input
        if food.kind == FoodKind.REPLACER and food.milk_kcal_per_ml is None:
            draft.refuse(
                invalid("milk_kcal_per_ml", "energy_needed", "A replacer needs its kcal per mL as made up.")
            )
            continue
        try:
            energy = _energy(food)
        except ValueError as error:
            draft.refuse(invalid("protein_pct", "analysis", f"{str(error).capitalize()}."))
            continue
        if energy is None and food.kind != FoodKind.REPLACER:
            text = "Give the printed kcal/kg, or protein, fat, fibre and moisture (and ash)."
            draft.refuse(invalid("printed_kcal_per_kg", "energy_needed", text))
            continue
        if energy is not None and not 100 <= energy.energy_kcal_per_kg <= 9500:
            draft.refuse(invalid("protein_pct", "energy", "By its analysis this food has hardly any energy."))
            continue
        draft.columns |= {
            "energy_kcal_per_kg": None if energy is None else f"{energy.energy_kcal_per_kg:.1f}",
            "energy_method": "" if energy is None else energy.method,
            "energy_is_estimated": energy is not None and energy.is_estimated,
        }


def _energy(food: FoodInput) -> LabelEnergy | None:
    """The energy by the label; None when it does not tell.  A replacer's powder only by its printed figure."""
    analysis = None
    told = [food.protein_pct, food.fat_pct, food.fibre_pct, food.moisture_pct]
    if None not in told and food.kind != FoodKind.REPLACER:
        protein, fat, fibre, moisture = (float(part or 0) for part in told)
        ash = None if food.ash_pct is None else float(food.ash_pct)
        analysis = LabelAnalysis(protein, fat, fibre, moisture, ash)
    printed = None if food.printed_kcal_per_kg is None else float(food.printed_kcal_per_kg)
    if printed is None and analysis is None:
        return None
    return energy_of_food(analysis, printed, ATWATER)

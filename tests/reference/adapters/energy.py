"""Energy and feeding keys: needs, label energy, milk, dry matter and soaks."""

from collections.abc import Callable, Mapping

from feeding.domain import energy
from feeding.domain.dam_body import peak_milk_l_per_day, pregnancy_gain, total_milk_l
from feeding.domain.dry_matter import as_fed_pct, grams_per_1000_kcal, on_dry_matter_pct
from feeding.domain.gruel import (
    SoakRatio,
    eaten,
    soak_energy_kcal,
    soak_energy_kcal_per_g,
    soak_moisture_pct,
    water_for_dry_ml,
)
from feeding.domain.label_energy import LabelAnalysis, atwater, four_step
from feeding.domain.milk import (
    STOMACH_LIMIT_ML_PER_100_G,
    BottlePlan,
    bottle_plan,
    milk_energy_kcal_per_day,
    milk_volume_ml_per_day,
    minimum_feeds_per_day,
    stomach_limit_ml,
)
from feeding.domain.stages import default_stages, stage_on
from litters.domain.units import ENERGY_UNITS, energy_in, energy_kcal
from tests.reference.inputs import Inputs

Adapter = Callable[[Inputs, str], object]


def _need(reckon: Callable[[Inputs], energy.EnergyNeed]) -> Adapter:
    """An adapter that gives a need in kcal, kj or mj a day."""

    def adapter(inputs: Inputs, output: str) -> object:
        unit = output.lower()
        if unit not in ENERGY_UNITS:
            raise ValueError(f"unknown output {output!r}")
        return energy_in(reckon(inputs).energy_kcal_per_day, unit)

    return adapter


def _one(output_name: str, reckon: Callable[[Inputs], object]) -> Adapter:
    """An adapter with a single output."""

    def adapter(inputs: Inputs, output: str) -> object:
        if output != output_name:
            raise ValueError(f"unknown output {output!r}")
        return reckon(inputs)

    return adapter


def _pick(answers: Mapping[str, object], output: str) -> object:
    if output not in answers:
        raise ValueError(f"unknown output {output!r}")
    return answers[output]


def _bw(inputs: Inputs) -> float:
    return inputs.mass_kg("bw")


def _maintenance(inputs: Inputs) -> energy.EnergyNeed:
    return (
        energy.maintenance(_bw(inputs), inputs.number("k"))
        if "k" in inputs
        else energy.maintenance(_bw(inputs))
    )


def _gestation_late(inputs: Inputs) -> energy.EnergyNeed:
    if "k" in inputs:
        return energy.gestation_late(_bw(inputs), inputs.number("k"))
    return energy.gestation_late(_bw(inputs))


def _lactation(inputs: Inputs) -> energy.EnergyNeed:
    return energy.lactation(_bw(inputs), inputs.integer("pups"), inputs.integer("week"))


def _growth(formula: Callable[[float, float], energy.EnergyNeed]) -> Adapter:
    return _need(lambda inputs: formula(_bw(inputs), inputs.mass_kg("adult")))


def _newborn(inputs: Inputs) -> energy.EnergyNeed:
    stem = "pup" if any(name.startswith("pup_") for name in inputs) else "bw"
    return energy.newborn(inputs.mass_g(stem))


def _grams_per_day(inputs: Inputs) -> float:
    per_kg = inputs.name_of("kcal_per_kg", "kj_per_kg", "mj_per_kg")
    return energy.dry_grams_per_day(
        inputs.energy_kcal(""), energy_kcal(inputs.number(per_kg), per_kg.removesuffix("_per_kg"))
    )


def _analysis(inputs: Inputs) -> LabelAnalysis:
    moisture = inputs.name_of("moist", "moisture")
    return LabelAnalysis(
        inputs.number("cp"),
        inputs.number("fat"),
        inputs.number("cf"),
        inputs.number(moisture),
        inputs.number("ash") if "ash" in inputs else None,
    )


def _atwater(inputs: Inputs) -> float:
    return atwater(_analysis(inputs)).energy_kcal_per_kg


def _four_step(inputs: Inputs, output: str) -> object:
    steps = four_step(_analysis(inputs))
    answers = {
        "nfe_pct": steps.nfe_pct,
        "ge_kcal_100g": steps.gross_energy_kcal_per_100_g,
        "cf_pct_dm": steps.fibre_pct_of_dry_matter,
        "energy_digestibility_pct": steps.energy_digestibility_pct,
        "de_kcal_100g": steps.digestible_energy_kcal_per_100_g,
        "me_kcal_kg": steps.metabolisable_energy_kcal_per_kg,
    }
    return _pick(answers, output)


def _stomach_cap(inputs: Inputs) -> float:
    return stomach_limit_ml(inputs.mass_g("pup"), _limit(inputs))


def _limit(inputs: Inputs) -> float:
    if "cap_ml_per_100g" in inputs:
        return inputs.number("cap_ml_per_100g")
    return STOMACH_LIMIT_ML_PER_100_G


def _share(inputs: Inputs) -> float:
    return inputs.number("share") if "share" in inputs else 1.0


def _milk_kcal(inputs: Inputs) -> float:
    return milk_energy_kcal_per_day(inputs.mass_g("pup"), inputs.number("kcal_per_100g"), _share(inputs))


def _milk_ml_day(inputs: Inputs) -> float:
    return milk_volume_ml_per_day(
        inputs.mass_g("pup"), inputs.number("kcal_per_100g"), inputs.number("kcal_per_ml"), _share(inputs)
    )


def _min_feeds(inputs: Inputs) -> int:
    return minimum_feeds_per_day(_milk_ml_day(inputs), _stomach_cap(inputs))


def _bottle_plan(inputs: Inputs) -> BottlePlan:
    return bottle_plan(
        inputs.mass_g("pup"),
        inputs.number("kcal_per_100g"),
        inputs.number("kcal_per_ml"),
        inputs.integer("feeds"),
        _limit(inputs),
        _share(inputs),
    )


def _soak_moisture(inputs: Inputs) -> float:
    return soak_moisture_pct(inputs.mass_g("dry"), inputs.number("dry_moisture"), _water_ml(inputs))


def _water_ml(inputs: Inputs) -> float:
    """Water weighed or measured: 1 g is 1 mL in the product's reckoning."""
    if "water_ml" in inputs or "water_l" in inputs:
        return inputs.volume_ml("water")
    return inputs.mass_g("water")


def _soak_kcal_per_g(inputs: Inputs) -> float:
    return soak_energy_kcal_per_g(inputs.mass_g("dry"), inputs.number("kcal_per_g"), _water_ml(inputs))


def _soak_kcal(inputs: Inputs) -> float:
    return soak_energy_kcal(inputs.mass_g("dry"), inputs.number("kcal_per_g"))


def _soak_water(inputs: Inputs) -> float:
    ratio = SoakRatio(inputs.number("food_parts"), inputs.number("water_parts"))
    density = inputs.number("g_per_ml") if "g_per_ml" in inputs else None
    return water_for_dry_ml(inputs.mass_g("dry"), ratio, density)


def _dry_eaten(inputs: Inputs) -> float:
    return eaten(
        inputs.mass_g("offered_dry"),
        inputs.mass_g("offered_mix"),
        inputs.mass_g("left"),
        inputs.number("kcal_per_kg"),
    ).dry_g


def _stage(inputs: Inputs, output: str) -> object:
    stage = stage_on(default_stages(), inputs.integer("age_days"))
    if stage is None:
        return "milk"
    soak = "dry" if stage.soak is None else str(stage.soak)
    answers = {"meals": stage.meals_per_day, "share": stage.share_from_food, "soak": soak}
    return _pick(answers, output)


def _pregnancy_gain(inputs: Inputs) -> float:
    return pregnancy_gain(inputs.mass_kg("before"), inputs.mass_kg("now")).gain_pct


FORMULAS: dict[str, Adapter] = {
    "rer": _need(lambda inputs: energy.resting(_bw(inputs))),
    "maintenance": _need(_maintenance),
    "gestation_late": _need(_gestation_late),
    "lactation": _need(_lactation),
    "growth_nrc": _growth(energy.growth_nrc),
    "growth_klein": _growth(energy.growth_klein),
    "growth_fediaf_step": _growth(energy.growth_fediaf_step),
    "newborn": _need(_newborn),
    "total_milk_l": _one("litres_to_day45", lambda inputs: total_milk_l(_bw(inputs), inputs.integer("pups"))),
    "peak_milk_l_per_day": _one(
        "litres_per_day", lambda inputs: peak_milk_l_per_day(_bw(inputs), inputs.integer("pups"))
    ),
    "grams_per_day": _one("grams", _grams_per_day),
    "atwater_me": _one("me_kcal_kg", _atwater),
    "fourstep_nfe": _four_step,
    "fourstep_ge": _four_step,
    "fourstep_cf_dm": _four_step,
    "fourstep_dig": _four_step,
    "fourstep_de": _four_step,
    "fourstep_me": _four_step,
    "milk_kcal": _one("kcal_per_day", _milk_kcal),
    "milk_ml_day": _one("ml_per_day", _milk_ml_day),
    "milk_ml_feed": _one("ml_per_feed", lambda inputs: _bottle_plan(inputs).volume_ml_per_feed),
    "stomach_cap": _one("cap_ml", _stomach_cap),
    "min_feeds": _one("min_feeds_per_day", _min_feeds),
    "over_capacity": _one("over_capacity", lambda inputs: _bottle_plan(inputs).is_over_capacity),
    "dm_basis": _one(
        "pct_dm", lambda inputs: on_dry_matter_pct(inputs.number("pct_as_fed"), inputs.number("moisture"))
    ),
    "as_fed_from_dm": _one(
        "pct_as_fed", lambda inputs: as_fed_pct(inputs.number("pct_dm"), inputs.number("moisture"))
    ),
    "per_1000_kcal": _one(
        "g_per_1000kcal",
        lambda inputs: grams_per_1000_kcal(inputs.number("pct_dm"), inputs.number("kcal_per_g_dm")),
    ),
    "soak_moisture": _one("moisture_pct", _soak_moisture),
    "soak_kcal_per_g": _one("kcal_per_g_mix", _soak_kcal_per_g),
    "soak_energy_unchanged": _one("kcal_total", _soak_kcal),
    "soak_water": _one("water_ml", _soak_water),
    "dry_eaten": _one("dry_g", _dry_eaten),
    "weaning_stage": _stage,
    "pregnancy_gain": _one("gain_pct", _pregnancy_gain),
}

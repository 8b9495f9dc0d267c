"""Safety keys: chocolate, xylitol, the feeding block of a cold pup, doses too soon."""

from collections.abc import Callable
from datetime import UTC, datetime

from health.domain import toxins
from health.domain.repeat_doses import repeat_dose_warning
from litters.domain.neonate import temperature_advice
from tests.reference.inputs import Inputs

Adapter = Callable[[Inputs, str], object]


def _one(output_name: str, reckon: Callable[[Inputs], object]) -> Adapter:
    """An adapter with a single output."""

    def adapter(inputs: Inputs, output: str) -> object:
        if output != output_name:
            raise ValueError(f"unknown output {output!r}")
        return reckon(inputs)

    return adapter


def _feed_block(inputs: Inputs) -> object:
    # A row without an age means a newborn, whose line of 35 C is the one these rows were written for.
    age_days = inputs.integer("age_days") if "age_days" in inputs else 0
    advice = temperature_advice(inputs.temperature_c("rectal"), age_days, inputs.flag("suckle"))
    return advice.is_hand_feeding_blocked


def _instant(inputs: Inputs, name: str) -> datetime:
    """An instant; a row that names no offset is read in UTC, both its times alike."""
    moment = inputs.moment(name)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def _repeat(inputs: Inputs) -> object:
    return repeat_dose_warning(_instant(inputs, "last"), _instant(inputs, "now"), inputs.number("interval_h"))


FORMULAS: dict[str, Adapter] = {
    "theobromine_mg_per_kg": _one(
        "mg_per_kg",
        lambda row: toxins.theobromine_mg_per_kg(
            row.number("grams"), row.number("mg_per_g"), row.mass_kg("bw")
        ),
    ),
    "theobromine_band": _one("band", lambda row: toxins.theobromine_band(row.number("mg_per_kg"))),
    "xylitol_g_per_kg": _one(
        "g_per_kg", lambda row: toxins.xylitol_g_per_kg(row.number("grams"), row.mass_kg("bw"))
    ),
    "xylitol_band": _one("band", lambda row: toxins.xylitol_band(row.number("g_per_kg"))),
    "feed_block": _one("block", _feed_block),
    "repeat_dose_warning": _one("warn", _repeat),
}

"""The sentences of health duties, in the units of who reads them."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from kennel.clock.wall_clock import zone_of
from kennel.duties.kinds import Animal, Telling

GRAMS_AN_OUNCE = 28.349523125  # NIST Special Publication 811, appendix B.8


def dose_text(telling: Telling) -> str:
    """The medicine, and for each animal its dose with the weight and its age, or why it gets none yet."""
    asks = telling.asks
    of = f"{asks['litter_name']}, " if asks.get("litter_name") else ""
    medicine = asks.get("medicine_name") or "the medicine the vet names"
    told = "; ".join(_animal(one, telling) for one in telling.animals)
    more = f" {telling.instructions}" if telling.instructions else ""
    return f"{telling.title}: {of}{medicine}. {told}.{more}"


def _animal(one: Animal, telling: Telling) -> str:
    asks = one.asks
    if not asks.get("outcome"):
        return f"{one.name}: {asks['reason']}" if asks.get("reason") else one.name
    if asks["outcome"] != "worked out":
        return f"{one.name}: {str(asks['reason']).rstrip('.')}"
    amount = asks["amount_text"] or ""
    mg = "" if asks["dose_mg"] is None else f"{float(asks['dose_mg']):g} {asks['stated']}".strip()
    dose = f"{amount} ({mg})" if amount and mg else amount or mg
    first = ", weigh first" if asks["weigh_first"] else ""
    return f"{one.name} {dose}, {weight_words(asks, telling)}{first}"


def weight_words(asks: Mapping[str, Any], telling: Telling) -> str:
    """The weight a dose stands on and how old it will be then."""
    if asks["weight_g"] is None:
        return "not weighed"
    grams = mass_text(float(asks["weight_g"]), telling.mass_unit)
    return f"{grams} weighed {age_words(float(asks['weight_age_days']))} before"


def mass_text(grams: float, unit: str) -> str:
    """A body weight in the reader's unit."""
    if unit in ("oz", "lb"):
        return f"{grams / GRAMS_AN_OUNCE:.1f} oz"
    return f"{grams:g} g" if grams < 10_000 else f"{grams / 1000:.1f} kg"


def age_words(days: float) -> str:
    """How old a weight is, in hours up to two days."""
    return f"{round(days * 24)} h" if days < 2 else f"{days:.0f} days"


def weigh_first_text(telling: Telling) -> str:
    """Who is weighed, and for what."""
    asks = telling.asks
    at = asks["for_at"]
    moment = at if isinstance(at, datetime) else datetime.fromisoformat(at)
    clock = moment.astimezone(zone_of(telling.zone)).strftime("%H:%M")
    names = ", ".join(one.name for one in telling.animals)
    of = f"{asks['litter_name']}: " if asks.get("litter_name") else ""
    for_what = f" with {asks['medicine_name']}" if asks.get("medicine_name") else ""
    return f"{of}weigh {names} first, for worming at {clock}{for_what}."


def weigh_in_text(telling: Telling) -> str:
    """Who is weighed in the daily round."""
    names = ", ".join(one.name for one in telling.animals)
    return f"Weigh {telling.asks['litter_name']}: {names}."


def weigh_again_text(telling: Telling) -> str:
    """Who is weighed again, and why."""
    names = ", ".join(one.name for one in telling.animals)
    why = " ".join(telling.asks["reasons"][:3])
    return f"Weigh {names} again. {why}".strip()

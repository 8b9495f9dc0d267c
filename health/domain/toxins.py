"""Chocolate and birch sugar: how much was eaten for the body mass, and what to tell the vet.

Bands sort calls by urgency; none of them means "harmless". Ring first, count afterwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from health.domain.units import body_mass_kg, positive

RING = "Ring the vet or a poison line now with the weight, what was eaten, how much and when."

# mg of methylxanthines (theobromine and caffeine) in a gram. Toxicology text in the wording of ASPCA and
# Merck, read as quoted elsewhere (secondary quotation). Dark is given as 5.4 to 5.7; the higher is used.
METHYLXANTHINES_MG_PER_G = {
    "cocoa powder": 28.5,
    "baking chocolate": 16.0,
    "dark chocolate": 5.7,
    "milk chocolate": 2.3,
}

# Lower edge in mg/kg, band, what may be seen; same source as above.
_THEOBROMINE_BANDS = (
    (60.0, "seizure_60", "Seizures are seen from 60 mg/kg."),
    (40.0, "cardiac_40", "Effects on the heart are seen from 40 to 50 mg/kg."),
    (20.0, "mild_20", "Mild signs are seen from 20 mg/kg."),
    (0.0, "below_20", "Below the amounts at which signs are usually seen; pups and sick dogs may differ."),
)


@dataclass(frozen=True)
class ToxinAnswer:
    """How much for the body mass, its band, what may be seen, what to do, and where that stands."""

    per_kg: float
    unit: str
    band: str
    expect: str
    action: str
    source: str


def theobromine_mg_per_kg(eaten_g: float, content_mg_per_g: float, mass_kg: float) -> float:
    """mg of methylxanthines eaten for each kg of body mass.

    eaten_g of a food that holds content_mg_per_g (at most 1000); mass_kg 0.001 to 120. ValueError outside.
    """
    return (
        _not_negative(eaten_g, "grams eaten")
        * positive(content_mg_per_g, "content in mg/g", 1000)
        / body_mass_kg(mass_kg)
    )


def theobromine_band(amount_mg_per_kg: float) -> str:
    """Band of an amount in mg/kg: below_20, mild_20, cardiac_40 or seizure_60; an edge counts to the higher.

    Thresholds 20, 40 and 60 mg/kg: toxicology text (ASPCA and Merck wording), secondary quotation.
    """
    return _theobromine_line(amount_mg_per_kg)[1]


def chocolate(eaten_g: float, content_mg_per_g: float, mass_kg: float) -> ToxinAnswer:
    """What an amount of chocolate means for a dog, with what to do; see `METHYLXANTHINES_MG_PER_G`."""
    per_kg = theobromine_mg_per_kg(eaten_g, content_mg_per_g, mass_kg)
    _, band, expect = _theobromine_line(per_kg)
    source = "toxicology text, ASPCA and Merck wording (secondary quotation)"
    return ToxinAnswer(per_kg, "mg/kg", band, expect, RING, source)


def xylitol_g_per_kg(eaten_g: float, mass_kg: float) -> float:
    """Grams of xylitol (birch sugar) eaten for each kg of body mass; ValueError outside 0.001 to 120 kg."""
    return _not_negative(eaten_g, "grams eaten") / body_mass_kg(mass_kg)


def xylitol_band(amount_g_per_kg: float) -> str:
    """Band of an amount in g/kg: liver over 0.5, hypoglycaemia over 0.1, otherwise below_0.1.

    Source: Compend Contin Educ Vet 2010;32(2):E1-4, abstract (read in the text): over 0.1 g/kg low glucose
    within 30 min or later, over 0.5 g/kg liver failure. Every band means: ring.
    """
    _not_negative(amount_g_per_kg, "amount in g/kg")
    if amount_g_per_kg > 0.5:
        return "liver"
    return "hypoglycaemia" if amount_g_per_kg > 0.1 else "below_0.1"


def xylitol(eaten_g: float, mass_kg: float) -> ToxinAnswer:
    """What an amount of xylitol means for a dog: whatever the band, ring at once."""
    per_kg = xylitol_g_per_kg(eaten_g, mass_kg)
    band = xylitol_band(per_kg)
    expect = {
        "liver": "Liver failure is possible.",
        "hypoglycaemia": "Low blood sugar within 30 minutes, sometimes later.",
        "below_0.1": "Below the published amounts; in a pup any amount is a reason to ring.",
    }[band]
    return ToxinAnswer(
        per_kg, "g/kg", band, expect, RING, "Compend Contin Educ Vet 2010;32(2):E1-4, abstract"
    )


def _theobromine_line(amount_mg_per_kg: float) -> tuple[float, str, str]:
    _not_negative(amount_mg_per_kg, "amount in mg/kg", 1e12)
    return next(line for line in _THEOBROMINE_BANDS if amount_mg_per_kg >= line[0])


def _not_negative(value: float, name: str, upper: float = 1e9) -> float:
    if not math.isfinite(value) or not 0 <= value <= upper:
        raise ValueError(f"{name} must be 0 to {upper:g}, not {value!r}")
    return value

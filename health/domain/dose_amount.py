"""From a product's rate or band and a body mass to milligrams and to what is measured out."""

from __future__ import annotations

from dataclasses import dataclass

from health.domain.advice import Advice, Level
from health.domain.medicine import EDGE_KG, Band, Medicine, Stated
from health.domain.units import KG_PER_LB, FixedAmount, body_mass_kg, plain


@dataclass(frozen=True)
class Amount:
    """One dose: mg of active (None when the strength is unknown) and mL, g or tablets (likewise)."""

    dose_mg: float | None
    parts: float | None
    unit: str
    stated_in_words: str
    other_actives_mg: tuple[tuple[str, float], ...] = ()

    @property
    def in_words(self) -> str:
        """What to measure out, to three significant figures; empty when only mg are known."""
        if self.parts is None:
            return ""
        what = {"mL": "mL", "g": "g of product", "tablet": "tablet" if self.parts == 1 else "tablets"}[
            self.unit
        ]
        return f"{plain(self.parts)} {what}"


def band_for(medicine: Medicine, mass_kg: float) -> Band:
    """The label's band for a body mass: the one that contains it, never the next.

    A weight between two printed lines (12 lb and 12.1 lb) belongs to the lower. Raises ValueError when the
    weight is under the first band or over the last, or there is no table.
    """
    body_mass_kg(mass_kg)
    reached = [band for band in medicine.bands if band.from_kg - EDGE_KG <= mass_kg]
    if not reached:
        raise ValueError(f"the label of {medicine.name} has no line for {plain(mass_kg, 4)} kg")
    # The first that holds it: where two lines share an edge, the edge belongs to the lower one.
    band = next((one for one in reached if one.holds(mass_kg)), reached[-1])
    if band is medicine.bands[-1] and not band.holds(mass_kg):
        raise ValueError(f"the label of {medicine.name} ends below {plain(mass_kg, 4)} kg")
    return band


def work_out(medicine: Medicine, mass_kg: float) -> Amount | Advice:
    """The amount for a body mass, or the reason why the record gives none."""
    if medicine.basis is None:
        return _no_amount("no_dose_basis", f"The record of {medicine.name} states no dose.")
    try:
        band = band_for(medicine, mass_kg)
    except ValueError as error:
        return _no_amount("off_the_label", f"{error}: read the label, ask the vet.")
    given, strength = band.amount_at(mass_kg), medicine.strength_per_dose_unit
    if band.counts == "mg":
        if medicine.strength is None:
            return Amount(given, None, "", _stated(medicine))
        if strength is None:
            text = (
                f"{medicine.name} states its dose as {medicine.dose_stated.value} and its strength as "
                f"{medicine.strength_stated.value}; how much base the salt holds is not on record."
            )
            return _no_amount("base_or_salt_unknown", text)
        parts = given / strength
        return Amount(given, parts, medicine.strength.per, _stated(medicine), _others(medicine, parts))
    dose_mg = None if strength is None else given * strength
    return Amount(dose_mg, given, band.counts, _stated(medicine), _others(medicine, given))


def band_in_words(medicine: Medicine, mass_kg: float) -> str:
    """Which line of the label was used and why, with a drop of the dose at its edge explained.

    Empty for a single rate without bands.
    """
    if not isinstance(medicine.basis, tuple):
        return ""
    band = band_for(medicine, mass_kg)
    text = f"{plain(mass_kg, 4)} kg lies in the label's band {_span(band)}: {band.give.in_words}."
    place = medicine.basis.index(band)
    if place > 0:
        text += _drop(medicine.basis[place - 1], band)
    if place + 1 < len(medicine.basis):
        text += _drop(band, medicine.basis[place + 1])
    return text


def _drop(lower: Band, upper: Band) -> str:
    """Says that, and where, the dose becomes smaller as the animal grows; empty where it does not."""
    edge = upper.from_kg
    if edge <= 0 or upper.amount_at(edge) >= lower.amount_at(edge):
        return ""
    share = upper.amount_at(edge) / lower.amount_at(edge)
    by = "halves" if abs(share - 0.5) < 0.005 else f"falls to {plain(share * 100)} %"
    return (
        f" Just over {plain(edge, 4)} kg ({plain(edge / KG_PER_LB)} lb) the label's dose {by}: an animal "
        "just over that weight gets less than one just under it. That is the label's rule, not a slip."
    )


def _span(band: Band) -> str:
    pounds = "" if band.to_kg is None else f" ({plain(band.to_kg / KG_PER_LB, 4)} lb)"
    upper = "" if band.to_kg is None else f"up to {plain(band.to_kg, 4)} kg{pounds}"
    if band.from_kg <= 0:
        return upper or "for all weights"
    lower = f"over {plain(band.from_kg, 4)} kg ({plain(band.from_kg / KG_PER_LB, 4)} lb)"
    return f"{lower} {upper}".strip()


def _stated(medicine: Medicine) -> str:
    if medicine.dose_stated is Stated.AS_IS:
        return f"milligrams of {medicine.active}"
    kind = "base" if medicine.dose_stated is Stated.BASE else "salt"
    return f"milligrams of {medicine.active} as the {kind}"


def _others(medicine: Medicine, parts: float) -> tuple[tuple[str, float], ...]:
    return tuple((one.name, one.strength.mg_per_part * parts) for one in medicine.other_actives)


def _no_amount(code: str, text: str) -> Advice:
    return Advice(Level.WARNING, code, f"{text} No amount is worked out.")


def tablets_as_cut(parts: float, pieces: int) -> tuple[float, float]:
    """The nearest numbers of tablets below and above `parts` when each is cut in `pieces` (1, 2 or 4)."""
    whole = int(parts * pieces + EDGE_KG)
    lower = whole / pieces
    return lower, lower if abs(lower - parts) < EDGE_KG else (whole + 1) / pieces


def gives_fixed_amount(medicine: Medicine, mass_kg: float) -> bool:
    """Whether the label gives one amount for the whole band, so that it is not cut to the weight."""
    return isinstance(band_for(medicine, mass_kg).give, FixedAmount)

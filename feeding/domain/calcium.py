"""Published calcium ranges by who eats the food, as data, and the comparison of a food with them.

The sources differ in what they call a large breed, so adult mass is stored in kg, never as a word.
"""

from dataclasses import dataclass

from feeding.domain.dry_matter import on_dry_matter_pct

NO_SUPPLEMENTS = (
    "Do not add calcium or dairy in pregnancy: it raises the risk of eclampsia"
    " (Merck Veterinary Manual, Puerperal Hypocalcemia in Small Animals)."
)
YOUNG_PUPS = (
    "Pups cannot regulate calcium uptake well until about 10 months"
    " (Small Animal Clinical Nutrition, 5th ed.)."
)
LARGE_ABOVE_KG = 31.75  # 70 lb is 31.7515 kg and counts as large with AAFCO


@dataclass(frozen=True)
class CalciumRange:
    """Calcium in % of dry matter for dogs whose (expected) adult mass lies between the limits given."""

    who: str
    low_pct: float
    high_pct: float
    source: str
    status: str
    adult_above_kg: float = 0.0
    adult_at_most_kg: float | None = None
    note: str = ""


CALCIUM_RANGES = (
    CalciumRange(
        "growth and reproduction (older profile)",
        1.0,
        2.5,
        "AAFCO profile of about 1995",
        "verified in text",
        note="at 3.5 kcal/g dry matter; Ca:P 1:1 to 2:1",
    ),
    CalciumRange(
        "growth and reproduction, adult below 70 lb",
        1.2,
        2.5,
        "AAFCO OP 2016",
        "from memory",
        adult_at_most_kg=LARGE_ABOVE_KG,
        note="at 4.0 kcal/g dry matter",
    ),
    CalciumRange(
        "growth and reproduction, adult of 70 lb or more",
        1.2,
        1.8,
        "AAFCO OP 2016; NRC upper limit",
        "from memory; 1.8 verified in text",
        adult_above_kg=LARGE_ABOVE_KG,
        note="at 4.0 kcal/g dry matter",
    ),
    CalciumRange("early growth (under 14 weeks) and reproduction", 1.0, 1.6, "FEDIAF 2021", "from memory"),
    CalciumRange(
        "late growth, adult above 15 kg", 1.0, 1.8, "FEDIAF 2021", "from memory", adult_above_kg=15.0
    ),
    CalciumRange(
        "late growth, adult up to 15 kg", 0.8, 1.8, "FEDIAF 2021", "from memory", adult_at_most_kg=15.0
    ),
    CalciumRange(
        "pups, adult below 25 kg",
        0.7,
        1.7,
        "Small Animal Clinical Nutrition, 5th ed., Table 17-4",
        "verified in text",
        adult_at_most_kg=25.0,
        note="Ca:P 1:1 to 1.8:1",
    ),
    CalciumRange(
        "pups, adult above 25 kg",
        0.7,
        1.2,
        "Small Animal Clinical Nutrition, 5th ed., p. 314",
        "verified in text",
        adult_above_kg=25.0,
    ),
    CalciumRange(
        "gestation and lactation",
        1.0,
        1.7,
        "Small Animal Clinical Nutrition, 5th ed., Table 15-5",
        "verified in text",
        note="food of at least 4.0 kcal/g dry matter",
    ),
)


@dataclass(frozen=True)
class CalciumVerdict:
    """One published range against a food: its calcium in % of dry matter and whether it lies inside."""

    calcium_pct_of_dry_matter: float
    range: CalciumRange
    is_within: bool


def calcium_against(
    calcium_as_fed_pct: float, moisture_pct: float, adult_mass_kg: float | None = None
) -> list[CalciumVerdict]:
    """A food's calcium against every published range; with an adult mass only those that cover it.

    calcium in % as fed; moisture 0..100 %.  ValueError when the calcium exceeds the dry matter.
    """
    calcium_pct = on_dry_matter_pct(calcium_as_fed_pct, moisture_pct)
    return [
        CalciumVerdict(calcium_pct, entry, entry.low_pct <= calcium_pct <= entry.high_pct)
        for entry in CALCIUM_RANGES
        if adult_mass_kg is None or _covers(entry, adult_mass_kg)
    ]


def _covers(entry: CalciumRange, adult_mass_kg: float) -> bool:
    under = entry.adult_at_most_kg is None or adult_mass_kg <= entry.adult_at_most_kg
    return under and (entry.adult_above_kg == 0 or adult_mass_kg > entry.adult_above_kg)

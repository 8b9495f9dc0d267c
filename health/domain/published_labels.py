"""Published label figures as medicine records to copy from: a start to check against the bottle in the hand.

They carry no maker's name and no promise: a kennel copies one, corrects it to the product it really has,
and its vet confirms it. Where a figure is only remembered, the record's note says so.
"""

from __future__ import annotations

from health.domain.medicine import Band, Breeding, Form, Medicine, OtherActive, Stated, Supply
from health.domain.units import KG_PER_LB, Rate, Strength

# The label says 2 lb; scales show grams, and 2 lb (907.18 g) reads 907 g on them. Not 1 kg and not 900 g.
TWO_POUNDS_KG = 0.907

FIVE_POUNDS_KG = 5 * KG_PER_LB

# Pyrantel C11H14N2S 206.31 g/mol in pyrantel pamoate C34H30N2O6S 594.68 g/mol (standard atomic weights).
PYRANTEL_BASE_PER_PAMOATE = 206.31 / 594.68

_PYRANTEL_BANDS = (
    Band(0.0, FIVE_POUNDS_KG, Rate(4.54, "mg/lb")),
    Band(FIVE_POUNDS_KG, None, Rate(2.27, "mg/lb")),
)

PUBLISHED_LABELS: dict[str, Medicine] = {
    "pyrantel_us_suspension": Medicine(
        name="Pyrantel suspension (US label)",
        active="pyrantel",
        form=Form.LIQUID,
        strength=Strength(4.54, "mg/mL"),
        basis=_PYRANTEL_BANDS,
        dose_stated=Stated.BASE,
        strength_stated=Stated.BASE,
        base_per_salt=PYRANTEL_BASE_PER_PAMOATE,
        least_dose=True,
        minimum_age_days=14,
        repeat_after_days=7,
        nursing=Breeding.LABELLED,
        label_note=(
            "Least amounts, as base. Suspensions of 2.27, 4.54 and 50 mg/mL are about (from memory, "
            "unverified): enter that of the bottle in your hand. Confirm success by a test of the droppings."
        ),
        source="21 CFR 520.2042 (read in the text)",
    ),
    "fenbendazole_granules_222": Medicine(
        name="Fenbendazole granules 22.2 %",
        active="fenbendazole",
        form=Form.GRANULES,
        strength=Strength(222, "mg/g"),
        basis=Rate(50, "mg/kg"),
        course_days=3,
        label_note=(
            "Once a day on three days running, with food, all of it eaten. Some granules are for weaned "
            "pups only, one UK label (2010) forbids them under 12 weeks: read this product's own label."
        ),
        source="21 CFR 520.905b (read in the text)",
    ),
    "fenbendazole_suspension_100": Medicine(
        name="Fenbendazole suspension 10 %",
        active="fenbendazole",
        form=Form.LIQUID,
        strength=Strength(100, "mg/mL"),
        basis=Rate(50, "mg/kg"),
        minimum_age_days=14,
        course_days=3,
        label_note="From 2 weeks of age, 100 mg/mL: from memory, unverified; read the label.",
        source="UK product characteristics 2019 and 2024 (dose read in the text)",
    ),
    "fenbendazole_granules_uk_2010": Medicine(
        name="Fenbendazole granules, sachets (UK 2010)",
        active="fenbendazole",
        form=Form.GRANULES,
        strength=None,
        basis=Rate(50, "mg/kg"),
        minimum_age_days=84,
        minimum_mass_kg=6.6,
        course_days=3,
        pregnancy=Breeding.NOT_RECOMMENDED,
        label_note="Not under 12 weeks or 6.6 kg; the text prints 6.5 as well, the higher figure is used.",
        source="UK product characteristics, AN 01343/2009, 2010 (read in the text)",
    ),
    "fenbendazole_pregnant_bitch": Medicine(
        name="Fenbendazole for a pregnant bitch",
        active="fenbendazole",
        form=Form.LIQUID,
        strength=Strength(100, "mg/mL"),
        basis=Rate(25, "mg/kg"),
        course_days=25,
        pregnancy=Breeding.LABELLED,
        nursing=Breeding.LABELLED,
        label_note=(
            "Daily from day 40 of pregnancy to 2 days after birth. 25 mg/kg and 100 mg/mL are from memory, "
            "unverified; products differ, some advise against use in pregnancy: the vet decides."
        ),
        source="days: ESCCAP summary (read in the text); rate: from memory, unverified",
    ),
    "milbemycin_oxime": Medicine(
        name="Milbemycin oxime tablets",
        active="milbemycin oxime",
        form=Form.TABLET,
        basis=Rate(0.5, "mg/kg"),
        least_dose=True,
        minimum_age_days=28,
        minimum_mass_kg=TWO_POUNDS_KG,
        repeat_after_days=28,
        supply=Supply.PRESCRIPTION,
        label_note="0.5 mg/kg a month against worms; 0.1 against heartworm alone. From 4 weeks and 2 lb.",
        source="21 CFR 520.1441 (read in the text)",
    ),
    "milbemycin_praziquantel": Medicine(
        name="Milbemycin oxime and praziquantel tablets",
        active="milbemycin oxime",
        form=Form.TABLET,
        basis=Rate(0.5, "mg/kg"),
        least_dose=True,
        minimum_age_days=42,
        minimum_mass_kg=TWO_POUNDS_KG,
        repeat_after_days=28,
        supply=Supply.PRESCRIPTION,
        label_note="With praziquantel 5 mg/kg. From 6 weeks and 2 lb.",
        source="21 CFR 520.1445 (read in the text)",
    ),
    "ivermectin_pyrantel": Medicine(
        name="Ivermectin and pyrantel tablets",
        active="ivermectin",
        form=Form.TABLET,
        basis=Rate(6, "mcg/kg"),
        minimum_age_days=42,
        repeat_after_days=28,
        supply=Supply.PRESCRIPTION,
        label_note="With pyrantel 5 mg/kg, monthly. From 6 weeks: from memory, unverified.",
        source="21 CFR 520.1196 (read in the text)",
    ),
    "ivermectin_pyrantel_praziquantel": Medicine(
        name="Ivermectin, pyrantel and praziquantel tablets",
        active="ivermectin",
        form=Form.TABLET,
        minimum_age_days=56,
        minimum_mass_kg=2.722,  # 6 lb in whole grams
        repeat_after_days=28,
        supply=Supply.PRESCRIPTION,
        label_note="By weight band from 6 lb: enter the pack's bands. From 8 weeks: from memory, unverified.",
        source="21 CFR 520.1199 (read in the text)",
    ),
    "praziquantel_pyrantel_febantel": Medicine(
        name="Praziquantel, pyrantel and febantel tablets",
        active="praziquantel",
        form=Form.TABLET,
        minimum_age_days=21,
        minimum_mass_kg=TWO_POUNDS_KG,
        supply=Supply.PRESCRIPTION,
        pregnancy=Breeding.NOT_RECOMMENDED,
        label_note=(
            "By weight table from 2 lb: enter the table of the pack. From 3 weeks and not in pregnancy: from "
            "memory, unverified."
        ),
        source="21 CFR 520.1872 (read in the text)",
    ),
    "emodepside_toltrazuril": Medicine(
        name="Emodepside and toltrazuril suspension",
        active="emodepside",
        form=Form.LIQUID,
        strength=Strength(0.9, "mg/mL"),
        other_actives=(OtherActive("toltrazuril", Strength(18, "mg/mL")),),
        minimum_age_days=14,
        minimum_mass_kg=0.4,
        supply=Supply.VET_ONLY,
        source="EU package leaflet (age, weight and strength read in the text)",
    ),
    "toltrazuril": Medicine(
        name="Toltrazuril",
        active="toltrazuril",
        form=Form.LIQUID,
        supply=Supply.VET_ONLY,
        source="outside its label in dogs: vet only",
    ),
    "ponazuril": Medicine(
        name="Ponazuril",
        active="ponazuril",
        form=Form.PASTE,
        supply=Supply.VET_ONLY,
        source="outside its label in dogs: vet only",
    ),
}

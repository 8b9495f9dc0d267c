"""The door to the length of a pregnancy: due dates, due window, progesterone, scans, milestones.

Callers import from here; the modules behind it are laid out by subject.
"""

from __future__ import annotations

from litters.domain.due_window import due_window, prediction_history
from litters.domain.due_window_result import (
    Contribution,
    DayProbability,
    DueWindow,
    EvidenceFlag,
    NoUsableEvidence,
)
from litters.domain.fetal_formulas import (
    centimetres_from_millimetres,
    days_before_parturition_bp_medium,
    days_before_parturition_bp_small,
    days_before_parturition_bpd_chihuahua,
    days_before_parturition_bpd_german_shepherd,
    days_before_parturition_icc_german_shepherd,
    days_before_parturition_icc_medium,
    days_before_parturition_icc_small,
    days_left_from_gestational_age,
    gestational_age_from_head_days,
    gestational_age_from_sac_days,
    size_correction_days,
)
from litters.domain.gestation_anchors import (
    DueDates,
    due_from_diestrus_d1,
    due_from_lh,
    due_from_mating,
    due_from_ovulation,
    due_from_progesterone_rise,
    window_from_first_mating,
)
from litters.domain.gestation_evidence import (
    DiestrusDayOne,
    Evidence,
    FormulaBreed,
    LengthUnit,
    LhSurge,
    Mating,
    MatingKind,
    Ovulation,
    ProgesteroneTest,
    ProgesteroneUnit,
    Scan,
    ScanStructure,
    TemperatureFallSeen,
)
from litters.domain.gestation_figures import PUBLISHED_FIGURES, GestationFigures
from litters.domain.pregnancy_milestones import Milestone, milestones
from litters.domain.progesterone import (
    in_ng_per_ml,
    ng_per_ml_from_nmol_per_l,
    nmol_per_l_from_ng_per_ml,
    progesterone_stage,
    read_series,
    research_rise_on,
)
from litters.domain.ultrasound import (
    ScanUnusable,
    formula_for,
    read_scan,
)

__all__ = [
    "PUBLISHED_FIGURES",
    "Contribution",
    "DayProbability",
    "DiestrusDayOne",
    "DueDates",
    "DueWindow",
    "Evidence",
    "EvidenceFlag",
    "FormulaBreed",
    "GestationFigures",
    "LengthUnit",
    "LhSurge",
    "Mating",
    "MatingKind",
    "Milestone",
    "NoUsableEvidence",
    "Ovulation",
    "ProgesteroneTest",
    "ProgesteroneUnit",
    "Scan",
    "ScanStructure",
    "ScanUnusable",
    "TemperatureFallSeen",
    "centimetres_from_millimetres",
    "days_before_parturition_bp_medium",
    "days_before_parturition_bp_small",
    "days_before_parturition_bpd_chihuahua",
    "days_before_parturition_bpd_german_shepherd",
    "days_before_parturition_icc_german_shepherd",
    "days_before_parturition_icc_medium",
    "days_before_parturition_icc_small",
    "days_left_from_gestational_age",
    "due_from_diestrus_d1",
    "due_from_lh",
    "due_from_mating",
    "due_from_ovulation",
    "due_from_progesterone_rise",
    "due_window",
    "formula_for",
    "gestational_age_from_head_days",
    "gestational_age_from_sac_days",
    "in_ng_per_ml",
    "milestones",
    "ng_per_ml_from_nmol_per_l",
    "nmol_per_l_from_ng_per_ml",
    "prediction_history",
    "progesterone_stage",
    "read_scan",
    "read_series",
    "research_rise_on",
    "size_correction_days",
    "window_from_first_mating",
]

"""The door to whelping: labour flags, temperature falls, viability score, the dam afterwards, the vet card.

Callers import from here; the modules behind it are laid out by subject.
"""

from __future__ import annotations

from litters.domain.apgar import (
    ApgarResult,
    ApgarScore,
    apgar_class,
    apgar_result,
    apgar_total,
    breathing_points,
    heart_rate_points,
)
from litters.domain.dam_after_whelping import (
    DamObservation,
    DamSign,
    DamWarning,
    TemperatureLimits,
    dam_warnings,
    eclampsia_risks,
)
from litters.domain.labour_flags import Deadline, LabourFlag, LabourReport, labour_report, placenta_hint
from litters.domain.labour_limits import (
    PUBLISHED_LIMITS,
    FlagKey,
    Level,
    Limit,
    VetAgreedLimit,
    limits_with,
)
from litters.domain.labour_log import (
    DischargeColour,
    EntryKind,
    LabourEntry,
    Straining,
    StrainingStrength,
)
from litters.domain.labour_timers import Pregnancy
from litters.domain.vet_card import MOST_WORDS, DamFacts, VetCard, count_words, vet_card
from litters.domain.whelping_temperature import (
    FallFound,
    FallReport,
    FallRule,
    TemperatureReading,
    temperature_falls,
)

__all__ = [
    "MOST_WORDS",
    "PUBLISHED_LIMITS",
    "ApgarResult",
    "ApgarScore",
    "DamFacts",
    "DamObservation",
    "DamSign",
    "DamWarning",
    "Deadline",
    "DischargeColour",
    "EntryKind",
    "FallFound",
    "FallReport",
    "FallRule",
    "FlagKey",
    "LabourEntry",
    "LabourFlag",
    "LabourReport",
    "Level",
    "Limit",
    "Pregnancy",
    "Straining",
    "StrainingStrength",
    "TemperatureLimits",
    "TemperatureReading",
    "VetAgreedLimit",
    "VetCard",
    "apgar_class",
    "apgar_result",
    "apgar_total",
    "breathing_points",
    "count_words",
    "dam_warnings",
    "eclampsia_risks",
    "heart_rate_points",
    "labour_report",
    "limits_with",
    "placenta_hint",
    "temperature_falls",
    "vet_card",
]

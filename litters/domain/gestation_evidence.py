"""What a carer or vet can state about a pregnancy, as plain values for the due window.

`known_on` is the day from which the statement counts (a laboratory's answer may come days after the sample);
left out, it is the day of the event.  `ref` is the caller's own name for the statement and is handed back
unchanged.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TypeAlias


class ProgesteroneUnit(StrEnum):
    """Unit a laboratory or table-top analyser states progesterone in."""

    NG_PER_ML = "ng/mL"
    NMOL_PER_L = "nmol/L"


class LengthUnit(StrEnum):
    """Unit a scan was measured in."""

    MM = "mm"
    CM = "cm"


class ScanStructure(StrEnum):
    """What was measured on a scan."""

    INNER_CHORIONIC_CAVITY = "icc"
    BIPARIETAL = "bp"
    GESTATIONAL_SAC = "sac"
    HEAD = "head"


class FormulaBreed(StrEnum):
    """Breeds with a published scan formula of their own."""

    GERMAN_SHEPHERD = "german_shepherd"
    CHIHUAHUA = "chihuahua"


class MatingKind(StrEnum):
    """How semen reached the bitch; the published 58-72 d stand for natural matings only."""

    NATURAL = "natural"
    FRESH_INSEMINATION = "fresh_insemination"
    CHILLED_INSEMINATION = "chilled_insemination"
    FROZEN_INSEMINATION = "frozen_insemination"


@dataclass(frozen=True, slots=True)
class LhSurge:
    """Day on which the LH surge was measured."""

    on: date
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class ProgesteroneTest:
    """One blood sample; the value stays in the unit the analyser printed."""

    on: date
    value: float
    unit: ProgesteroneUnit
    analyser: str = ""
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class Ovulation:
    """Day of ovulation as the vet stated it (from serial progesterone or otherwise)."""

    on: date
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class DiestrusDayOne:
    """First day of diestrus read from vaginal cytology (D1)."""

    on: date
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class Mating:
    """One mating or insemination."""

    on: date
    kind: MatingKind = MatingKind.NATURAL
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class Scan:
    """One structure measured at one ultrasound visit, a reading per fetus."""

    on: date
    structure: ScanStructure
    readings: tuple[float, ...]
    unit: LengthUnit
    ref: str = ""
    known_on: date | None = None


@dataclass(frozen=True, slots=True)
class TemperatureFallSeen:
    """Day on which the dam's temperature fell before whelping."""

    on: date
    ref: str = ""
    known_on: date | None = None


Evidence: TypeAlias = (
    LhSurge | ProgesteroneTest | Ovulation | DiestrusDayOne | Mating | Scan | TemperatureFallSeen
)


def known_from(item: Evidence) -> date:
    """The day from which a statement counts; never before the event itself."""
    return item.on if item.known_on is None else max(item.on, item.known_on)

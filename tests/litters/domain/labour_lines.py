"""Shorthand for whelping logs in tests: minutes after midnight of one night, and the lines of a log."""

from datetime import UTC, datetime, timedelta

from litters.domain.whelping import (
    DischargeColour,
    EntryKind,
    FlagKey,
    LabourEntry,
    LabourReport,
    Level,
    StrainingStrength,
)

NIGHT = datetime(2026, 5, 5, tzinfo=UTC)


def at(hours: int, minutes: int = 0) -> datetime:
    """An instant of the night."""
    return NIGHT + timedelta(hours=hours, minutes=minutes)


def line(kind: EntryKind, when: datetime, **fields: object) -> LabourEntry:
    """One entry of the log."""
    return LabourEntry(kind, when, **fields)  # type: ignore[arg-type]


def strong(when: datetime) -> LabourEntry:
    """Strong straining begins."""
    return LabourEntry(EntryKind.STRAINING_BEGAN, when, StrainingStrength.STRONG)


def weak(when: datetime) -> LabourEntry:
    """Weak straining begins."""
    return LabourEntry(EntryKind.STRAINING_BEGAN, when, StrainingStrength.WEAK)


def ended(when: datetime) -> LabourEntry:
    """Straining ends."""
    return LabourEntry(EntryKind.STRAINING_ENDED, when)


def born(when: datetime, *, is_alive: bool = True) -> LabourEntry:
    """A pup is born."""
    return LabourEntry(EntryKind.PUP_BORN, when, is_alive=is_alive)


def discharge(when: datetime, colour: DischargeColour) -> LabourEntry:
    """A discharge is seen."""
    return LabourEntry(EntryKind.DISCHARGE_SEEN, when, colour=colour)


def levels(report: LabourReport) -> dict[FlagKey, Level]:
    """The level of each flag of a report."""
    return {flag.key: flag.level for flag in report.flags}

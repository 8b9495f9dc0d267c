"""What is written down while a dam whelps, and what the log says at one instant.

Entries may arrive in any order and from several devices; the log sorts them and reads only those up to the
instant asked for.  Straining has a begin and an end; the birth of a pup ends it too, because the effort has
done its work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum


class EntryKind(StrEnum):
    """What a line of the whelping log states."""

    STAGE_ONE_BEGAN = "stage_one_began"
    STRAINING_BEGAN = "straining_began"
    STRAINING_ENDED = "straining_ended"
    PUP_BORN = "pup_born"
    PLACENTA_PASSED = "placenta_passed"
    DISCHARGE_SEEN = "discharge_seen"
    TEMPERATURE_FELL = "temperature_fell"
    TEMPERATURE_RECOVERED = "temperature_recovered"
    PUP_STUCK = "pup_stuck"
    FETAL_HEART_SLOW = "fetal_heart_slow"
    COLLAPSE = "collapse"
    FRESH_BLEEDING = "fresh_bleeding"
    FOUL_SMELL = "foul_smell"
    WORRY = "worry"
    VET_SEEN = "vet_seen"
    FINISHED = "finished"


class StrainingStrength(StrEnum):
    """How hard the dam strains."""

    STRONG = "strong"
    WEAK = "weak"


class DischargeColour(StrEnum):
    """Colour of a discharge during labour."""

    CLEAR = "clear"
    GREEN = "green"
    DARK = "dark"
    RED_BROWN = "red_brown"
    FRESH_RED = "fresh_red"


@dataclass(frozen=True, slots=True)
class LabourEntry:
    """One line of the whelping log.

    at: an instant with its offset.  strength belongs to straining (left out: strong, the more cautious
    reading), colour to discharge, is_alive to a birth.
    """

    kind: EntryKind
    at: datetime
    strength: StrainingStrength | None = None
    colour: DischargeColour | None = None
    is_alive: bool = True


@dataclass(frozen=True, slots=True)
class Straining:
    """A spell of straining; ended_at is None while it lasts."""

    strength: StrainingStrength
    began_at: datetime
    ended_at: datetime | None

    def minutes(self, at: datetime) -> float:
        """Minutes the spell has lasted at an instant."""
        return ((self.ended_at or at) - self.began_at).total_seconds() / 60


@dataclass(frozen=True, slots=True)
class LabourLog:
    """The log as it stood at one instant: sorted entries and the spells of straining in them."""

    at: datetime
    entries: tuple[LabourEntry, ...]
    spells: tuple[Straining, ...]

    def all_of(self, *kinds: EntryKind) -> list[LabourEntry]:
        """The entries of these kinds, oldest first."""
        return [entry for entry in self.entries if entry.kind in kinds]

    def last_at(self, *kinds: EntryKind) -> datetime | None:
        """The instant of the newest entry of these kinds."""
        found = self.all_of(*kinds)
        return found[-1].at if found else None

    @property
    def births(self) -> list[LabourEntry]:
        """The births so far, stillborn pups included."""
        return self.all_of(EntryKind.PUP_BORN)

    @property
    def running(self) -> Straining | None:
        """The spell of straining that has not ended."""
        return next((spell for spell in self.spells if spell.ended_at is None), None)

    @property
    def is_finished(self) -> bool:
        """Whether whelping was declared finished and nothing has happened since that says otherwise."""
        finished_at = self.last_at(EntryKind.FINISHED)
        if finished_at is None:
            return False
        later = self.last_at(EntryKind.PUP_BORN, EntryKind.STRAINING_BEGAN)
        return later is None or later <= finished_at


def read_log(entries: Sequence[LabourEntry], at: datetime) -> LabourLog:
    """The log as it stood at `at`: later entries are left out.

    Raises ValueError when `at` or an entry's instant has no offset.
    """
    for moment in (at, *(entry.at for entry in entries)):
        require_offset(moment)
    known = tuple(sorted((entry for entry in entries if entry.at <= at), key=lambda entry: entry.at))
    return LabourLog(at, known, _spells(known))


def require_offset(moment: datetime) -> None:
    """Raises ValueError for an instant without an offset: minutes cannot be counted across a clock change."""
    if moment.utcoffset() is None:
        raise ValueError("an instant needs its offset from UTC")


def _spells(entries: Sequence[LabourEntry]) -> tuple[Straining, ...]:
    spells: list[Straining] = []
    open_from: datetime | None = None
    strength = StrainingStrength.STRONG
    for entry in entries:
        if entry.kind == EntryKind.STRAINING_BEGAN:
            said = entry.strength or StrainingStrength.STRONG
            # The same begin from a second device changes nothing; a change of strength starts a new spell.
            if open_from is not None and said != strength:
                spells.append(Straining(strength, open_from, entry.at))
                open_from = None
            if open_from is None:
                open_from, strength = entry.at, said
        elif entry.kind in (EntryKind.STRAINING_ENDED, EntryKind.PUP_BORN, EntryKind.FINISHED):
            if open_from is not None:
                spells.append(Straining(strength, open_from, entry.at))
            open_from = None
    if open_from is not None:
        spells.append(Straining(strength, open_from, None))
    return tuple(spells)


def joined(spells: Sequence[Straining], pause: timedelta) -> list[Straining]:
    """Spells of one strength with the pauses shorter than `pause` left out: a short rest is no new start."""
    result: list[Straining] = []
    for spell in spells:
        last = result[-1] if result else None
        if last is not None and last.ended_at is not None and spell.began_at - last.ended_at < pause:
            result[-1] = Straining(spell.strength, last.began_at, spell.ended_at)
        else:
            result.append(spell)
    return result

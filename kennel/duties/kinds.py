"""The registry of duty kinds: what recurs is the platform's business, what it asks for is the app's.

An app calls `register(DutyKind(...))` in its `apps.py`.  The example in `kennel/duties/__init__.py` shows
how.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from pydantic import BaseModel

from kennel.duties.choices import Level
from kennel.records import types
from kennel.records.door import Door
from kennel.records.types import RecordType

Json = Mapping[str, Any]


@dataclass(frozen=True)
class Animal:
    """An animal a duty names: record type and uid of the subject, its name, what is asked for it alone."""

    subject_type: str
    subject_uid: UUID
    name: str
    asks: Json = field(default_factory=dict)

    @property
    def key(self) -> tuple[str, UUID]:
        """What tells it from the other animals of a duty."""
        return self.subject_type, self.subject_uid


class Caution(NamedTuple):
    """What is said beside the action.  about: the one animal it is said of, as long as that is outstanding."""

    code: str
    text: str
    about: UUID | None = None


def still_said(cautions: Iterable[Json], outstanding: Collection[UUID]) -> list[str]:
    """The texts of a duty's stored cautions, without those about animals that are settled."""
    return [one["text"] for one in cautions if one.get("about") is None or UUID(one["about"]) in outstanding]


@dataclass(frozen=True)
class RoutineHere:
    """A routine as the planner sees it."""

    id: int
    uid: UUID
    kind: str
    title: str
    subject_type: str
    subject_uid: UUID | None
    settings: Json
    instructions: str
    source_type: str
    source_uid: UUID | None
    source_key: str


@dataclass(frozen=True)
class Occasion:
    """One time a routine asks for something.

    only: the animals put off to this time from an earlier duty; None: the routine's animals of that time.
    """

    routine: RoutineHere
    due_at: datetime
    key: str
    only: tuple[Animal, ...] | None = None


@dataclass(frozen=True)
class Asked:
    """What a duty asks for, as it stands in the plan and the facts now.

    animals: at least one (for a duty about no animal: `kinds.whole_kennel(door)`).  asks: JSON of everything
    the figures stand on, shown to people and kept.  cautions: said beside the action.
    text: the sentence for people; empty means that `DutyKind.describe` makes it.  Empty title, level and
    times mean those of the routine, else of the kind.
    """

    animals: Sequence[Animal]
    asks: Json = field(default_factory=dict)
    cautions: Sequence[Caution] = ()
    text: str = ""
    title: str = ""
    level: Level | None = None
    useful_until: datetime | None = None
    escalate_after: timedelta | None = None


@dataclass(frozen=True)
class Telling:
    """What a sentence about a duty is made of: animals still outstanding, units and zone of who reads it."""

    title: str
    asks: Json
    animals: Sequence[Animal]
    instructions: str
    mass_unit: str
    temperature_unit: str
    zone: str


Plan = Callable[[Sequence[Occasion], Door], Sequence[Asked | None]]
Describe = Callable[[Telling], str]


@dataclass(frozen=True)
class DutyKind:
    """A kind of duty.

    name: as stored.  title: trade words people read. plan(occasions, door): what each occasion asks for, in
    the same order; None = nothing then (no duty).  It is
        called for many occasions at once and must not query for each.
    describe(telling): the sentence for people, in their units; None names the instructions and the animals.
    done_by: record types whose facts close it; empty = a "done" tap is the fact. early: a fact that happened
    this long before `due_at` counts for it already. level, useful_for, escalate_after: unless the routine or
    the plan say otherwise; escalate_after None = nobody
        else is told.
    wakes_night_duty: goes through the quiet hours of whoever is on duty (feeding).
    settings: pydantic model that a routine's `settings` must fit; None = it takes none.
    """

    name: str
    title: str
    plan: Plan
    describe: Describe | None = None
    done_by: tuple[str, ...] = ()
    early: timedelta = timedelta(hours=1)
    level: Level = Level.DUE
    useful_for: timedelta = timedelta(hours=12)
    escalate_after: timedelta | None = timedelta(minutes=15)
    wakes_night_duty: bool = False
    settings: type[BaseModel] | None = None


_kinds: dict[str, DutyKind] = {}


def register(kind: DutyKind) -> DutyKind:
    """Add a duty kind.  A name registered twice raises ValueError."""
    if kind.name in _kinds:
        raise ValueError(f"the duty kind {kind.name} is registered already")
    _kinds[kind.name] = kind
    return kind


def by_name(name: str) -> DutyKind | None:
    """The kind of that name; None when no app registered it."""
    return _kinds.get(name)


def every() -> list[DutyKind]:
    """All kinds, in the order they were registered."""
    return list(_kinds.values())


def done_by(fact_type: str) -> list[DutyKind]:
    """Kinds that a fact of this record type closes."""
    return [kind for kind in _kinds.values() if fact_type in kind.done_by]


def describe(kind: DutyKind | None, telling: Telling) -> str:
    """The sentence for people, at most 2,000 characters."""
    if kind is not None and kind.describe is not None:
        return kind.describe(telling)[:2000]
    names = ", ".join(a.name for a in telling.animals if a.subject_type != KENNEL)
    return " ".join(part for part in (telling.instructions, f"For: {names}." if names else "") if part)[:2000]


KENNEL = "kennel"


def whole_kennel(door: Door) -> Animal:
    """The subject of a duty that is about no animal in particular."""
    return Animal(KENNEL, door.kennel.uid, door.kennel.name)


@dataclass(frozen=True)
class SubjectType:
    """How animals of one record type are named: an SQL expression over `t`, the record's row."""

    record_type: RecordType
    name_sql: str


_subjects: dict[str, SubjectType] = {}


def register_subject(record_type: RecordType, name_sql: str = "t.name") -> None:
    """Let duties be about records of this type.  name_sql: what people call one, over `t` (never empty)."""
    if record_type.name in _subjects:
        raise ValueError(f"{record_type.name} is a subject of duties already")
    _subjects[record_type.name] = SubjectType(record_type, name_sql)


def subject_type(name: str) -> SubjectType | None:
    """How subjects of that record type are named; None when duties cannot be about them.

    A record type that nobody registered here is named by its column `name`, when it has one.
    """
    found = _subjects.get(name)
    if found is None and (record_type := types.by_name(name)) is not None and "name" in record_type.columns:
        return SubjectType(record_type, "t.name")
    return found

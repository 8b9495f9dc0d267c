"""What goes into a write and what comes out: new records, changes, drafts on their way, outcomes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal, NamedTuple
from uuid import UUID

from kennel.records import store
from kennel.records.fields import RecordInput
from kennel.records.refusals import Refusal

Kind = Literal["created", "updated", "deleted", "replayed", "conflict", "rejected", "deferred"]


@dataclass(frozen=True)
class NewRecord:
    """Input of a create: the client's uid (or ours) and the checked input."""

    index: int
    uid: UUID
    input: RecordInput


@dataclass(frozen=True)
class Change:
    """Input of an update: the versions the client accepts (None = any) and the fields it sent."""

    index: int
    uid: UUID
    versions: frozenset[int] | None
    patch: dict[str, Any]


@dataclass
class Draft:
    """One record on its way: typed input, the columns to write, parents found, the stored row before (updates).

    sent: field names the client sent.  Rules may change `columns`, `warn` and `refuse`.
    """

    index: int
    uid: UUID
    input: Any
    sent: frozenset[str]
    columns: dict[str, Any] = field(default_factory=dict)
    parents: dict[str, store.ParentRow] = field(default_factory=dict)
    before: store.Row | None = None
    refusal: Refusal | None = None

    def warn(self, code: str, text: str) -> None:
        """Keep advice beside the fact; the fact itself stands."""
        kept = [w for w in self.columns.get("warnings", []) if w["code"] != code]
        self.columns["warnings"] = [*kept, {"code": code, "text": text}]

    def refuse(self, refusal: Refusal) -> None:
        """Refuse this item; the first reason given stays."""
        self.refusal = self.refusal or refusal


@dataclass
class Outcome:
    """What became of one item."""

    index: int
    uid: UUID | None
    outcome: Kind
    version: int | None = None
    refusal: Refusal | None = None


class Saved(NamedTuple):
    """A record as it was written: for reactions of other apps.

    columns: what was written.  before: the stored row before (None for a create).  parents: records it refers to.
    """

    id: int
    uid: UUID
    version: int
    columns: dict[str, Any]
    before: store.Row | None
    parents: Mapping[str, store.ParentRow] = MappingProxyType({})

    def value(self, column: str) -> Any:
        """What a column holds now, written or left as it was; None also for a default of the database."""
        if column in self.columns or self.before is None:
            return self.columns.get(column)
        return self.before.get(column)

    def parent_uid(self, name: str) -> UUID | None:
        """The uid of the record a reference points at now."""
        if f"{name}_id" in self.columns or self.before is None:
            found = self.parents.get(name)
            return None if found is None else found.uid
        stored = self.before.get(name)
        return None if stored is None else UUID(stored)


def refused(index: int, uid: UUID, refusal: Refusal | None, version: int | None = None) -> Outcome:
    """The outcome of a refused item: deferred while its parent is missing, a conflict, or rejected."""
    assert refusal is not None
    kind: Kind = "deferred" if refusal.slug == "parent-missing" else "rejected"
    if refusal.slug in {"version-mismatch", "uid-conflict"}:
        kind = "conflict"
    return Outcome(index, uid, kind, version, refusal)

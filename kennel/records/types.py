"""The registry of record types.  One registration gives single, batch, list, feed, history, permissions and docs."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db import models
from pydantic_core import SchemaSerializer

from kennel.people.choices import Role
from kennel.records.fields import RecordInput, refs_of
from kennel.records.models import Fact, Record
from kennel.records.operations import type_name

Hook = Callable[..., None]


@dataclass(frozen=True)
class Computed:
    """A shown value that is not a column: an SQL expression over `t` (the record), with its JSON schema.

    join: extra SQL put after the FROM clause, one row at most per record (use LEFT JOIN LATERAL ... ON true).
    """

    sql: str
    schema: dict[str, Any]
    join: str = ""


@dataclass(frozen=True)
class RecordType:
    """Everything the platform needs to know about one kind of record.

    plural: path segment.  doc: one sentence for the API description.
    prepare(drafts, door): business rules over a whole list before it is written: fills derived columns, warns, refuses.
    needs_look: SQL over `t`, true for a record whose children's rules must look closer; it comes with the parents.
    filters: shown fields a list may be filtered by, besides references.  order: column lists run by, newest first.
    """

    model: type[Record]
    input: type[RecordInput]
    plural: str
    doc: str
    write_role: Role = Role.CARER
    read_role: Role = Role.READER
    prepare: Hook | None = None
    filters: tuple[str, ...] = ()
    order: str = ""
    computed: dict[str, Computed] = field(default_factory=dict)
    no_store: bool = False
    needs_look: str = "false"

    @cached_property
    def name(self) -> str:
        """Singular name, as in the journal, the feed and the batch."""
        return type_name(self.model.__name__)

    @cached_property
    def table(self) -> str:
        """Database table."""
        return self.model._meta.db_table

    @cached_property
    def is_fact(self) -> bool:
        """Whether the record states something that happened at an instant."""
        return issubclass(self.model, Fact)

    @cached_property
    def refs(self) -> dict[str, str]:
        """Field name -> record type name, for every reference a client may write."""
        return dict(refs_of(self.input))

    @cached_property
    def serializer(self) -> SchemaSerializer:
        """Turns a checked input into JSON values; `model_dump` does the same and takes a third longer."""
        return self.input.__pydantic_serializer__

    @cached_property
    def own_columns(self) -> list[tuple[str, str]]:
        """(field name, database column) of what a client may write, references left out."""
        written = [n for n in self.input.model_fields if n in self.columns and n not in self.refs]
        return [(name, str(self.columns[name].column)) for name in written]

    @cached_property
    def columns(self) -> dict[str, "models.Field[Any, Any]"]:
        """Shown name -> model field, housekeeping first, in declaration order."""
        hidden = {"id", "kennel", "recorded_by", "recorded_device", "deleted_at"}
        return {f.name: f for f in self.model._meta.concrete_fields if f.name not in hidden}

    @cached_property
    def order_column(self) -> str:
        """Column a list is ordered by (then by the internal id)."""
        return self.order or ("occurred_at" if self.is_fact else "recorded_at")


_by_name: dict[str, RecordType] = {}
_by_plural: dict[str, RecordType] = {}
_reactions: dict[str, list[Hook]] = {}


def register(record_type: RecordType) -> RecordType:
    """Add a record type; called from an app's `apps.py`.  A name registered twice raises ValueError."""
    if record_type.name in _by_name or record_type.plural in _by_plural:
        raise ValueError(f"{record_type.name} is registered already")
    _by_name[record_type.name] = record_type
    _by_plural[record_type.plural] = record_type
    return record_type


def react(type_names: Sequence[str], hook: Hook) -> None:
    """Call hook(saved, door) after records of these types were written, in the same transaction."""
    for name in type_names:
        _reactions.setdefault(name, []).append(hook)


def reactions(name: str) -> list[Hook]:
    """Hooks to run after records of this type were written."""
    return _reactions.get(name, [])


def by_name(name: str) -> RecordType | None:
    """Record type by its singular name."""
    return _by_name.get(name)


def by_plural(plural: str) -> RecordType | None:
    """Record type by its path segment."""
    return _by_plural.get(plural)


def every() -> Iterator[RecordType]:
    """All record types, parents before children."""
    done: set[str] = set()

    def visit(record_type: RecordType) -> Iterator[RecordType]:
        if record_type.name in done:
            return
        done.add(record_type.name)
        for target in record_type.refs.values():
            if target in _by_name:
                yield from visit(_by_name[target])
        yield record_type

    for record_type in list(_by_name.values()):
        yield from visit(record_type)

"""List filters: references by uid, registered fields by value, facts by time."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError as DjangoValidationError
from django.db import models
from pydantic import TypeAdapter, ValidationError

from kennel.records import store
from kennel.records.fields import Instant
from kennel.records.refusals import Refusal
from kennel.records.types import RecordType

_instant: TypeAdapter[datetime] = TypeAdapter(Instant)
_PAGING = {"cursor", "limit"}


def names(record_type: RecordType) -> list[str]:
    """Query parameters a list of this type understands, besides cursor and limit."""
    facts = ["since", "until"] if record_type.is_fact else []
    return [*record_type.refs, *record_type.filters, *facts, "deleted"]


def conditions(record_type: RecordType, query: Any) -> tuple[str, list[Any]]:
    """SQL condition over `t` and its parameters.  Raises Refusal("malformed") for an unknown or bad parameter."""
    clauses: list[str] = []
    values: list[Any] = []
    allowed = names(record_type)
    for name in query:
        if name in _PAGING:
            continue
        if name not in allowed:
            raise Refusal("malformed", f"This list has no filter of that name; it has: {', '.join(allowed)}.")
        if len(query.getlist(name)) > 1:
            raise Refusal("malformed", f"{name} stands twice.")
        text = query[name]
        if name in record_type.refs:
            table = store.parent_model(record_type, name)._meta.db_table
            clauses.append(
                f'AND t."{store.column_of(record_type, name)}" = '  # noqa: S608
                f'(SELECT id FROM "{table}" WHERE kennel_id = t.kennel_id AND uid = %s)'
            )
            values.append(_uid_value(name, text))
        elif name in ("since", "until"):
            clauses.append(f"AND t.occurred_at {'>=' if name == 'since' else '<'} %s")
            values.append(_instant_value(name, text))
        elif name != "deleted":
            clauses.append(f'AND t."{store.column_of(record_type, name)}" = %s')
            values.append(_plain_value(record_type.columns[name], name, text))
    deleted = query.get("deleted", "no")
    if deleted not in ("no", "yes", "all"):
        raise Refusal("malformed", "deleted is no, yes or all.")
    if deleted != "all":
        clauses.append(f"AND t.deleted_at IS {'NOT ' if deleted == 'yes' else ''}NULL")
    return " ".join(clauses), values


def _uid_value(name: str, text: str) -> UUID:
    try:
        return UUID(text if len(text) == 36 else "x")
    except ValueError:
        raise Refusal("malformed", f"{name} takes a uid.") from None


def _instant_value(name: str, text: str) -> datetime:
    try:
        return _instant.validate_python(text)
    except ValidationError:
        raise Refusal("malformed", f"{name} takes an RFC 3339 instant with its offset.") from None


def _plain_value(field: "models.Field[Any, Any]", name: str, text: str) -> Any:
    if isinstance(field, models.BooleanField):
        if text not in ("true", "false"):
            raise Refusal("malformed", f"{name} is true or false.")
        return text == "true"
    if "\x00" in text or len(text) > 200:
        raise Refusal("malformed", f"{name} is not acceptable.")
    if field.choices and text not in {str(value) for value, _ in field.flatchoices}:
        raise Refusal("malformed", f"{name} is none of the words this list knows.")
    try:
        return field.to_python(text)
    except DjangoValidationError:
        raise Refusal("malformed", f"{name} is not acceptable.") from None

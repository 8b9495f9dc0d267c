"""Form fields derived from a record's pydantic input: what the API accepts is what a form offers."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, time
from enum import Enum
from functools import cache
from typing import Any, get_args

from django.db.models import TextChoices
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from kennel.clock.wall_clock import instant_of, zone_of

Choices = Sequence[tuple[str, str]]
NUMBERS = {"number", "integer"}


@dataclass(frozen=True)
class Entry:
    """One field a form shows: name in the input, label, help; `choices` for references and closed lists.

    is_needed: the form asks for it although the input could do without.  is_more: folded away under "More".
    """

    name: str
    label: str
    help: str = ""
    choices: Choices | None = None
    unit: str = ""
    is_large: bool = False
    autocomplete: str = "off"
    is_hidden: bool = False
    is_needed: bool = False
    is_more: bool = False


@dataclass
class ShownField:
    """A field ready for the template.  kind: text, note, number, integer, day, instant, yes-no, choice."""

    entry: Entry
    kind: str
    is_required: bool
    least: str = ""
    most: str = ""
    max_length: int | None = None
    choices: Choices = ()
    value: str = ""
    errors: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        """Element id."""
        return f"field-{self.entry.name}"

    @property
    def described_by(self) -> str:
        """Ids of the elements that explain the field."""
        parts = [f"{self.id}-help"] if self.entry.help else []
        return " ".join([*parts, *([f"{self.id}-errors"] if self.errors else [])])


def shown_field(model: type[BaseModel], entry: Entry) -> ShownField:
    """The field of an input model as a form shows it."""
    info = model.model_fields[entry.name]
    schema = _property(model, entry.name)
    choices = entry.choices
    if choices is None and (closed := _closed_list(info)):
        choices = closed
    kind = "choice" if choices is not None else _kind(schema)
    return ShownField(
        entry=entry,
        kind=kind,
        is_required=info.is_required() or entry.is_needed,
        least=_plain(schema.get("minimum")),
        most=_plain(schema.get("maximum")),
        max_length=schema.get("maxLength") if kind in ("text", "note") else None,
        choices=choices or (),
        value=text_of(info.get_default(), kind, "UTC") if not info.is_required() else "",
    )


def _plain(limit: float | None) -> str:
    return "" if limit is None else f"{limit:.12g}"


@cache
def _properties(model: type[BaseModel]) -> dict[str, Any]:
    """JSON schemas of a model's fields; made once, because making them costs more than the page."""
    properties: dict[str, Any] = model.model_json_schema()["properties"]
    return properties


def _property(model: type[BaseModel], name: str) -> dict[str, Any]:
    schema: dict[str, Any] = _properties(model)[name]
    for branch in schema.get("anyOf", ()):
        if branch.get("type") != "null":
            return {**schema, **branch}
    return schema


def _kind(schema: dict[str, Any]) -> str:
    by_format = {"date": "day", "date-time": "instant"}
    if schema.get("format") in by_format:
        return by_format[schema["format"]]
    by_type = {"number": "number", "integer": "integer", "boolean": "yes-no"}
    if schema.get("type") in by_type:
        return by_type[schema["type"]]
    return "note" if schema.get("maxLength", 0) > 250 else "text"


def _closed_list(info: FieldInfo) -> Choices | None:
    for candidate in (info.annotation, *get_args(info.annotation)):
        if isinstance(candidate, type) and issubclass(candidate, TextChoices):
            return [(str(value), str(label).capitalize()) for value, label in candidate.choices]
    return None


def text_of(value: Any, kind: str, zone: str) -> str:
    """How a stored (JSON) value stands in the form."""
    if value is None:
        return ""
    if kind == "yes-no":
        return "yes" if value else ""
    if kind == "instant":
        local = (value if isinstance(value, datetime) else datetime.fromisoformat(value)).astimezone(
            zone_of(zone)
        )
        return local.strftime("%Y-%m-%dT%H:%M")
    return str(value.value if isinstance(value, Enum) else value)


def data_of(text: str, kind: str, zone: str) -> Any:
    """The JSON value of what was typed; None when nothing was.  What cannot be read goes on as it is."""
    text = text.strip()
    if kind == "yes-no":
        return text == "yes"
    if not text:
        return None
    if kind == "number":
        return text.replace(",", ".")
    if kind == "integer":
        return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else text
    if kind == "instant":
        return _instant(text, zone)
    return text


def _instant(text: str, zone: str) -> str:
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        return text
    if local.tzinfo is not None:
        return text
    return instant_of(local.date(), time(local.hour, local.minute, local.second), zone).isoformat()

"""Types that record inputs are made of.  Each says its unit and range, so refusals and OpenAPI say them too."""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated, Any, get_args
from uuid import UUID
from zoneinfo import available_timezones

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError


@dataclass(frozen=True)
class Ref:
    """Marks a field as the uid of another record (record type name) of the same kennel."""

    type_name: str


def _hide_from_people(character: str) -> bool:
    # Control, format (bidi overrides among them), surrogate and private characters have no place in a name.
    return unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co"}


_ALLOWED_IN_NOTES = {
    "\n",
    "\t",
    "\u200d",
}  # line breaks, tabs, and the joiner that family emoji are made with


def _clean_line(value: Any) -> Any:
    if isinstance(value, str):
        value = unicodedata.normalize("NFC", value.strip())
        if any(_hide_from_people(c) for c in value):
            raise PydanticCustomError("character", "Control and direction characters are not accepted here.")
        _refuse_stacked_marks(value)
    return value


def _clean_note(value: Any) -> Any:
    if isinstance(value, str):
        value = unicodedata.normalize("NFC", value.replace("\r\n", "\n").strip())
        if any(_hide_from_people(c) and c not in _ALLOWED_IN_NOTES for c in value):
            raise PydanticCustomError("character", "Control and direction characters are not accepted here.")
        _refuse_stacked_marks(value)
    return value


def _refuse_stacked_marks(value: str) -> None:
    run = 0
    for character in value:
        run = run + 1 if unicodedata.combining(character) else 0
        if run > 8:
            raise PydanticCustomError("character", "Too many combining marks on one character.")


def _plain_number(value: Any) -> Any:
    """JSON numbers or plain ASCII digit strings; no booleans, no exponent form in strings."""
    if isinstance(value, bool):
        raise PydanticCustomError("number", "A number is expected.")
    if isinstance(value, str) and not _PLAIN.fullmatch(value):
        raise PydanticCustomError("number", "Write the number in plain digits.")
    if isinstance(value, int) and abs(value) >= 10**18:
        raise PydanticCustomError("number", "The number is too large.")
    if isinstance(value, float):
        return repr(value)
    return value


_PLAIN = re.compile(r"-?[0-9]{1,18}(\.[0-9]{1,9})?", re.ASCII)


def _to_utc(value: datetime) -> datetime:
    if not 1990 <= value.year <= 2200:
        raise PydanticCustomError("instant", "The year is outside 1990 to 2200.")
    return value.astimezone(UTC)


def _rfc3339(value: Any) -> Any:
    if isinstance(value, datetime):
        return value
    if not isinstance(value, str) or not _INSTANT.fullmatch(value):
        raise PydanticCustomError(
            "instant", "An RFC 3339 instant with its offset is expected, as 2026-03-01T07:30:00Z."
        )
    return value


_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?([Zz]|[+-][0-9]{2}:[0-9]{2})",
    re.ASCII,
)


def _iso_day(value: Any) -> Any:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if not isinstance(value, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value, re.ASCII):
        raise PydanticCustomError("day", "A day as YYYY-MM-DD is expected.")
    return value


def _sane_day(value: date) -> date:
    if not 1950 <= value.year <= 2200:
        raise PydanticCustomError("day", "The year is outside 1950 to 2200.")
    return value


def _known_zone(value: str) -> str:
    if value not in available_timezones():
        raise PydanticCustomError("zone", "Not a time zone of the IANA list, such as Europe/London.")
    return value


def _real_uid(value: UUID) -> UUID:
    if (
        value.int in (0, 2**128 - 1)
        or value.variant != "specified in RFC 4122"
        or value.version not in (4, 7)
    ):
        raise PydanticCustomError("uid", "A UUID of version 7 (or 4) is expected.")
    return value


def _uid_text(value: Any) -> Any:
    if isinstance(value, UUID):
        return value
    if not isinstance(value, str) or len(value) != 36:
        raise PydanticCustomError("uid", "A UUID in its usual 36-character form is expected.")
    return value


Uid = Annotated[UUID, BeforeValidator(_uid_text), AfterValidator(_real_uid)]
Instant = Annotated[
    AwareDatetime,
    BeforeValidator(_rfc3339),
    AfterValidator(_to_utc),
    WithJsonSchema({"type": "string", "format": "date-time", "example": "2026-03-01T07:30:00Z"}),
]
Day = Annotated[date, BeforeValidator(_iso_day), AfterValidator(_sane_day)]
YesNo = Annotated[bool, Field(strict=True)]
Zone = Annotated[str, StringConstraints(max_length=64), AfterValidator(_known_zone)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=80), BeforeValidator(_clean_line)]
Line = Annotated[str, StringConstraints(max_length=200), BeforeValidator(_clean_line)]
FileName = Annotated[str, StringConstraints(max_length=255), BeforeValidator(_clean_line)]
Note = Annotated[str, StringConstraints(max_length=2000), BeforeValidator(_clean_note)]
WallTimeText = Annotated[str, StringConstraints(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]


def number(least: str | float, most: str | float, places: int = 2) -> Any:
    """A Decimal between least and most (inclusive) with at most `places` decimal places."""
    return Annotated[
        Decimal,
        Field(ge=Decimal(str(least)), le=Decimal(str(most)), decimal_places=places, allow_inf_nan=False),
        BeforeValidator(_plain_number),
        WithJsonSchema({"type": "number", "minimum": float(least), "maximum": float(most)}),
    ]


def _json_number(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


def listed(least: str | float, most: str | float, *, above: bool = False) -> Any:
    """A number inside a list or part of a record, kept as a plain JSON number (requests bring exact decimals).

    Between least and most, both included; above: least itself is left out.
    """
    low, high = float(least), float(most)
    lower = Field(gt=low) if above else Field(ge=low)
    return Annotated[
        float,
        BeforeValidator(_json_number),
        Field(le=high, strict=True, allow_inf_nan=False),
        lower,
        # Said by hand: behind a validator of our own the limits would not reach the description.
        WithJsonSchema(
            {"type": "number", ("exclusiveMinimum" if above else "minimum"): low, "maximum": high}
        ),
    ]


def whole(least: int, most: int) -> Any:
    """A whole number between least and most (inclusive)."""
    return Annotated[int, Field(ge=least, le=most, strict=True)]


def ref(type_name: str) -> Any:
    """The uid of a record of the named type in the same kennel."""
    return Annotated[UUID, BeforeValidator(_uid_text), AfterValidator(_real_uid), Ref(type_name)]


class RecordInput(BaseModel):
    """Base of what a client may write.  Unknown fields are refused; `reason` explains a correction."""

    model_config = ConfigDict(extra="forbid", str_max_length=4000, frozen=True)

    reason: Annotated[str, StringConstraints(max_length=500), BeforeValidator(_clean_note)] = ""


class Part(BaseModel):
    """Base of what stands in a list inside a record: a line of a label's table, a row of a growth table."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class FactInput(RecordInput):
    """What every fact carries: when it happened, and a note."""

    occurred_at: Instant
    note: Note = ""


def refs_of(model: type[BaseModel]) -> Iterator[tuple[str, str]]:
    """Pairs (field name, record type name) of all fields that point at other records."""
    for name, info in model.model_fields.items():
        for marker in (*info.metadata, *_nested_metadata(info.annotation)):
            if isinstance(marker, Ref):
                yield name, marker.type_name


def _nested_metadata(annotation: Any) -> Iterator[Any]:
    for argument in get_args(annotation):
        yield from getattr(argument, "__metadata__", ())
        yield from _nested_metadata(argument)

"""Why a write or a read was refused.  The API turns a refusal into a problem document; nothing here knows HTTP."""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class FieldError:
    """One thing wrong with one place of the input; `pointer` is an RFC 6901 pointer in fragment form."""

    pointer: str
    code: str
    detail: str


@dataclass
class Refusal(Exception):
    """A refusal named by its problem slug (see `kennel.api.problems.SLUGS`)."""

    slug: str
    detail: str = ""
    errors: list[FieldError] = field(default_factory=list)
    extra: dict[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return f"{self.slug}: {self.detail}"


def invalid(field_name: str, code: str, detail: str) -> Refusal:
    """Refusal of one field's value."""
    return Refusal("validation", "", [FieldError(f"#/{field_name}", code, detail)])

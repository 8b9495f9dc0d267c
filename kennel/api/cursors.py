"""Opaque cursors: signed, so a truncated, flipped or foreign one is refused instead of answered."""

from typing import Any
from uuid import UUID

from django.core import signing

from kennel.records.refusals import Refusal


def seal(purpose: str, kennel_uid: UUID, *parts: Any) -> str:
    """A cursor for one purpose in one kennel."""
    return signing.dumps([*parts], salt=f"{purpose}:{kennel_uid}")


def unseal(purpose: str, kennel_uid: UUID, text: str) -> list[Any]:
    """Parts of a cursor.  Raises Refusal("malformed") unless it was made for this purpose and kennel."""
    try:
        parts: list[Any] = signing.loads(text, salt=f"{purpose}:{kennel_uid}")
    except (signing.BadSignature, ValueError):
        raise Refusal("malformed", "This cursor is not one of ours.") from None
    return parts

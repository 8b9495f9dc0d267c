"""Whether a stored JSON value and a value asked for mean the same, whatever their spelling."""

from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any


def alike(stored: Any, asked: Any) -> bool:
    """True when both are equal as they stand, as numbers (1 and "1.00"), or as instants (Z and +00:00); lists and
    objects when all they hold is alike (stored numbers are exact decimals, those of a request need not be).
    """
    if stored == asked:
        return True
    if stored is None or asked is None or isinstance(stored, bool) or isinstance(asked, bool):
        return False
    if isinstance(stored, str) and isinstance(asked, str):
        return _instant(stored) is not None and _instant(stored) == _instant(asked)
    if isinstance(stored, list) and isinstance(asked, list):
        return len(stored) == len(asked) and all(map(alike, stored, asked))
    if isinstance(stored, dict) and isinstance(asked, dict):
        return stored.keys() == asked.keys() and all(alike(stored[key], asked[key]) for key in stored)
    if isinstance(asked, list | dict) or isinstance(stored, list | dict):
        return False
    return _number(stored) is not None and _number(stored) == _number(asked)


def _number(value: object) -> Decimal | None:
    try:
        return Decimal(str(value))
    except InvalidOperation:
        return None


def _instant(value: str) -> datetime | None:
    try:
        return datetime.fromisoformat(value)
    except ValueError:
        return None

"""Identifiers that leave the server."""

from uuid import UUID

import uuid6


def new_uid() -> UUID:
    """A UUIDv7 (RFC 9562).  Unique, roughly ordered by time; nothing in the server sorts by it."""
    return UUID(bytes=uuid6.uuid7().bytes)

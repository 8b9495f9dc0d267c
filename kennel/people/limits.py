"""Limits against guessing, counted in Valkey (in this process while Valkey is away) per subject and window.

Windows are fixed, so up to twice the amount can fall around a window's edge.
"""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from django.core.cache import cache


@dataclass(frozen=True)
class Limit:
    """At most `amount` tries per `window_s` seconds."""

    name: str
    amount: int
    window_s: int


PAIRING = Limit("pairing", 10, 60)
INVITATION = Limit("invitation", 20, 60)
PIN_OF_MEMBER = Limit("pin-member", 5, 900)
PIN_AT_DEVICE = Limit("pin-device", 20, 900)


def take(limit: Limit, subject: object, at: datetime) -> int | None:
    """Count one try of a subject.  None when it is allowed, else the seconds until the next window."""
    key = _key(limit, subject, at)
    cache.add(key, 0, timeout=limit.window_s * 2)
    try:
        used = cache.incr(key)
    except ValueError:  # the counter vanished in between: Valkey was emptied or went away
        cache.set(key, 1, timeout=limit.window_s * 2)
        used = 1
    if used <= limit.amount:
        return None
    return limit.window_s - int(at.timestamp()) % limit.window_s


def forget(limit: Limit, subject: object, at: datetime) -> None:
    """Forget the tries of a subject in this window: it has shown that it is no guesser."""
    cache.delete(_key(limit, subject, at))


def _key(limit: Limit, subject: object, at: datetime) -> str:
    # Hashed, so that no address or name stands in a cache key.
    hashed = hashlib.sha256(str(subject).encode()).hexdigest()[:32]
    return f"limit:{limit.name}:{hashed}:{int(at.timestamp()) // limit.window_s}"

"""Request quotas: an atomic counter in Valkey per principal and minute.  Without Valkey everybody passes."""

import time
from dataclasses import dataclass
from functools import lru_cache

import redis
import structlog
from django.conf import settings

WINDOW_S = 60
_SILENCE_S = 10.0
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Quota:
    """What is left of the current window."""

    limit: int
    used: int
    resets_in_s: int

    @property
    def is_exceeded(self) -> bool:
        """Whether this request is over the limit."""
        return self.used > self.limit


@lru_cache(maxsize=1)
def _client() -> redis.Redis:
    return redis.Redis.from_url(settings.REDIS_URL, socket_connect_timeout=0.25, socket_timeout=0.5)


_down_until = 0.0


def count(principal: str, units: int = 1) -> Quota | None:
    """Count units for a principal; None while Valkey is away (then nobody is refused)."""
    global _down_until
    now = time.time()
    if now < _down_until:
        return None
    window = int(now // WINDOW_S)
    key = f"quota:{principal}:{window}"
    try:
        used = int(_client().incrby(key, units))
        if (
            used == units
        ):  # the first of its window; a key without expiry would only outlive a crash right here
            _client().expire(key, WINDOW_S * 2)
    except (redis.RedisError, OSError):
        log.warning("quota counters are away")
        _down_until = now + _SILENCE_S
        return None
    return Quota(settings.QUOTA_PER_MINUTE, used, int((window + 1) * WINDOW_S - now) + 1)

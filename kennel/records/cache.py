"""A cache that survives the loss of Valkey: counters then live in this process until it is back.

allauth's limiter and our quotas count here.  A lost Valkey must cost accuracy, never an error page.
"""

import functools
from collections.abc import Callable
from typing import Any

from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError


def _or_local(method: str) -> Callable[..., Any]:
    @functools.wraps(getattr(RedisCache, method))
    def call(self: "FallbackCache", *args: Any, **kwargs: Any) -> Any:
        try:
            return getattr(RedisCache, method)(self, *args, **kwargs)
        except (RedisError, OSError):
            return getattr(self._local, method)(*args, **kwargs)

    return call


class FallbackCache(RedisCache):
    """RedisCache whose every operation falls back to process-local memory on a connection error."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        options = params.setdefault("OPTIONS", {})
        options.setdefault("socket_connect_timeout", 0.25)
        options.setdefault("socket_timeout", 0.5)
        super().__init__(server, params)
        self._local = LocMemCache("fallback", {**params, "OPTIONS": {}})

    add = _or_local("add")
    get = _or_local("get")
    set = _or_local("set")
    touch = _or_local("touch")
    delete = _or_local("delete")
    get_many = _or_local("get_many")
    has_key = _or_local("has_key")
    incr = _or_local("incr")
    set_many = _or_local("set_many")
    delete_many = _or_local("delete_many")
    clear = _or_local("clear")

    def is_connected(self) -> bool:
        """Whether Valkey itself answers."""
        try:
            return bool(self._cache.get_client().ping())
        except (RedisError, OSError):
            return False

"""From which address a request comes, as far as we can know it."""

import ipaddress

from django.conf import settings
from django.http import HttpRequest

UNKNOWN = "0.0.0.0"  # noqa: S104  (a placeholder, nothing listens on it)


def client_address(request: HttpRequest) -> str:
    """The client's address; `UNKNOWN` when there is none (a proxy that comes over a local socket).

    X-Forwarded-For can be forged by anybody, so only the entries our own proxies added count: the one that
    TRUSTED_PROXY_COUNT names from the right.  With the default of 0 the header is never read.
    """
    told = ""
    if settings.TRUSTED_PROXY_COUNT:
        entries = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        if len(entries) >= settings.TRUSTED_PROXY_COUNT:
            told = entries[-settings.TRUSTED_PROXY_COUNT].strip()
    return _plain(told) or _plain(request.META.get("REMOTE_ADDR", "")) or UNKNOWN


def network_of(address: str) -> str:
    """What limits count by: an IPv4 address, or the /64 of an IPv6 address (a household has that many)."""
    parsed = ipaddress.ip_address(address)
    if isinstance(parsed, ipaddress.IPv4Address):
        return str(parsed)
    return str(ipaddress.IPv6Network((parsed, 64), strict=False).network_address)


def _plain(text: str) -> str | None:
    try:
        parsed = ipaddress.ip_address(text)
    except ValueError:
        return None
    mapped = getattr(parsed, "ipv4_mapped", None)
    return str(mapped or parsed)

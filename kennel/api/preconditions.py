"""If-Match, If-None-Match, Device-Time and Prefer headers."""

import re
from datetime import datetime
from uuid import UUID

from kennel.records.refusals import Refusal

_TAG = re.compile(r'\s*(?:W/)?"v([0-9]{1,10})"\s*', re.ASCII)
# Any well-formed entity tag; one that is not ours simply never matches.
_ANY_TAG = re.compile(r'\s*(?:W/)?"[\x21\x23-\x7e\x80-\xff]*"\s*')


def etag(version: int) -> str:
    """Entity tag of a version."""
    return f'"v{version}"'


def accepted_versions(header: str | None) -> frozenset[int] | None:
    """Versions named by If-Match; None for `*`.

    Proxies that compress turn strong tags into weak ones; the tag is a version number, so W/ is ignored.
    Raises Refusal("precondition-required") without the header and Refusal("malformed") for a bad one.
    """
    if not header:
        raise Refusal("precondition-required", 'Send If-Match with the version you have, such as "v3".')
    if header.strip() == "*":
        return None
    versions = set()
    for part in header.split(","):
        if match := _TAG.fullmatch(part):
            versions.add(int(match[1]))
        elif not _ANY_TAG.fullmatch(part):
            raise Refusal("malformed", 'If-Match takes quoted tags, such as "v3".')
    return frozenset(versions)


def is_fresh(header: str | None, tag: str) -> bool:
    """Whether If-None-Match says that the client has this version already."""
    if not header:
        return False
    if header.strip() == "*":
        return True
    return tag.removeprefix("W/") in {part.strip().removeprefix("W/") for part in header.split(",")}


def device_skew_s(header: str | None, now: datetime) -> int | None:
    """Seconds the device's clock is ahead of ours (negative: behind); None when it did not say."""
    if not header:
        return None
    try:
        told = datetime.fromisoformat(header.strip())
    except ValueError:
        raise Refusal("malformed", "Device-Time takes an RFC 3339 instant.") from None
    if told.tzinfo is None:
        raise Refusal("malformed", "Device-Time needs its offset.")
    skew = (told - now).total_seconds()
    return int(max(-2_000_000_000, min(2_000_000_000, skew)))


def parse_uid(text: str) -> UUID:
    """A uid of the path.  Anything else than a UUID is simply not found."""
    if len(text) != 36:
        raise Refusal("not-found")
    try:
        return UUID(text)
    except ValueError:
        raise Refusal("not-found") from None

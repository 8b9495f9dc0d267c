"""Secrets of devices, tablet turns, invitations and pairing.

Long secrets (device, turn, link) are 256 random or derived bits and stored as SHA-256.  Codes that people
type have 40 bits: they live minutes to an hour, every door that takes them is limited, and they are stored as
a keyed hash, so that a copy of the database alone does not tell them.
"""

import base64
import hashlib
import re
import secrets
import string
import zlib

from django.utils.crypto import salted_hmac

_ALPHABET = string.ascii_letters + string.digits
_TAIL = r"([0-9A-Za-z_-]{43})([0-9A-Za-z]{6})"
_DEVICE = re.compile(rf"kn_dev_([0-9A-Za-z]{{12}})_{_TAIL}", re.ASCII)
_TURN = re.compile(rf"kn_act_{_TAIL}", re.ASCII)
# No 0/O, 1/I: a code is read aloud and typed with wet hands.
_CODE_ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
_CODE = re.compile(rf"[{_CODE_ALPHABET}]{{8}}", re.ASCII)


def _checksum(text: str) -> str:
    value = zlib.crc32(text.encode())
    digits = ""
    for _ in range(6):
        value, rest = divmod(value, 62)
        digits = _ALPHABET[rest] + digits
    return digits


def new_device_token() -> tuple[str, str, bytes]:
    """A new device token: (token to show once, key to look it up by, SHA-256 of its 256-bit secret)."""
    key = "".join(secrets.choice(_ALPHABET) for _ in range(12))
    secret = secrets.token_urlsafe(32)
    return f"kn_dev_{key}_{secret}{_checksum(key + secret)}", key, hashlib.sha256(secret.encode()).digest()


def parse_device_token(token: str) -> tuple[str, str] | None:
    """(key, secret) of a well-formed device token whose checksum fits, else None."""
    match = _DEVICE.fullmatch(token)
    if match is None or _checksum(match[1] + match[2]) != match[3]:
        return None
    return match[1], match[2]


def new_turn_token() -> tuple[str, str]:
    """A new token of a turn at a shared tablet: (token to show once, hash to store)."""
    secret = secrets.token_urlsafe(32)
    return f"kn_act_{secret}{_checksum(secret)}", hash_of(secret)


def parse_turn_token(token: str) -> str | None:
    """Stored hash of a well-formed turn token, else None."""
    match = _TURN.fullmatch(token)
    if match is None or _checksum(match[1]) != match[2]:
        return None
    return hash_of(match[1])


def hash_of(secret: str) -> str:
    """SHA-256 of a long secret, in hexadecimal."""
    return hashlib.sha256(secret.encode()).hexdigest()


def link_token(purpose: str, *parts: object) -> str:
    """The 256-bit token of a link, derived from the server's secret and its purpose: the same each time."""
    digest = _derived(f"link.{purpose}", parts)
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


def code(purpose: str, *parts: object) -> str:
    """An eight-character code in two groups, derived like a link token.  40 bits: expire and limit it."""
    number = int.from_bytes(_derived(f"code.{purpose}", parts)[:5], "big")
    raw = "".join(_CODE_ALPHABET[number >> (5 * place) & 31] for place in range(8))
    return f"{raw[:4]}-{raw[4:]}"


def code_hash(typed: str) -> str | None:
    """Keyed hash of a typed code, whatever its case, spaces and hyphens; None when it cannot be one."""
    plain = re.sub(r"[\s-]", "", typed).upper()
    if _CODE.fullmatch(plain) is None:
        return None
    return _derived("hash", (plain,)).hex()


def _derived(purpose: str, parts: tuple[object, ...]) -> bytes:
    text = "\n".join(map(str, parts))
    return salted_hmac(f"kennel.people.tokens.{purpose}", text, algorithm="sha256").digest()

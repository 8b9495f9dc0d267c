"""Secrets that are shown once: device tokens, invitation links, pairing codes."""

import base64
import hashlib
import re
import secrets
import string
import zlib

_ALPHABET = string.ascii_letters + string.digits
_DEVICE = re.compile(r"kn_dev_([0-9A-Za-z]{12})_([0-9A-Za-z_-]{43})([0-9A-Za-z]{6})", re.ASCII)
# No 0/O, 1/I: a code is read aloud and typed with wet hands.
_CODE_ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"


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


def new_link_token() -> tuple[str, str]:
    """(token for a link, hash to store)."""
    token = base64.urlsafe_b64encode(secrets.token_bytes(24)).decode()
    return token, hash_of(token)


def new_code() -> tuple[str, str]:
    """(eight-character code in two groups, hash to store).  40 bits; use it only with an expiry and a limit."""
    raw = "".join(secrets.choice(_CODE_ALPHABET) for _ in range(8))
    return f"{raw[:4]}-{raw[4:]}", hash_of(raw)


def hash_of(secret: str) -> str:
    """SHA-256 of a secret in hexadecimal; codes are compared without hyphens and in capitals."""
    return hashlib.sha256(secret.encode()).hexdigest()


def plain_code(typed: str) -> str:
    """A typed pairing code without spaces and hyphens, in capitals."""
    return re.sub(r"[\s-]", "", typed).upper()

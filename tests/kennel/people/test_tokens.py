"""Shapes and checks of tokens and codes."""

import base64
import hashlib
import hmac
import re
from typing import Any

import pytest

from kennel.people import tokens


def test_a_device_token_has_the_documented_shape_and_is_stored_as_sha256() -> None:
    token, key, digest = tokens.new_device_token()
    # The shape of the conventions: kn_dev_<id>_<43 random chars><6-char checksum>.
    match = re.fullmatch(r"kn_dev_([0-9A-Za-z]+)_([0-9A-Za-z_-]{43})([0-9A-Za-z]{6})", token)
    assert match is not None
    assert match[1] == key
    assert len(base64.urlsafe_b64decode(match[2] + "=")) == 32  # 43 characters hold 256 bits
    assert digest == hashlib.sha256(match[2].encode()).digest()
    assert tokens.parse_device_token(token) == (key, match[2])


@pytest.mark.parametrize("place", [7, 20, 40, -1])
def test_a_mistyped_token_is_told_without_asking_the_database(place: int) -> None:
    for token, parse in (
        (tokens.new_device_token()[0], tokens.parse_device_token),
        (tokens.new_turn_token()[0], tokens.parse_turn_token),
    ):
        assert parse(token) is not None
        wrong = list(token)
        wrong[place] = "A" if wrong[place] != "A" else "B"
        assert parse("".join(wrong)) is None
        assert parse(token + "A") is None
        assert parse(token[:-1]) is None


def test_tokens_and_keys_never_repeat() -> None:
    made = [tokens.new_device_token() for _ in range(500)]
    assert len({token for token, _, _ in made}) == len({key for _, key, _ in made}) == 500


def test_a_code_is_eight_characters_that_nobody_confuses() -> None:
    codes = {tokens.code("pairing", 1, n) for n in range(2000)}
    assert len(codes) == 2000
    letters = set("".join(codes)) - {"-"}
    assert letters == set("ABCDEFGHJKLMNPQRSTUVWXYZ23456789")
    assert all(re.fullmatch(r"[A-Z2-9]{4}-[A-Z2-9]{4}", code) for code in codes)


def test_a_code_follows_from_its_purpose_and_parts_and_the_servers_secret(settings: Any) -> None:
    code = tokens.code("pairing", 1, "a")
    assert tokens.code("pairing", 1, "a") == code
    others = {
        tokens.code("invitation", 1, "a"),
        tokens.code("pairing", 2, "a"),
        tokens.code("pairing", 1, "b"),
    }
    assert code not in others
    assert len(others) == 3
    link = tokens.link_token("invitation", 1, "a")
    assert len(base64.urlsafe_b64decode(link + "=")) == 32
    settings.SECRET_KEY = "another secret of the same server"
    assert tokens.code("pairing", 1, "a") != code
    assert tokens.link_token("invitation", 1, "a") != link


def test_a_code_is_compared_without_hyphens_spaces_and_case() -> None:
    hashed = tokens.code_hash("ABCD-EFGH")
    assert hashed is not None
    assert {tokens.code_hash(typed) for typed in ("abcdefgh", " ab cd-ef gh ", "ABCDEFGH")} == {hashed}
    assert tokens.code_hash("ABCD-EFGJ") != hashed


@pytest.mark.parametrize(
    "typed", ["", "ABCD", "ABCD-EFG0", "ABCD-EFGI", "ABCD-EFGHJ", "ÄBCD-EFGH", "ABCD\x00EFG"]
)
def test_what_cannot_be_a_code_is_told_without_asking_the_database(typed: str) -> None:
    assert tokens.code_hash(typed) is None


def test_a_stored_code_hash_cannot_be_tried_without_the_servers_secret() -> None:
    hashed = tokens.code_hash("ABCD-EFGH")
    assert hashed is not None
    assert not hmac.compare_digest(hashed, hashlib.sha256(b"ABCDEFGH").hexdigest())

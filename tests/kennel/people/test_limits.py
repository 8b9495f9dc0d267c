"""Limits count per subject and window, survive the loss of Valkey, and no forged header widens them."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import RequestFactory

from kennel.people.addresses import UNKNOWN, client_address, network_of
from kennel.people.limits import Limit, forget, take
from kennel.records.cache import FallbackCache

AT = datetime(2026, 3, 1, 7, 30, 10, tzinfo=UTC)
THREE = Limit("three-a-minute", 3, 60)


@pytest.mark.usefixtures("db")
def test_a_subject_has_its_amount_in_each_window() -> None:
    assert [take(THREE, "a", AT) for _ in range(5)] == [None, None, None, 50, 50]
    assert take(THREE, "b", AT) is None
    assert take(Limit("other", 3, 60), "a", AT) is None
    assert take(THREE, "a", AT + timedelta(seconds=49)) == 1
    assert take(THREE, "a", AT + timedelta(seconds=50)) is None


@pytest.mark.usefixtures("db")
def test_a_count_can_be_forgotten() -> None:
    assert [take(THREE, "a", AT) for _ in range(4)][-1] is not None
    forget(THREE, "a", AT)
    assert take(THREE, "a", AT) is None


@pytest.mark.usefixtures("db")
def test_an_emptied_valkey_starts_the_count_again_without_an_error() -> None:
    assert [take(THREE, "a", AT) for _ in range(4)][-1] is not None
    cache.clear()
    assert take(THREE, "a", AT) is None


def test_without_valkey_each_process_counts_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    nobody_there = FallbackCache("redis://127.0.0.1:1/0", {})
    monkeypatch.setattr("kennel.people.limits.cache", nobody_there)
    assert [take(THREE, "a", AT) for _ in range(5)] == [None, None, None, 50, 50]


def test_subjects_are_not_readable_in_valkey(monkeypatch: pytest.MonkeyPatch) -> None:
    kept: dict[str, Any] = {}

    class Recorder:
        def add(self, key: str, value: int, timeout: int) -> None:
            kept.setdefault(key, value)

        def incr(self, key: str) -> int:
            kept[key] += 1
            return int(kept[key])

    monkeypatch.setattr("kennel.people.limits.cache", Recorder())
    assert take(THREE, "203.0.113.7", AT) is None
    assert len(kept) == 1
    assert "203.0.113.7" not in repr(kept)


def asked(forwarded: str | None, remote: str = "203.0.113.7") -> Any:
    headers = {} if forwarded is None else {"X-Forwarded-For": forwarded}
    return RequestFactory().get("/", headers=headers, REMOTE_ADDR=remote)


# 192.0.2.0/24, 198.51.100.0/24, 203.0.113.0/24 are for documentation (RFC 5737), 2001:db8::/32 (RFC 3849).
@pytest.mark.parametrize(
    ("proxies", "forwarded", "remote", "expected"),
    [
        (0, None, "203.0.113.7", "203.0.113.7"),
        (0, "198.51.100.1", "203.0.113.7", "203.0.113.7"),
        (1, "198.51.100.1", "203.0.113.7", "198.51.100.1"),
        (1, "192.0.2.66, 198.51.100.1", "203.0.113.7", "198.51.100.1"),
        (2, "192.0.2.66, 198.51.100.1, 10.0.0.2", "203.0.113.7", "198.51.100.1"),
        (2, "198.51.100.1", "203.0.113.7", "203.0.113.7"),
        (1, "not an address", "203.0.113.7", "203.0.113.7"),
        (1, "", "203.0.113.7", "203.0.113.7"),
        (0, None, "", UNKNOWN),
        (0, None, "::ffff:203.0.113.7", "203.0.113.7"),
    ],
)
def test_the_address_counts_that_our_own_proxies_saw(
    settings: Any, proxies: int, forwarded: str | None, remote: str, expected: str
) -> None:
    settings.TRUSTED_PROXY_COUNT = proxies
    assert client_address(asked(forwarded, remote)) == expected


def test_a_household_of_ipv6_addresses_counts_as_one() -> None:
    assert network_of("2001:db8:1:2:aaaa::1") == network_of("2001:db8:1:2:bbbb::9") == "2001:db8:1:2::"
    assert network_of("2001:db8:1:3::1") != network_of("2001:db8:1:2::1")
    assert network_of("203.0.113.7") == "203.0.113.7"

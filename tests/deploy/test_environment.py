"""Which part learns which address, and what is not inherited."""

from pathlib import Path

import pytest

from deploy.environment import Addresses, HalfConfigured, contract, for_role, own_databases

ADDRESSES = Addresses("postgresql://owner", "postgresql://app", "postgresql://jobs", "redis://valkey")


def variables(**inherited: str) -> dict[str, str]:
    """The contract of an owner's command."""
    return contract(
        ADDRESSES,
        state=Path("/srv/kennel"),
        secret_key=Path("/srv/kennel/secrets/secret-key"),
        origin="http://127.0.0.1:8000",
        programs=Path("/srv/programs"),
        inherited=inherited,
    )


def test_the_web_and_beat_never_learn_the_owners_address() -> None:
    web = for_role(variables(), "app")
    assert "postgresql://owner" not in web.values()
    assert web["DB_ROLE"] == "app"
    assert for_role(variables(), "jobs")["OWNER_DATABASE_URL"] == "postgresql://owner"


def test_debugging_and_stray_addresses_are_not_inherited_and_tuning_is() -> None:
    made = variables(DEBUG="1", DB_ROLE="app", DATABASE_URL="postgresql://stray", WEB_THREADS="8")
    assert "DEBUG" not in made
    assert made["DB_ROLE"] == "owner"
    assert made["DATABASE_URL"] == "postgresql://app"
    assert made["WEB_THREADS"] == "8"


def test_zone_rules_come_from_the_pinned_package() -> None:
    assert variables(PYTHONTZPATH="/usr/share/zoneinfo")["PYTHONTZPATH"] == ""


def test_a_secret_key_of_ones_own_is_kept() -> None:
    assert "SECRET_KEY_FILE" not in variables(SECRET_KEY="x" * 60)
    assert variables(SECRET_KEY_FILE="/run/key")["SECRET_KEY_FILE"] == "/run/key"
    assert variables()["SECRET_KEY_FILE"] == "/srv/kennel/secrets/secret-key"


def test_all_three_database_addresses_or_none() -> None:
    assert own_databases({}) is None
    whole = {"OWNER_DATABASE_URL": "o", "DATABASE_URL": "a", "JOBS_DATABASE_URL": "j"}
    assert own_databases(whole) == ("o", "a", "j")
    for name in whole:
        with pytest.raises(HalfConfigured, match=f"missing: {name}"):
            own_databases({**whole, name: ""})

"""Contacts: reachable while needed, forgotten on request, here, in the journal and in restored backups."""

from pathlib import Path

import psycopg
import pytest

from kennel.people.choices import Role
from kennel.upkeep import erasures
from tests.api import DeviceClient
from tests.factories.people import add_member, make_kennel

pytestmark = pytest.mark.usefixtures("db")
UID = "01890a5d-ac96-774b-bcce-b302099a8057"
BUYER = {"uid": UID, "kind": "buyer", "name": "Piet Lasker", "phone": "+44 20 7946 0000"}


@pytest.fixture(autouse=True)
def _own_state(tmp_path: Path, settings: object) -> None:
    settings.STATE_DIR = tmp_path  # type: ignore[attr-defined]


def test_the_journal_names_changed_personal_fields_but_never_holds_their_values(
    owner: psycopg.Connection,
) -> None:
    client = DeviceClient(make_kennel())
    assert client.post("contacts", BUYER).status_code == 201
    assert client.patch(f"contacts/{UID}", {"phone": "+44 20 7946 0001"}, 1).status_code == 200
    rows = owner.execute(
        "SELECT op, new::text FROM records_journal WHERE type = 'contact' ORDER BY seq"
    ).fetchall()
    assert [op for op, _ in rows] == ["create", "update"]
    assert "Piet" not in str(rows)
    assert "7946" not in str(rows)
    assert '"phone": true' in rows[1][1]


def test_an_erased_contact_is_empty_and_a_device_that_sends_it_again_is_told_to_drop_it() -> None:
    place = make_kennel()
    client = DeviceClient(place)
    carer = DeviceClient(place, carer=add_member(place, Role.CARER))
    client.post("contacts", BUYER)
    assert carer.post(f"contacts/{UID}/erase", {}).status_code == 403
    keeper = DeviceClient(place, carer=place.keeper)
    assert keeper.post(f"contacts/{UID}/erase", {}).status_code == 204
    assert keeper.post(f"contacts/{UID}/erase", {}).status_code == 204
    shown = client.get(f"contacts/{UID}")
    assert (shown.json()["name"], shown.json()["phone"]) == ("", "")
    assert shown["Cache-Control"] == "no-store"
    again = client.post("contacts", BUYER)
    assert (again.status_code, again.json()["type"]) == (410, "/problems/erased")


def test_a_restored_backup_forgets_again(owner: psycopg.Connection) -> None:
    place = make_kennel()
    client = DeviceClient(place, carer=place.keeper)
    client.post("contacts", BUYER)
    client.post(f"contacts/{UID}/erase", {})
    assert len(erasures.log_path().read_text().splitlines()) == 1
    owner.execute(
        "UPDATE contacts_contact SET name = 'Piet Lasker', erased_at = NULL"
    )  # as an old backup would
    from django.db import connection

    connection.close()
    assert _apply_as(owner) == 1
    assert client.get(f"contacts/{UID}").json()["name"] == ""


def _apply_as(owner: psycopg.Connection) -> int:
    """Run the re-application as the owner role does after a restore."""
    from unittest.mock import patch

    with patch.object(erasures, "connection", owner):
        return erasures.apply_again()


def test_readers_do_not_see_contacts() -> None:
    place = make_kennel()
    DeviceClient(place).post("contacts", BUYER)
    reader = DeviceClient(place, carer=add_member(place, Role.READER))
    assert reader.get("contacts").status_code == 403
    assert all(change["type"] != "contact" for change in reader.get("changes").json()["changes"])

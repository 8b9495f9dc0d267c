"""What every record type offers by being registered, tried on each of them."""

import pytest

from kennel.records import types
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.bodies import Stock, patch_for
from tests.factories.people import Place, make_kennel
from tests.tenancy.callers import member_uid

pytestmark = pytest.mark.usefixtures("db")
NAMES = [record_type.name for record_type in types.every()]


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def client(place: Place) -> DeviceClient:
    return DeviceClient(place, carer=place.keeper)


@pytest.fixture
def stock(client: DeviceClient) -> Stock:
    return Stock(client, lambda: member_uid(client.place, client.place.keeper))


@pytest.mark.parametrize("name", NAMES)
def test_sent_twice_it_is_there_once_and_altered_it_is_refused(
    name: str, client: DeviceClient, stock: Stock
) -> None:
    record_type = types.by_name(name)
    assert record_type is not None
    body = {"uid": str(new_uid()), **stock.body(name)}
    first, again = client.post(record_type.plural, body), client.post(record_type.plural, body)
    assert (first.status_code, again.status_code, again["Replayed"]) == (201, 200, "true"), first.content
    assert first.json()["uid"] == again.json()["uid"] == body["uid"]
    altered = client.post(record_type.plural, body | patch_for(record_type))
    assert altered.status_code == 409, altered.content
    listed = client.get(f"{record_type.plural}?limit=200&deleted=all").json()["results"]
    assert [row["uid"] for row in listed].count(body["uid"]) == 1


@pytest.mark.parametrize("name", NAMES)
def test_a_life_from_made_to_restored_stands_whole_in_its_history(
    name: str, client: DeviceClient, stock: Stock
) -> None:
    record_type = types.by_name(name)
    assert record_type is not None
    path = f"{record_type.plural}/{stock.fresh(name)}"
    version = client.get(path).json()["version"]
    patch = patch_for(record_type)
    assert client.patch(path, patch).status_code == 428
    changed = client.patch(path, patch, version)
    assert changed.status_code == 200, changed.content
    assert changed.json()["version"] == version + 1
    stale = client.patch(path, patch_for(record_type, 2), version)
    assert (stale.status_code, stale.json()["current"]["version"]) == (412, version + 1)
    held = client.patch(path, patch, version)
    assert (held.status_code, held.json()["version"]) == (200, version + 1)
    assert client.delete(path, version + 1).status_code == 204
    assert client.delete(path, version + 1).status_code == 204
    restored = client.send("POST", f"{path}/restore", None, If_Match=f'"v{version + 2}"')
    assert (restored.status_code, restored.json()["version"]) == (200, version + 3)
    entries = client.get(f"{path}/history").json()["results"]
    assert [entry["op"] for entry in entries[-3:]] == ["update", "delete", "restore"]
    assert (entries[0]["op"], entries[0]["old"]) == ("create", None)


def test_no_internal_id_leaves_in_journal_feed_or_snapshot(client: DeviceClient, stock: Stock) -> None:
    for name in NAMES:
        stock.parent(name)
    found: list[str] = []

    def look(value: object, where: str) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                if key == "id" or (key.endswith("_id") and not isinstance(inner, str)):
                    found.append(f"{where}.{key}")
                look(inner, f"{where}.{key}")
        elif isinstance(value, list):
            for inner in value:
                look(inner, where)

    for path in ("journal?limit=200", "changes?limit=1000", "snapshot?limit=1000"):
        look(client.get(path).json(), path)
    assert found == []

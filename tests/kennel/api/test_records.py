"""One record type through everything the platform offers."""

import pytest

from tests.api import DeviceClient
from tests.factories.people import make_kennel

pytestmark = pytest.mark.usefixtures("db")

U1 = "01890a5d-ac96-774b-bcce-b302099a8057"


@pytest.fixture
def client() -> DeviceClient:
    return DeviceClient(make_kennel())


@pytest.fixture
def pup(client: DeviceClient) -> str:
    dam = client.post("dogs", {"name": "Bramble", "sex": "female"}).json()
    litter = client.post(
        "litters", {"name": "Bramble's", "dam": dam["uid"], "whelped_at": "2026-02-01T03:00:00Z"}
    )
    assert litter.status_code == 201, litter.content
    pup = client.post(
        "pups", {"litter": litter.json()["uid"], "band": "moss", "born_at": "2026-02-01T03:10:00Z"}
    )
    assert pup.status_code == 201, pup.content
    return pup.json()["uid"]


def test_a_weighing_can_be_recorded_read_corrected_deleted_and_restored(
    client: DeviceClient, pup: str
) -> None:
    made = client.post(
        "weighings", {"uid": U1, "pup": pup, "occurred_at": "2026-02-03T07:00:00+01:00", "weight_g": 412.5}
    )
    assert made.status_code == 201, made.content
    assert made["ETag"] == '"v1"'
    assert made.json()["weight_g"] == 412.5
    assert made.json()["occurred_at"] == "2026-02-03T06:00:00.000Z"
    again = client.post(
        "weighings", {"uid": U1, "pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": 412.50}
    )
    assert (again.status_code, again["Replayed"]) == (200, "true")
    other = client.post(
        "weighings", {"uid": U1, "pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": 413}
    )
    assert other.status_code == 409
    assert other.json()["type"] == "/problems/uid-conflict"
    item = f"weighings/{U1}"
    assert client.patch(item, {"weight_g": 421}).status_code == 428
    assert client.patch(item, {"weight_g": 421}, 1).status_code == 422
    fixed = client.patch(item, {"weight_g": 421, "reason": "misread"}, 1)
    assert fixed.status_code == 200, fixed.content
    assert (fixed.json()["weight_g"], fixed.json()["version"]) == (421, 2)
    stale = client.patch(item, {"weight_g": 430, "reason": "again"}, 1)
    assert stale.status_code == 412
    assert stale.json()["current"]["weight_g"] == 421
    assert client.patch(item, {"weight_g": 421, "reason": "misread"}, 1).status_code == 200
    assert client.delete(item, 2).status_code == 204
    assert client.delete(item, 2).status_code == 204
    assert client.get("weighings").json()["results"] == []
    assert client.send("POST", f"{item}/restore", If_Match='"v3"').status_code == 200
    history = client.get(f"{item}/history").json()["results"]
    assert [h["op"] for h in history] == ["create", "update", "delete", "restore"]
    assert (history[1]["old"]["weight_g"], history[1]["new"]["weight_g"]) == (412.5, 421)


def test_the_feed_tells_every_change_in_order(client: DeviceClient, pup: str) -> None:
    first = client.get("changes").json()
    assert [c["type"] for c in first["changes"]] == ["kennel", "membership", "device", "dog", "litter", "pup"]
    client.post("weighings", {"uid": U1, "pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": 413})
    second = client.get(f"changes?cursor={first['cursor']}").json()
    assert [(c["type"], c["op"], c["data"]["weight_g"]) for c in second["changes"]] == [
        ("weighing", "upsert", 413)
    ]


def test_a_batch_takes_parents_and_children_in_any_order(client: DeviceClient) -> None:
    dog, litter, pup = (f"01890a5d-ac96-774b-bcce-b302099a80{n}" for n in (60, 61, 62))
    items = [
        {
            "op": "create",
            "type": "weighing",
            "uid": U1,
            "data": {"pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": 1},
        },
        {
            "op": "create",
            "type": "pup",
            "uid": pup,
            "data": {"litter": litter, "born_at": "2026-02-01T03:10:00Z"},
        },
        {
            "op": "create",
            "type": "weighing",
            "data": {"pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": -1},
        },
        {"op": "create", "type": "litter", "uid": litter, "data": {"name": "L", "dam": dog}},
        {"op": "create", "type": "dog", "uid": dog, "data": {"name": "Bramble", "sex": "female"}},
    ]
    answer = client.post("batch", {"items": items})
    assert answer.status_code == 200, answer.content
    assert [r["outcome"] for r in answer.json()["results"]] == [
        "created",
        "created",
        "rejected",
        "created",
        "created",
    ]
    again = client.post("batch", {"items": items})
    assert [r["outcome"] for r in again.json()["results"]] == [
        "replayed",
        "replayed",
        "rejected",
        "replayed",
        "replayed",
    ]


def test_another_kennel_sees_nothing_and_cannot_link(client: DeviceClient, pup: str) -> None:
    stranger = DeviceClient(make_kennel("Elsewhere"))
    assert stranger.get(f"pups/{pup}").status_code == 404
    linked = stranger.post("weighings", {"pup": pup, "occurred_at": "2026-02-03T06:00:00Z", "weight_g": 413})
    assert linked.status_code == 409
    assert linked.json()["type"] == "/problems/parent-missing"
    assert (
        client.http.get(
            f"{client.base}pups", headers={"Authorization": f"Bearer {stranger.token}"}
        ).status_code
        == 404
    )


def test_a_double_of_a_refused_item_has_its_own_answer_in_a_batch(client: DeviceClient) -> None:
    waiting = {"pup": U1, "weight_g": 312, "occurred_at": "2026-03-01T07:30:00Z"}
    uid = "019a9f00-0000-7000-8000-000000000001"
    item = {"op": "create", "type": "weighing", "uid": uid, "data": waiting}
    dog = {"op": "create", "type": "dog", "uid": U1, "data": {"name": "Bramble", "sex": "female"}}
    answer = client.post("batch", {"items": [item, dog, item, dog]})
    results = answer.json()["results"]
    assert [(r["index"], r["outcome"]) for r in results] == [
        (0, "deferred"),
        (1, "created"),
        (2, "deferred"),
        (3, "replayed"),
    ]


def test_a_filter_word_that_does_not_exist_is_refused_not_answered_with_nothing(client: DeviceClient) -> None:
    assert client.get("contacts?kind=vet").status_code == 200
    assert client.get("contacts?kind=AAA").status_code == 400


def test_an_empty_correction_changes_nothing_whatever_the_version_and_the_journal_stays_silent(
    client: DeviceClient, pup: str
) -> None:
    """RFC 7396: an empty merge patch leaves the target as it is, so all it asks for holds already."""
    made = client.post(
        "weighings", {"pup": pup, "occurred_at": "2026-02-03T07:00:00Z", "weight_g": 412.5}
    ).json()
    item = f"weighings/{made['uid']}"
    client.patch(item, {"weight_g": 421, "reason": "misread"}, 1)
    for version in (1, 2):
        same = client.patch(item, {}, version)
        assert (same.status_code, same.json()["version"], same["ETag"]) == (200, 2, '"v2"')
    assert client.patch(item, {}).status_code == 428
    assert len(client.get(f"{item}/history").json()["results"]) == 2
    client.delete(item, 2)
    assert (client.patch(item, {}, 3).status_code, client.get(item).json()["version"]) == (200, 3)
    batch = [{"op": "update", "type": "weighing", "uid": made["uid"], "if_version": 3, "data": {}}]
    assert client.post("batch", {"items": batch}).json()["results"][0]["version"] == 3


def test_a_create_with_null_for_the_uid_is_one_without_a_uid(client: DeviceClient) -> None:
    made = client.post("dogs", {"uid": None, "name": "Sorrel", "sex": "female"})
    assert made.status_code == 201
    assert made.json()["uid"] is not None
    again = client.post("dogs", {"uid": None, "name": "Sorrel", "sex": "female"})
    assert (again.status_code, again.json()["uid"] == made.json()["uid"]) == (201, False)
    items = [{"op": "create", "type": "dog", "uid": None, "data": {"name": "Teasel", "sex": "female"}}]
    assert client.post("batch", {"items": items}).json()["results"][0]["outcome"] == "created"


@pytest.mark.parametrize(
    ("path", "shown", "first", "typed"),
    [
        ("weighings", "weight_g", {"entered_value": 14.5, "entered_unit": "oz"}, 411.07),
        ("temperatures", "temp_c", {"entered_value": 97.7, "entered_unit": "F"}, 36.5),
    ],
)
def test_what_was_typed_and_what_it_comes_to_are_corrected_together_or_taken_away_singly(
    client: DeviceClient, pup: str, path: str, shown: str, first: dict[str, object], typed: float
) -> None:
    """1 oz = 28.349523125 g; C = (F - 32) x 5/9 (NIST Special Publication 811, appendix B.8)."""
    made = client.post(path, {"pup": pup, "occurred_at": "2026-02-03T07:00:00Z", **first}).json()
    item = f"{path}/{made['uid']}"
    assert made[shown] == typed
    for patch, kept in (
        ({shown: None}, (typed, first["entered_value"], first["entered_unit"])),
        ({"entered_value": None}, (typed, typed, "g" if shown == "weight_g" else "C")),
        ({"entered_value": None, shown: None}, None),
    ):
        answer = client.patch(item, {**patch, "reason": "misread"}, If_Match="*")
        if kept is None:
            assert (answer.status_code, answer.json()["type"]) == (422, "/problems/validation")
        else:
            now = answer.json()
            assert (now[shown], now["entered_value"], now["entered_unit"]) == kept


def test_a_unit_chosen_wrongly_is_corrected_alone(client: DeviceClient, pup: str) -> None:
    """An avoirdupois ounce is 28.349523125 g (NIST Special Publication 811, appendix B.8)."""
    typed = {"entered_value": 14.5, "entered_unit": "g"}
    made = client.post("weighings", {"pup": pup, "occurred_at": "2026-02-03T07:00:00Z", **typed}).json()
    assert made["weight_g"] == 14.5
    fixed = client.patch(
        f"weighings/{made['uid']}", {"entered_unit": "oz", "reason": "the scale was in ounces"}, 1
    )
    assert (fixed.status_code, fixed.json()["weight_g"], fixed.json()["entered_value"]) == (200, 411.07, 14.5)

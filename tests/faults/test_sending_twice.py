"""Fault tests 4 to 8: lost answers, storms of doubles, shuffled queues, lost updates, double entries."""

import hashlib
import json
import random
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from kennel.records.ids import new_uid
from tests.factories.people import make_kennel
from tests.factories.records import make_nest, make_record
from tests.faults.conftest import Scene
from tests.faults.history import History, faults_of_creates, faults_of_edits
from tests.faults.proxy import Proxy
from tests.faults.server import Answer, Client

pytestmark = pytest.mark.fault


def _weighing(scene: Scene, grams: float = 312, minutes_ago: float = 5, band: str = "moss") -> dict[str, Any]:
    occurred_at = timezone.now() - timedelta(minutes=minutes_ago)
    return {
        "uid": str(new_uid()),
        "pup": scene.nest.pups[band],
        "weight_g": grams,
        "occurred_at": occurred_at.isoformat().replace("+00:00", "Z"),
    }


def _uids(client: Client, plural: str = "weighings") -> list[str]:
    found: list[str] = []
    path = f"{plural}?limit=200&deleted=all"
    while path:
        page = client.send("GET", path).json()
        found += [row["uid"] for row in page["results"]]
        path = f"{plural}?limit=200&deleted=all&cursor={page['next']}" if page["next"] else ""
    return found


def test_4_an_answer_lost_after_commit_is_made_good_by_sending_again(scene: Scene) -> None:
    direct = scene.client()
    body = _weighing(scene)
    path = f"weighings/{body['uid']}"
    patch = {"weight_g": 318, "reason": "read again"}
    steps: list[tuple[str, str, Any, int | None, int, int]] = [
        ("POST", "weighings", body, None, 200, 1),
        ("PATCH", path, patch, 1, 200, 2),
        ("DELETE", path, None, 2, 204, 3),
    ]
    with Proxy(scene.port) as proxy:
        through = direct.other_port(proxy.port)
        for method, where, data, version, expected, count in steps:
            proxy.cuts_answers = True
            assert through.send(method, where, data, version).is_unknown
            proxy.cuts_answers = False
            stored = direct.send("GET", f"{path}/history").json()["results"]
            assert len(stored) == count, "the server had committed before the answer was lost"
            again = through.send(method, where, data, version)
            assert again.status == expected, again.body
            assert again.headers["etag"] == f'"v{count}"'
            assert len(direct.send("GET", f"{path}/history").json()["results"]) == count
        assert proxy.answers_cut == 3
    assert _uids(direct) == [body["uid"]]


def test_5_a_storm_of_doubles_leaves_one_row(scene: Scene) -> None:
    body = _weighing(scene)
    clients = [scene.client() for _ in range(25)]
    history = History()

    def send(client: Client) -> list[Answer]:
        return [client.until_settled("POST", "weighings", body) for _ in range(2)]

    for _ in range(2):
        with ThreadPoolExecutor(len(clients)) as pool:
            answers = [a for both in pool.map(send, clients) for a in both]
        for answer in answers:
            history.note_status(body["uid"], answer.status)
            assert answer.json()["uid"] == body["uid"]
        statuses = [answer.status for answer in answers]
        assert set(statuses) <= {200, 201}
    assert [said.name for said in history.told[body["uid"]]].count("YES") == 100
    assert faults_of_creates(history, _uids(clients[0])) == []
    altered = clients[0].send("POST", "weighings", {**body, "weight_g": 999})
    assert (altered.status, altered.slug) == (409, "uid-conflict")
    row = clients[0].send("GET", f"weighings/{body['uid']}").json()
    assert (float(row["weight_g"]), row["version"]) == (312.0, 1)


def _queue(scene: Scene, shuffler: random.Random) -> list[list[dict[str, Any]]]:
    """What three devices wrote down: a pup, its weighings, and corrections of nothing but their own."""
    queues = []
    for device in range(3):
        queue: list[dict[str, Any]] = []
        days_late = 7 if device == 2 else 0
        for litter in range(4):
            pup = str(new_uid())
            born_at = (scene.nest.whelped_at + timedelta(minutes=litter)).isoformat()
            data = {"litter": scene.nest.litter, "band": f"d{device} l{litter}", "born_at": born_at}
            queue.append({"op": "create", "type": "pup", "uid": pup, "data": data})
            for turn in range(24):
                at = timezone.now() - timedelta(
                    days=days_late, minutes=10 + turn * 37 + shuffler.randrange(20)
                )
                weight = {"pup": pup, "weight_g": 300 + turn, "occurred_at": at.isoformat()}
                queue.append({"op": "create", "type": "weighing", "uid": str(new_uid()), "data": weight})
        queues.append(queue)
    return queues


def _send_batches(client: Client, items: list[dict[str, Any]], size: int) -> list[dict[str, Any]]:
    """Send until nothing is deferred; returns the last word on each item."""
    waiting, settled = items, []
    for _ in range(40):
        deferred = []
        for start in range(0, len(waiting), size):
            part = waiting[start : start + size]
            answer = client.until_settled("POST", "batch", {"items": part})
            assert answer.status == 200, answer.body
            results = answer.json()["results"]
            assert [r["index"] for r in results] == list(range(len(part))), "a result line for each item"
            deferred += [item for item, r in zip(part, results, strict=True) if r["outcome"] == "deferred"]
            settled += [r for r in results if r["outcome"] != "deferred"]
        if not deferred:
            return settled
        waiting = deferred
    raise AssertionError("some items were deferred for ever")


def test_6_shuffled_doubled_and_late_queues_end_in_the_same_state(scene: Scene, seed: int) -> None:
    shuffler = random.Random(seed)
    queues = _queue(scene, shuffler)
    assert sum(map(len, queues)) == 300
    shuffled = []
    for queue in queues:
        mixed = queue + shuffler.sample(queue, len(queue) // 3)
        shuffler.shuffle(mixed)
        shuffled.append((scene.client(), mixed, shuffler.randrange(5, 40)))
    with ThreadPoolExecutor(3) as pool:
        outcomes = [r for rows in pool.map(lambda work: _send_batches(*work), shuffled) for r in rows]
    assert {r["outcome"] for r in outcomes} == {"created", "replayed"}
    assert len(outcomes) == sum(len(mixed) for _, mixed, _ in shuffled)
    calm_place = make_kennel("In order")
    calm = Scene(calm_place, make_nest(calm_place), scene.port)
    in_order = json.loads(json.dumps(queues).replace(scene.nest.litter, calm.nest.litter))
    for queue in in_order:
        assert {r["outcome"] for r in _send_batches(calm.client(), queue, 50)} == {"created"}
    assert _state_hash(scene, queues) == _state_hash(calm, in_order)
    for where in (scene, calm):
        sent = {item["uid"] for queue in queues for item in queue}
        there = [*_uids(where.client()), *_uids(where.client(), "pups")]
        assert sorted(set(there) - set(where.nest.pups.values())) == sorted(sent)


def _state_hash(scene: Scene, queues: list[list[dict[str, Any]]]) -> str:
    """Hash of what the devices stated, told apart by uid; neither arrival times nor advice belong to it."""
    client, state = scene.client(), {}
    for item in (item for queue in queues for item in queue):
        row = client.send("GET", f"{item['type']}s/{item['uid']}").json()
        text = {key: str(row[key]) for key in item["data"] if key != "litter"} | {"version": row["version"]}
        state[item["uid"]] = text
    return hashlib.sha256(json.dumps(state, sort_keys=True).encode()).hexdigest()


EDITS = 100


def test_7_two_hundred_edits_by_two_clients_lose_none(scene: Scene) -> None:
    body = _weighing(scene)
    path = f"weighings/{body['uid']}"
    assert scene.client().send("POST", "weighings", body).status == 201
    assert (
        scene.client().send("PATCH", path, {"weight_g": 300, "reason": "x"}).slug == "precondition-required"
    )

    def edit(first: int) -> tuple[list[int], int]:
        client = scene.client()
        given, stale, version = [], 0, 1
        for turn in range(EDITS):
            patch = {"weight_g": first + turn / 10, "reason": "read again"}
            while True:
                answer = client.until_settled("PATCH", path, patch, version)
                if answer.status == 200:
                    version = answer.json()["version"]
                    given.append(version)
                    break
                assert (answer.status, answer.slug) == (412, "version-mismatch"), answer.body
                version = answer.json()["current"]["version"]
                stale += 1
        return given, stale

    with ThreadPoolExecutor(2) as pool:
        (ours, stale), (theirs, stale_too) = pool.map(edit, (300, 500))
    assert stale + stale_too > 0, "the two never met; the test showed nothing"
    entries = scene.client().send("GET", f"{path}/history").json()["results"]
    assert faults_of_edits(ours + theirs, [entry["version"] for entry in entries]) == []
    assert [entry["op"] for entry in entries] == ["create"] + ["update"] * 2 * EDITS


def test_8_two_who_write_down_the_same_weight_are_both_kept_and_linked(scene: Scene) -> None:
    idris, oona = scene.client(), scene.client()
    cursor = idris.send("GET", "changes?limit=1000").json()["cursor"]
    first = _weighing(scene, grams=312, minutes_ago=20)
    # The second device was offline: same pup, same kind, 20 s apart, sent later.
    second = {**_weighing(scene, grams=312, minutes_ago=20 - 20 / 60)}
    assert idris.send("POST", "weighings", first).status == 201
    late = oona.send("POST", "batch", {"items": [_item(second)]}).json()["results"]
    assert [r["outcome"] for r in late] == ["created"]
    rows = {uid: idris.send("GET", f"weighings/{uid}").json() for uid in (first["uid"], second["uid"])}
    links = {row["possible_duplicate_of"] for row in rows.values()}
    assert links & {first["uid"], second["uid"]}, "neither says that it may be the other one"
    for client in (idris, oona):
        told = {c["uid"] for c in client.send("GET", f"changes?cursor={cursor}").json()["changes"]}
        assert {first["uid"], second["uid"]} <= told
    assert sorted(_uids(idris)) == sorted(rows)


def test_8_a_dose_written_down_by_two_is_kept_twice_said_to_both_and_counted_once(scene: Scene) -> None:
    idris, oona = scene.client(), scene.client()
    medicine = make_record(scene.place, "medicine", **body_of(PUBLISHED_LABELS["pyrantel_us_suspension"]))
    litter = f"litters/{scene.nest.litter}"
    cursor = idris.send("GET", "changes?limit=1000").json()["cursor"]
    first, second = (
        {
            "uid": str(new_uid()),
            "pup": scene.nest.pups["moss"],
            "medicine": medicine,
            "amount": 2,
            "amount_unit": "mL",
            "occurred_at": (timezone.now() - timedelta(minutes=20, seconds=-late_s)).isoformat(),
        }
        for late_s in (0, 20)
    )
    assert idris.send("POST", "treatments", first).status == 201
    late = oona.send("POST", "batch", {"items": [_item(second, "treatment")]}).json()["results"]
    assert [r["outcome"] for r in late] == ["created"]
    rows = [oona.send("GET", f"treatments/{one['uid']}").json() for one in (first, second)]
    assert [row["possible_duplicate_of"] for row in rows] == [None, first["uid"]]
    assert rows[1]["warnings"], "the second says nothing of the first"
    for client in (idris, oona):
        told = {c["uid"] for c in client.send("GET", f"changes?cursor={cursor}").json()["changes"]}
        assert {first["uid"], second["uid"]} <= told
    since = (timezone.now() - timedelta(hours=1)).isoformat().replace("+00:00", "Z")
    summary = idris.send("GET", f"{litter}/summary?from={since}").json()
    assert summary["health"]["doses"] == 1


def _item(body: dict[str, Any], type_name: str = "weighing") -> dict[str, Any]:
    data = {key: value for key, value in body.items() if key != "uid"}
    return {"op": "create", "type": type_name, "uid": body["uid"], "data": data}

"""Fault tests 9 and 10: no change is missed or out of order, and a cursor that is not ours gives no data."""

import random
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import psycopg
import pytest
from django.utils import timezone

from kennel.records.ids import new_uid
from tests.factories.people import make_kennel
from tests.factories.records import make_nest
from tests.faults.conftest import Scene
from tests.faults.history import faults_of_feed
from tests.faults.server import Client

pytestmark = pytest.mark.fault

WRITERS, TRANSACTIONS = 8, 300


def _write(scene: Scene, seed: int, index: int) -> None:
    chance, client = random.Random(seed + index), scene.client()
    mine: list[tuple[str, int]] = []
    for turn in range(TRANSACTIONS):
        time.sleep(chance.random() * 0.01)
        if mine and chance.random() < 0.2:
            uid, version = mine.pop(chance.randrange(len(mine)))
            assert client.until_settled("DELETE", f"weighings/{uid}", None, version).status == 204
            continue
        occurred_at = timezone.now() - timedelta(minutes=index * 90 + turn)
        body = {
            "uid": str(new_uid()),
            "pup": scene.nest.pups[chance.choice(list(scene.nest.pups))],
            "weight_g": 300 + turn,
            "occurred_at": occurred_at.isoformat(),
        }
        answer = client.until_settled("POST", "weighings", body)
        assert answer.status in (200, 201), answer.body
        mine.append((body["uid"], answer.json()["version"]))


def _follow(client: Client, done: threading.Event, chance: random.Random) -> list[dict[str, Any]]:
    """A reader from the first change on: small pages, pauses, until the writers are done and nothing is left."""
    seen: list[dict[str, Any]] = []
    cursor = ""
    while True:
        last_round = done.is_set()
        answer = client.send("GET", f"changes?limit={chance.randrange(1, 60)}{cursor}")
        assert answer.status == 200, answer.body
        page = answer.json()
        seen += page["changes"]
        cursor = f"&cursor={page['cursor']}"
        if not page["has_more"]:
            if last_round:
                return seen
            time.sleep(chance.random() * 0.1)


def test_9_the_feed_misses_nothing_and_keeps_its_order(
    scene: Scene, seed: int, owner: psycopg.Connection
) -> None:
    done, chance = threading.Event(), random.Random(seed)
    with ThreadPoolExecutor(WRITERS + 3) as pool:
        readers = [
            pool.submit(_follow, scene.client(), done, random.Random(seed + 100 + n)) for n in range(2)
        ]
        writers = [pool.submit(_write, scene, seed, n) for n in range(WRITERS)]
        time.sleep(chance.random())
        readers.append(pool.submit(_follow, scene.client(), done, random.Random(seed + 200)))  # joins late
        for writer in writers:
            writer.result()
        done.set()
        seen = [reader.result() for reader in readers]
    rows = owner.execute("SELECT uid::text, version, deleted_at IS NOT NULL FROM litters_weighing").fetchall()
    expected = {uid: version for uid, version, _ in rows}
    gone = {uid for uid, _, is_gone in rows if is_gone}
    assert gone
    assert len(rows) > WRITERS * TRANSACTIONS // 2
    for entries in seen:
        assert faults_of_feed(entries, expected) == []
        replica = {c["uid"]: c for c in entries if c["type"] == "weighing"}
        assert {uid for uid, c in replica.items() if c["op"] == "delete"} == gone
        assert set(replica) == set(expected)
    held = {row["uid"]: row for row in _snapshot(scene.client())}
    assert {uid: c["data"] for uid, c in replica.items()} == held
    numbers = [
        n
        for (n,) in owner.execute(
            "SELECT seq FROM records_journal WHERE kennel_id = %s ORDER BY seq", [scene.place.here.id]
        )
    ]
    assert numbers == list(range(1, len(numbers) + 1)), "journal numbers have no gaps"


def _snapshot(client: Client) -> list[dict[str, Any]]:
    found, page = [], ""
    while True:
        answer = client.send("GET", f"snapshot?limit=100{page}").json()
        found += [r["data"] for r in answer["records"] if r["type"] == "weighing"]
        if not answer["next"]:
            return found
        page = f"&page={answer['next']}"


def _damaged(cursor: str, chance: random.Random) -> list[str]:
    place = chance.randrange(len(cursor))
    flipped = cursor[:place] + ("A" if cursor[place] != "A" else "B") + cursor[place + 1 :]
    return [cursor[: len(cursor) // 2], cursor[:-1], cursor + "A", flipped, "", ":::", "%00", "W10"]


def test_10_old_foreign_and_damaged_cursors_give_no_data_and_a_resync_converges(
    scene: Scene, seed: int, owner: psycopg.Connection
) -> None:
    chance, client = random.Random(seed), scene.client()
    other = make_kennel("Elsewhere")
    stranger = Scene(other, make_nest(other), scene.port).client()
    cursor = client.send("GET", "changes?limit=2").json()["cursor"]
    pages = {
        "changes": ("cursor", cursor),
        "snapshot": ("page", client.send("GET", "snapshot?limit=2").json()["next"]),
        "journal": ("cursor", client.send("GET", "journal?limit=2").json()["next"]),
        "pups": ("cursor", client.send("GET", "pups?limit=1").json()["next"]),
        "members": ("cursor", cursor),
    }
    for path, (name, good) in pages.items():
        # A cursor of another kennel, one of another purpose, and damaged ones.
        foreign = [good] if path != "members" else []
        for asker, texts in ((stranger, foreign), (client, _damaged(good, chance))):
            for text in filter(None, texts):
                answer = asker.send("GET", f"{path}?{name}={text}")
                assert answer.status in (400, 410), (path, text, answer.body)
                assert answer.slug in ("malformed", "cursor-expired")
    assert client.send("GET", f"members?cursor={cursor}").slug == "malformed"
    # A restore or a rewriting migration begins a new epoch: old cursors end, and a snapshot leads on.
    owner.execute("UPDATE records_counter SET epoch = epoch + 1 WHERE kennel_id = %s", [scene.place.here.id])
    expired = client.send("GET", f"changes?cursor={cursor}")
    assert (expired.status, expired.slug, expired.json()["retry"]) == (410, "cursor-expired", "after_change")
    snapshot = client.send("GET", "snapshot?limit=1000").json()
    follow = client.send("GET", f"changes?cursor={snapshot['cursor']}").json()
    assert (follow["changes"], follow["has_more"]) == ([], False)
    assert set(scene.nest.pups.values()) <= {r["data"]["uid"] for r in snapshot["records"]}
    # A number the counter never reached (restored from an older backup by hand).
    owner.execute("UPDATE records_counter SET seq = 1 WHERE kennel_id = %s", [scene.place.here.id])
    assert client.send("GET", f"changes?cursor={snapshot['cursor']}").slug == "cursor-expired"

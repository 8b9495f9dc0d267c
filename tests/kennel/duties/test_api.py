"""Routines, duties, taps, shifts, messages, agenda and board through the whole stack."""

from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

import pytest
import time_machine
from django.test import Client

from kennel.duties import board
from kennel.duties.board import Entry
from kennel.people.choices import Role
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import add_member
from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import DAILY, Scene, minutes, utc

DUE = utc("2026-02-03 17:00")
NOW = DUE + minutes(1)


@pytest.fixture
def at_due(scene: Scene) -> Scene:
    """The softened food of 17:00 is released and in the inboxes."""
    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine()
    scene.release(DUE)
    scene.send(DUE, "inbox")
    return scene


@pytest.fixture
def clock() -> object:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def oona(at_due: Scene, clock: object) -> DeviceClient:
    return DeviceClient(at_due.place, carer=at_due.oona)


@pytest.fixture
def idris(at_due: Scene, clock: object) -> DeviceClient:
    return DeviceClient(at_due.place, carer=at_due.idris)


def routine_body(scene: Scene, **fields: object) -> dict[str, Any]:
    return {
        "kind": "test-round",
        "rule": DAILY,
        "subject_type": "litter",
        "subject_uid": str(scene.litter),
        **fields,
    }


def test_a_routine_is_made_corrected_and_sent_again_without_harm(oona: DeviceClient, at_due: Scene) -> None:
    uid = str(new_uid())
    body = {**routine_body(at_due), "uid": uid, "title": "Evening bowl", "settings": {"bowls": 2}}
    made = oona.post("routines", body)
    assert made.status_code == 201, made.content
    assert made.json()["rule"]["wall_times"] == ["17:00"]
    again = oona.post("routines", body)
    assert (again.status_code, again["Replayed"]) == (200, "true")
    other = oona.post("routines", {**body, "title": "Morning bowl"})
    assert other.json()["type"] == "/problems/uid-conflict"
    fixed = oona.patch(f"routines/{uid}", {"rule": {**DAILY, "wall_times": ["18:00", "06:00"]}}, 1)
    assert fixed.status_code == 200, fixed.content
    ahead = oona.get("agenda?state=open&limit=200").json()["results"]
    mine = [d["due_at"] for d in ahead if d["routine"] == uid]
    assert mine[0] == "2026-02-03T18:00:00.000Z"
    assert mine[1] == "2026-02-04T06:00:00.000Z"


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "no-such-kind"},
        {"rule": {"kind": "every", "interval_s": 10, "anchor_at": "2026-02-03T12:00:00Z"}},
        {"rule": {"kind": "every", "interval_s": 7200, "anchor_at": "2026-02-03T12:00:00"}},
        {"rule": {"kind": "at", "wall_times": ["25:00"], "first_on": "2026-02-03"}},
        {"rule": {"kind": "at", "wall_times": ["08:00", "08:00"], "first_on": "2026-02-03"}},
        {"rule": {"kind": "at", "rrule": "FREQ=HOURLY", "wall_times": ["08:00"], "first_on": "2026-02-03"}},
        {"rule": {"kind": "cron", "wall_times": ["08:00"], "first_on": "2026-02-03"}},
        {"subject_uid": None},
        {"settings": {"bowls": "two"}},
        {"settings": {"plates": 2}},
        {"from_age_days": 3},
        {"day_zero_on": "2026-01-07", "from_age_days": 30, "until_age_days": 20},
        {"starts_at": "2026-02-05T00:00:00Z", "ends_at": "2026-02-04T00:00:00Z"},
        {"source_uid": str(UUID(int=1))},
        {"unknown": 1},
    ],
)
def test_a_routine_that_cannot_be_kept_is_refused_in_words(
    oona: DeviceClient, at_due: Scene, fields: dict[str, Any]
) -> None:
    body = {k: v for k, v in {**routine_body(at_due), **fields}.items() if v is not None}
    answer = oona.post("routines", body)
    assert answer.status_code == 422, answer.content
    assert answer.json()["errors"][0]["detail"]


def test_settings_that_are_not_plain_json_are_refused_not_stored(oona: DeviceClient, at_due: Scene) -> None:
    text = '{"kind": "test-round", "rule": {"kind": "at", "wall_times": ["17:00"], "first_on": "2026-01-01"},'
    hostile = [
        '"settings": {"bowls": 1, "x": "\\ud800"}}',
        '"settings": {"bowls": "\\u0000"}}',
        '"settings": {"bowls": 1e400}}',
        f'"settings": {{"bowls": 1, "x": "{"y" * 9000}"}}}}',
    ]
    for tail in hostile:
        answer = oona.send("POST", "routines", (text + tail).encode())
        assert answer.status_code in (400, 422), answer.content


def test_taking_tells_everybody_and_the_second_taker(
    oona: DeviceClient, idris: DeviceClient, at_due: Scene
) -> None:
    duty = oona.get("board").json()["due"][0]
    tap = {"duty": duty["uid"], "action": "take", "occurred_at": NOW.isoformat()}
    assert idris.post("duty-actions", tap).status_code == 201
    shown = oona.get(f"duties/{duty['uid']}").json()
    assert (shown["taken_by_name"], shown["taken_until"]) == (at_due.idris.name, "2026-02-03T17:16:00.000Z")
    told = oona.post("duty-actions", tap).json()
    assert told["held_by_name"] == at_due.idris.name
    assert told["warnings"][0]["code"] == "already_taken"
    assert oona.get("changes").json()["changes"][-1]["type"] == "duty-action"


def test_an_undo_after_10_seconds_is_refused(oona: DeviceClient, clock: object) -> None:
    duty = oona.get("board").json()["due"][0]["uid"]
    taken = oona.post("duty-actions", {"duty": duty, "action": "take", "occurred_at": NOW.isoformat()}).json()
    late = {"duty": duty, "action": "undo", "undoes": taken["uid"]}
    answer = oona.post("duty-actions", {**late, "occurred_at": (NOW + timedelta(seconds=11)).isoformat()})
    assert answer.status_code == 422
    answer = oona.post("duty-actions", {**late, "occurred_at": (NOW + timedelta(seconds=9)).isoformat()})
    assert answer.status_code == 201
    assert oona.get(f"duties/{duty}").json()["taken_by_name"] is None


def test_a_batch_of_offline_taps_arrives_in_any_order_and_twice(
    oona: DeviceClient, at_due: Scene, weighings_close_duties: None
) -> None:
    duty = oona.get("board").json()["due"][0]["uid"]
    weigh = [
        {
            "op": "create",
            "type": "weighing",
            "uid": str(new_uid()),
            "data": {"pup": str(pup), "occurred_at": NOW.isoformat(), "weight_g": 900},
        }
        for pup in at_due.pups
    ]
    take = {
        "op": "create",
        "type": "duty-action",
        "uid": str(new_uid()),
        "data": {"duty": duty, "action": "take", "occurred_at": NOW.isoformat()},
    }
    for outcome in ("created", "replayed"):
        answer = oona.post("batch", {"items": [*weigh, take]})
        assert {r["outcome"] for r in answer.json()["results"]} == {outcome}
        shown = oona.get(f"duties/{duty}").json()
        assert (shown["state"], shown["outstanding"]) == ("closed", 0)
        assert {a["state"] for a in shown["animals"]} == {"done"}
        assert {a["settled_by"] for a in shown["animals"]} == {at_due.oona.name}


def test_a_planned_duty_is_not_rewritten_by_hand_and_one_made_by_hand_is(
    oona: DeviceClient, at_due: Scene
) -> None:
    planned = oona.get("board").json()["next"][0]
    refused = oona.patch(f"duties/{planned['uid']}", {"due_at": "2026-02-04T18:00:00Z"}, planned["version"])
    assert refused.status_code == 422
    made = oona.post(
        "duties",
        {
            "title": "Cut the nails",
            "due_at": "2026-02-03T18:00:00Z",
            "subjects": [{"type": "dog", "uid": oona.get("dogs").json()["results"][0]["uid"]}],
        },
    ).json()
    assert [a["name"] for a in made["animals"]] == ["Bramble"]
    at_due.release(utc("2026-02-03 18:00"))
    moved = oona.patch(f"duties/{made['uid']}", {"due_at": "2026-02-03T19:00:00Z"}, 2)
    assert moved.status_code == 200, moved.content
    assert (moved.json()["released_at"], moved.json()["useful_until"]) == (None, "2026-02-04T07:00:00.000Z")
    assert at_due.release(utc("2026-02-03 19:00")).released == 1


def test_a_duty_about_an_unknown_animal_waits_for_it(oona: DeviceClient) -> None:
    body = {
        "title": "x",
        "due_at": "2026-02-03T18:00:00Z",
        "subjects": [{"type": "dog", "uid": str(new_uid())}],
    }
    answer = oona.post("duties", body)
    assert (answer.status_code, answer.json()["retry"]) == (409, "same")
    assert (
        oona.post("duties", {**body, "subjects": [{"type": "shift", "uid": str(new_uid())}]}).status_code
        == 422
    )


def test_the_agenda_runs_forward_by_pages_and_filters_by_time_and_state(
    oona: DeviceClient, at_due: Scene
) -> None:
    at_due.routine(rule={"kind": "every", "interval_s": 3600, "anchor_at": "2026-02-03T17:30:00Z"})
    all_of_it = oona.get("agenda?limit=200").json()["results"]
    assert [d["due_at"] for d in all_of_it] == sorted(d["due_at"] for d in all_of_it)
    collected, path = [], "agenda?limit=7&due_from=2026-02-03T18:00:00Z&due_before=2026-02-04T18:00:00Z"
    cursor = ""
    while True:
        page = oona.get(path + cursor).json()
        collected += [d["uid"] for d in page["results"]]
        if page["next"] is None:
            break
        cursor = f"&cursor={page['next']}"
    expected = [
        d["uid"] for d in all_of_it if "2026-02-03T18:00:00.000Z" <= d["due_at"] < "2026-02-04T18:00:00.000Z"
    ]
    assert collected == expected
    assert len(expected) > 20
    assert {d["state"] for d in oona.get("agenda?state=open").json()["results"]} == {"open"}
    assert oona.get("agenda?kind=test-weigh").json()["results"] == []


@pytest.mark.parametrize(
    "query",
    [
        "due_from=yesterday",
        "due_from=2026-02-03T18:00:00",
        "state=eaten",
        "other=1",
        "state=open&state=open",
        "cursor=abc",
        "limit=0",
    ],
)
def test_a_bad_query_is_malformed(oona: DeviceClient, query: str) -> None:
    answer = oona.get(f"agenda?{query}")
    assert (answer.status_code, answer.json()["type"]) == (400, "/problems/malformed")


def test_the_inbox_shows_what_reached_the_caller_and_remembers_the_receipt(
    oona: DeviceClient, idris: DeviceClient, at_due: Scene
) -> None:
    inbox = oona.get("reminders").json()["results"]
    assert [(m["title"], m["state"], m["seen_at"]) for m in inbox] == [("Softened food", "accepted", None)]
    assert "120 g for moss, rust, slate." in inbox[0]["body"]
    assert idris.get("reminders").json()["results"] == []
    assert idris.send("POST", f"reminders/{inbox[0]['uid']}/seen").status_code == 404
    for _ in range(2):
        seen = oona.send("POST", f"reminders/{inbox[0]['uid']}/seen")
        assert (seen.status_code, seen.json()["seen_at"]) == (200, "2026-02-03T17:01:00.000Z")
    duty = idris.get(f"duties/{inbox[0]['duty']}").json()
    assert (duty["seen_by"], duty["state"]) == ([at_due.oona.name], "open")
    assert oona.get("reminders?unseen=true").json()["results"] == []


def test_everybody_can_look_up_what_was_sent_to_whom(idris: DeviceClient, at_due: Scene) -> None:
    everything = idris.get("reminders?whose=all&state=pending").json()["results"]
    assert {(m["channel"], m["step"]) for m in everything} == {("inbox", 1)}
    assert {m["carer"] for m in everything} == {at_due.maud.name, at_due.idris.name, at_due.oona.name}
    pages = idris.get("reminders?whose=all&limit=1").json()
    assert (
        idris.get(f"reminders?whose=all&limit=1&cursor={pages['next']}").json()["results"] != pages["results"]
    )


def test_shifts_are_added_and_removed_and_show_on_the_board(oona: DeviceClient, at_due: Scene) -> None:
    members = {m["name"]: m["uid"] for m in oona.get("members").json()["results"]}
    body = {
        "member": members[at_due.idris.name],
        "first_on": "2026-02-03",
        "from_time": "22:00",
        "until_time": "06:00",
    }
    made = oona.post("shifts", body)
    assert made.status_code == 201, made.content
    assert (made.json()["member_name"], made.json()["from_time"]) == (at_due.idris.name, "22:00")
    shown = oona.get("board").json()
    assert [(p["name"], p["until"]) for p in shown["on_duty"]] == [(at_due.oona.name, "2026-02-03T22:00:00Z")]
    assert shown["then_on_duty"][0]["name"] == at_due.idris.name
    assert shown["then_on_duty"][0]["since"] == "2026-02-03T22:00:00Z"
    assert oona.delete(f"shifts/{made.json()['uid']}", 1).status_code == 204
    assert at_due.idris.name not in {p["name"] for p in oona.get("board").json()["then_on_duty"]}
    assert oona.post("shifts", {**body, "member": str(new_uid())}).status_code == 409
    assert oona.post("shifts", {**body, "weekdays": [7]}).status_code == 422


def test_the_board_says_what_is_due_next_missed_and_what_to_keep_an_eye_on(
    oona: DeviceClient, at_due: Scene, clock: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = [
        Entry("info", "Slate gained 1 % since yesterday.", "pup", at_due.pups[2], "slate"),
        Entry("critical", "Rust did not gain today.", "pup", at_due.pups[1], "rust", NOW, ("no gain",)),
    ]
    monkeypatch.setattr(board, "_hooks", [lambda door: entries])
    shown = oona.get("board").json()
    assert [d["due_at"] for d in shown["due"]] == ["2026-02-03T17:00:00.000Z"]
    assert [d["due_at"] for d in shown["next"]] == ["2026-02-04T17:00:00.000Z"]
    assert [e["name"] for e in shown["keep_an_eye_on"]] == ["rust", "slate"]
    assert shown["reminders_age_s"] is None
    at_due.tick(DUE + minutes(60))
    clock.move_to(DUE + minutes(61))  # type: ignore[attr-defined]
    later = oona.get("board").json()
    assert (later["due"], [d["state"] for d in later["missed"]]) == ([], ["missed"])
    assert later["reminders_age_s"] == 60


def test_another_kennel_sees_and_changes_nothing(at_due: Scene, oona: DeviceClient) -> None:
    stranger = DeviceClient(Scene().place)
    duty = oona.get("board").json()["due"][0]["uid"]
    message = oona.get("reminders").json()["results"][0]["uid"]
    for path in (f"duties/{duty}", f"routines/{new_uid()}"):
        assert stranger.get(path).status_code == 404
    for path in (f"reminders/{message}/seen", f"reminders/{message}/retry"):
        assert stranger.send("POST", path).status_code == 404
    tap = stranger.post("duty-actions", {"duty": duty, "action": "take", "occurred_at": NOW.isoformat()})
    assert (tap.status_code, tap.json()["type"]) == (409, "/problems/parent-missing")
    for path in (
        "board",
        "agenda",
        "reminders",
        "duties",
        "routines",
        "shifts",
        "duty-actions",
        "reminder-choices",
    ):
        foreign = stranger.send("GET", f"{oona.base}{path}")
        assert foreign.status_code == 404
    assert stranger.get("agenda").json()["results"] == []
    assert stranger.get("reminders?whose=all").json()["results"] == []


def test_a_reader_looks_but_does_not_touch(at_due: Scene, clock: object) -> None:
    reader = DeviceClient(at_due.place, carer=add_member(at_due.place, Role.READER))
    duty = reader.get("board").json()["due"][0]["uid"]
    body = {"duty": duty, "action": "take", "occurred_at": NOW.isoformat()}
    assert reader.post("duty-actions", body).status_code == 403
    assert reader.post("routines", routine_body(at_due)).status_code == 403


def test_carers_choose_what_they_are_told(oona: DeviceClient, at_due: Scene, sink: Sink) -> None:
    def chosen(answer: Any) -> dict[str, bool]:
        return {c["channel"]: c["is_on"] for c in answer.json()["results"]}

    assert chosen(oona.get("reminder-choices")) == {"inbox": True, "email": True}
    off = oona.post("reminder-choices", {"channel": "email", "is_on": False})
    assert chosen(off) == {"inbox": True, "email": False}
    at_due.release(DUE + timedelta(days=1))
    assert at_due.oona.name not in {m["carer"] for m in at_due.messages("email")}
    unknown = oona.post("reminder-choices", {"channel": "smoke"})
    assert (unknown.status_code, unknown.json()["errors"][0]["pointer"]) == (422, "#/channel")


def test_a_digest_is_left_by_one_click_without_a_session_and_looking_changes_nothing(
    scene: Scene, sink: Sink
) -> None:
    for carer in (scene.maud, scene.idris, scene.oona):
        scene.quiet(carer, "22:00", "07:00")
    scene.routine(rule={**DAILY, "wall_times": ["02:00"]}, useful_for_s=36000, kind="test-weigh")
    scene.release(utc("2026-02-04 02:00"))
    scene.send(utc("2026-02-04 02:00"))
    scene.send(utc("2026-02-04 07:00"))
    link = "".join(str(sink.to(scene.oona.email)[0]["List-Unsubscribe"]).split()).strip("<>")
    path = urlsplit(link).path
    nobody = Client(enforce_csrf_checks=True)
    assert nobody.get(path).status_code == 200
    assert scene.rows("SELECT digests_on FROM duties_reminderchoice WHERE kennel_id = %(k)s") == []
    assert (
        nobody.post(path + "x", "List-Unsubscribe=One-Click", "application/x-www-form-urlencoded").status_code
        == 404
    )
    answer = nobody.post(path, "List-Unsubscribe=One-Click", content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 200, answer.content
    assert scene.rows("SELECT carer_id, digests_on FROM duties_reminderchoice WHERE kennel_id = %(k)s") == [
        {"carer_id": scene.oona.pk, "digests_on": False}
    ]
    sink.taken.clear()
    scene.release(utc("2026-02-05 02:00"))
    scene.send(utc("2026-02-05 02:00"))
    scene.send(utc("2026-02-05 07:00"))
    assert {m["X-Envelope-To"] for m in sink.taken} == {scene.maud.email, scene.idris.email}


def test_the_description_of_the_api_knows_the_new_operations() -> None:
    from drf_spectacular.generators import SchemaGenerator

    generator: Any = SchemaGenerator  # not typed
    schema = generator().get_schema(request=None, public=True)
    paths = {path.split("{kennel}/")[-1] for path in schema["paths"]}
    assert {"board", "agenda", "reminders", "reminder-choices", "duties", "duty-actions", "shifts"} <= paths

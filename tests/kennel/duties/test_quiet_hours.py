"""Quiet hours hold what can wait into one digest at their end; what must not wait goes through."""

from typing import Any

import pytest
from django.db import connection

from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import DAILY, Scene, minutes, utc

NIGHT = utc("2026-02-04 02:00")
MORNING = utc("2026-02-04 07:00")


@pytest.fixture
def asleep(scene: Scene, sink: Sink) -> Scene:
    """Everybody sleeps from 22:00 to 07:00; nothing is planned yet."""
    for carer in (scene.maud, scene.idris, scene.oona):
        scene.quiet(carer, "22:00", "07:00")
    return scene


def at_night(scene: Scene, *times: str, **fields: Any) -> None:
    scene.routine(rule={**DAILY, "wall_times": list(times)}, useful_for_s=8 * 3600, **fields)


def test_several_that_can_wait_become_one_mail_at_the_end_of_the_quiet_hours(
    asleep: Scene, sink: Sink
) -> None:
    at_night(asleep, "01:00", "02:00", title="Bedding", kind="test-weigh")
    for hour in (1, 2):
        due = utc(f"2026-02-04 0{hour}:00")
        asleep.release(due)
        assert asleep.send(due).held == 3
    assert sink.taken == []
    assert asleep.send(MORNING - minutes(1)).in_all == 0
    assert asleep.send(MORNING).accepted == 3
    mail = sink.to(asleep.oona.email)
    assert len(mail) == 1
    assert str(mail[0]["Subject"]) == "Hollin Bank: 2 still to do"
    assert "Bedding: was due 01:00" in str(mail[0].get_payload())
    assert mail[0]["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert {m["state"] for m in asleep.messages("email", "r.kind = 'duty'")} == {"accepted"}


def test_the_end_is_that_of_the_carers_own_zone(asleep: Scene, sink: Sink) -> None:
    asleep.quiet(asleep.oona, "22:00", "07:00", zone="Asia/Tokyo")
    at_night(asleep, "02:00", kind="test-weigh")
    asleep.release(NIGHT)
    done = asleep.send(NIGHT)
    # 02:00 UTC is 11:00 in Tokyo.
    assert (done.accepted, done.held) == (1, 2)
    assert [m["X-Envelope-To"] for m in sink.taken] == [asleep.oona.email]


def test_critical_goes_through(asleep: Scene, sink: Sink) -> None:
    at_night(asleep, "02:00", kind="test-weigh", level="critical")
    asleep.release(NIGHT)
    assert asleep.send(NIGHT).accepted == 3
    assert sink.taken[0]["Importance"] == "high"


def test_feeding_wakes_whoever_has_night_duty_and_nobody_else(asleep: Scene, sink: Sink) -> None:
    asleep.shift(asleep.oona, "22:00", "06:00")
    at_night(asleep, "02:00")
    asleep.release(NIGHT)
    assert asleep.send(NIGHT).accepted == 1
    assert [m["X-Envelope-To"] for m in sink.taken] == [asleep.oona.email]
    done = asleep.send(NIGHT + minutes(15))
    assert (done.accepted, done.held) == (1, 2)


def test_what_was_done_meanwhile_is_left_out_and_an_empty_digest_is_not_sent(
    asleep: Scene, sink: Sink, weighings_close_duties: None
) -> None:
    at_night(asleep, "02:00", kind="test-weigh")
    asleep.release(NIGHT)
    asleep.send(NIGHT)
    for pup in asleep.pups:
        asleep.weigh(pup, NIGHT + minutes(10))
    assert asleep.send(MORNING).dropped == 3
    assert sink.taken == []
    assert {m["state"] for m in asleep.messages()} == {"cancelled"}


def test_what_was_missed_meanwhile_is_told_as_not_confirmed(asleep: Scene, sink: Sink) -> None:
    asleep.routine(rule={**DAILY, "wall_times": ["02:00"]}, useful_for_s=3600, kind="test-weigh")
    asleep.release(NIGHT)
    asleep.send(NIGHT)
    asleep.release(NIGHT + minutes(60))
    assert asleep.send(MORNING).accepted == 3
    text = str(sink.taken[0].get_payload())
    assert "Weigh-in: was due 02:00, not confirmed." in text
    assert {m["state"] for m in asleep.messages("email", "r.kind = 'duty'")} == {"missed"}


def test_the_inbox_is_never_held(asleep: Scene) -> None:
    at_night(asleep, "02:00", kind="test-weigh")
    asleep.release(NIGHT)
    assert asleep.send(NIGHT, "inbox").accepted == 3


def test_a_message_that_joins_while_the_digest_is_on_its_way_goes_on_by_itself(
    asleep: Scene, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kennel.duties.services import claims, digests

    at_night(asleep, "01:00", "02:00", kind="test-weigh")
    asleep.release(utc("2026-02-04 01:00"))
    asleep.send(utc("2026-02-04 01:00"))
    ours = claims.claim("email", MORNING, 10)
    digest = asleep.messages("email", "r.kind = 'digest'")[0]
    members = [m["id"] for m in asleep.messages("email", f"r.held_in_id = {digest['id']}")]
    asleep.release(NIGHT)
    late = asleep.messages(
        "email", f"r.kind = 'duty' AND r.carer_id = {digest['carer_id']} AND r.held_in_id IS NULL"
    )
    with asleep.write(NIGHT), connection.cursor() as cursor:
        digests.hold(cursor, asleep.place.here.id, {late[0]["id"]: digest["id"]})
    assert claims.digest_accepted(ours, digest["id"], MORNING, "s", "b", members)
    joined = asleep.messages("email", f"r.id = {late[0]['id']}")[0]
    assert (joined["state"], joined["held_in_id"], joined["next_attempt_at"]) == ("pending", None, MORNING)


def test_in_the_autumn_night_the_quiet_hours_end_at_the_second_passing(scene: Scene, sink: Sink) -> None:
    # London, 25 October 2026: clocks go back at 01:00 UTC (Directive 2000/84/EC), so 01:30 comes twice.
    scene.quiet(scene.oona, "22:00", "01:30")
    scene.shift(scene.oona, "20:00", "08:00")
    scene.routine(utc("2026-10-24 12:00"), rule={**DAILY, "wall_times": ["23:00"]}, kind="test-weigh")
    due = utc("2026-10-24 22:00")
    scene.release(due)
    assert scene.send(due).held == 1
    assert scene.messages("email", "r.kind = 'digest'")[0]["next_attempt_at"] == utc("2026-10-25 01:30")

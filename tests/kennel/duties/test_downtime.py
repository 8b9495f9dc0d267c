"""Nine hours down over night, jumping clocks: at most one message per recipient and channel, nothing useless.

Fault tests 11 and 13 of the conventions,
    with injected instants; `tests/kennel/duties/test_processes.py` kills
real processes.
"""

from datetime import timedelta

import pytest

from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import DAILY, Scene, minutes, utc

DOWN, UP = utc("2026-02-03 22:03"), utc("2026-02-04 07:03")


@pytest.fixture
def night(scene: Scene, sink: Sink) -> Scene:
    """A bottle every two hours, useful for an hour; a worming round at 23:00, useful for a day; all running."""
    scene.routine(
        title="Bottle",
        rule={"kind": "every", "interval_s": 7200, "anchor_at": "2026-02-03T20:00:00Z"},
    )
    scene.routine(title="Worming", rule={**DAILY, "wall_times": ["23:00"]}, useful_for_s=86400)
    at = utc("2026-02-03 20:00")
    while at <= DOWN:
        scene.tick(at)
        at += timedelta(seconds=15)
    sink.taken.clear()
    return scene


@pytest.mark.fault
def test_after_nine_hours_down_everybody_gets_one_message_per_channel(night: Scene, sink: Sink) -> None:
    for step in range(8):
        night.tick(UP + timedelta(seconds=15) * step)
    for carer in (night.maud, night.idris, night.oona):
        assert len(sink.to(carer.email)) == 1
    inbox = night.messages("inbox", f"r.accepted_at >= '{UP}' AND r.held_in_id IS NULL")
    assert [m["kind"] for m in inbox] == ["digest"] * 3


@pytest.mark.fault
def test_it_tells_the_newest_that_is_still_useful_and_the_complete_list_of_missed_ones(
    night: Scene, sink: Sink
) -> None:
    night.tick(UP)
    text = str(sink.to(night.oona.email)[0].get_payload())
    todo, missed = text.split("Not confirmed")
    # 06:00 was useful until 07:00: over. The worming round of 23:00 is useful until the next evening.
    assert "Worming: was due Tue 3 Feb 23:00" in todo
    assert "Bottle" not in todo
    for clock in ("Wed" not in missed and "00:00", "02:00", "04:00", "06:00"):
        assert f"Bottle: was due {clock}, not confirmed." in missed
    assert "make up" in missed
    assert {
        d["due_at"]: d["state"] for d in night.duties("title = 'Bottle' AND due_at < '2026-02-04 07:00+00'")
    } == {
        utc("2026-02-03 20:00"): "missed",
        utc("2026-02-03 22:00"): "missed",
        utc("2026-02-04 00:00"): "missed",
        utc("2026-02-04 02:00"): "missed",
        utc("2026-02-04 04:00"): "missed",
        utc("2026-02-04 06:00"): "missed",
    }


@pytest.mark.fault
def test_nothing_is_sent_past_its_use(night: Scene, sink: Sink) -> None:
    for step in range(4):
        night.tick(UP + timedelta(seconds=15) * step)
    late = night.rows(
        "SELECT r.id FROM duties_reminder r WHERE r.kennel_id = %(k)s AND r.state = 'accepted'"
        " AND r.accepted_at > r.useful_until"
    )
    assert late == []
    # The second step of the bottle of 22:00 was to go out at 22:15, while the server was away.
    steps = night.rows(
        "SELECT DISTINCT r.state FROM duties_reminder r JOIN duties_duty d ON d.id = r.duty_id"
        " WHERE r.kennel_id = %(k)s AND d.due_at = '2026-02-03 22:00+00' AND r.step = 1"
    )
    assert steps == [{"state": "missed"}]


@pytest.mark.fault
def test_of_a_schedule_with_a_long_use_only_the_newest_is_asked_for(scene: Scene, sink: Sink) -> None:
    scene.routine(
        title="Round",
        rule={"kind": "every", "interval_s": 7200, "anchor_at": "2026-02-03T23:00:00Z"},
        useful_for_s=86400,
    )
    scene.tick(DOWN)
    scene.tick(UP)
    text = str(sink.to(scene.oona.email)[0].get_payload())
    todo, missed = text.split("Not confirmed")
    assert (todo.count("Round"), missed.count("Round")) == (1, 4)
    assert "Round: was due 07:00" in todo
    assert len(sink.to(scene.oona.email)) == 1
    states = [d["state"] for d in scene.duties("released_at IS NOT NULL")]
    assert states == ["missed"] * 4 + ["open"]


@pytest.mark.fault
def test_what_is_due_right_at_the_start_goes_its_usual_way(scene: Scene, sink: Sink) -> None:
    scene.routine(rule={**DAILY, "wall_times": ["07:02"]})
    scene.tick(DOWN)
    scene.tick(UP)
    assert str(sink.to(scene.oona.email)[0]["Subject"]) == "Hollin Bank: Softened food: due 07:02"


@pytest.mark.fault
def test_quiet_hours_after_a_stop_make_one_message_of_both(night: Scene, sink: Sink) -> None:
    night.quiet(night.oona, "22:00", "07:30")
    night.tick(UP)
    assert sink.to(night.oona.email) == []
    night.tick(utc("2026-02-04 07:30"))
    assert len(sink.to(night.oona.email)) == 1


@pytest.mark.fault
def test_a_stop_of_a_week_makes_up_what_was_not_even_planned(scene: Scene, sink: Sink) -> None:
    scene.routine()
    scene.tick(utc("2026-02-03 12:00"))
    scene.tick(utc("2026-02-10 12:00"))
    states = {d["due_at"].day: d["state"] for d in scene.duties("due_at < '2026-02-10 12:00+00'")}
    assert states == dict.fromkeys(range(3, 10), "missed")
    assert len(sink.to(scene.oona.email)) == 1


@pytest.mark.fault
def test_a_clock_that_jumps_three_hours_ahead_and_back_releases_nothing_twice_and_skips_nothing(
    scene: Scene, sink: Sink
) -> None:
    scene.routine(
        rule={"kind": "every", "interval_s": 3600, "anchor_at": "2026-02-03T13:00:00Z"},
        escalate_after_s=7 * 86400,
    )
    at = utc("2026-02-03 12:50")
    jumps = {120: timedelta(hours=3), 240: timedelta(hours=-3)}
    for step in range(60 * 6):
        at += jumps.get(step, timedelta(0)) + minutes(1)
        scene.tick(at)
    mails = sink.to(scene.oona.email)
    assert len({m["Message-ID"] for m in mails}) == len(mails)
    told = scene.rows(
        "SELECT d.due_at, d.state, count(*) FILTER (WHERE r.state = 'accepted' AND r.step = 0) AS accepted,"
        " count(*) FILTER (WHERE r.held_in_id IS NOT NULL) AS told"
        " FROM duties_duty d LEFT JOIN duties_reminder r ON r.duty_id = d.id AND r.channel = 'email'"
        f" AND r.carer_id = {scene.oona.pk} WHERE d.kennel_id = %(k)s AND d.due_at <= %s GROUP BY 1, 2 ORDER BY 1",
        [at],
    )
    hours = [row["due_at"].hour for row in told]
    assert hours == list(range(13, 13 + len(hours)))
    assert all(row["accepted"] + row["told"] >= 1 for row in told)
    # No burst: the jump made one digest of what it jumped over.
    assert (
        len([m for m in mails if "not confirmed" in str(m["Subject"]) or "still to do" in str(m["Subject"])])
        <= 1
    )


def test_a_keeper_can_try_an_undelivered_message_again(scene: Scene, sink: Sink) -> None:
    from kennel.duties.services.receipts import reminder_retry

    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine()
    due = utc("2026-02-03 17:00")
    scene.release(due)
    sink.rcpt_answer = "550 No such person"
    scene.send(due)
    sink.rcpt_answer = None
    failed = scene.messages("email", "step = 0")[0]
    with scene.write(due + minutes(2), scene.maud) as opened:
        reminder_retry(failed["uid"], opened)
    assert scene.send(due + minutes(2)).accepted >= 1
    assert scene.messages("email", "step = 0")[0]["state"] == "accepted"


# The local instants of both nights, by hand from the tz database: (zone, night, wall time, instants UTC of
# the nominal days around it).  London and New York change by an hour, Lord Howe by half an hour, Kolkata and
# Phoenix not at all.
NIGHTS = [
    ("Europe/London", "01:30", ["2026-03-28 01:30", "2026-03-29 01:30", "2026-03-30 00:30"]),
    ("Europe/London", "01:30", ["2026-10-24 00:30", "2026-10-25 00:30", "2026-10-26 01:30"]),
    ("America/New_York", "02:30", ["2026-03-07 07:30", "2026-03-08 07:30", "2026-03-09 06:30"]),
    ("America/New_York", "01:30", ["2026-10-31 05:30", "2026-11-01 05:30", "2026-11-02 06:30"]),
    ("Australia/Lord_Howe", "02:15", ["2026-10-02 15:45", "2026-10-03 15:45", "2026-10-04 15:15"]),
    ("Australia/Lord_Howe", "01:45", ["2026-04-03 14:45", "2026-04-04 14:45", "2026-04-05 15:15"]),
    ("Asia/Kolkata", "01:30", ["2026-03-27 20:00", "2026-03-28 20:00", "2026-03-29 20:00"]),
    ("America/Phoenix", "01:30", ["2026-10-31 08:30", "2026-11-01 08:30", "2026-11-02 08:30"]),
]


@pytest.mark.fault
@pytest.mark.parametrize(("zone", "wall_time", "instants"), NIGHTS)
def test_over_both_nights_each_nominal_day_is_told_once_at_its_instant(
    sink: Sink, db: None, zone: str, wall_time: str, instants: list[str]
) -> None:
    scene = Scene(zone=zone)
    expected = [utc(text) for text in instants]
    begin = expected[0] - timedelta(hours=3)
    scene.routine(begin, rule={**DAILY, "wall_times": [wall_time]}, escalate_after_s=7 * 86400)
    at = begin
    while at < expected[-1] + minutes(30):
        # Workers are away for four minutes in the middle of the hour in question.
        if not expected[1] - minutes(2) < at < expected[1] + minutes(2):
            scene.tick(at)
        near = any(abs(at - one) < minutes(95) for one in expected)
        at += minutes(1) if near and abs(at - expected[1]) < minutes(5) else minutes(10)
    released = [d["due_at"] for d in scene.duties("released_at IS NOT NULL")]
    assert released == expected
    assert len(sink.to(scene.oona.email)) == len(expected)

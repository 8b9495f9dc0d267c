"""Real processes: killed in the middle of sending, doubled schedulers, several workers.

Fault tests 1, 14 and 15.
"""

import os
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.db import connections

from kennel.duties.services import claims, planning, ticks
from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import Scene, minutes, utc

ROOT = Path(__file__).resolve().parents[3]
DUE = utc("2026-02-03 17:00")


def seconds(count: float) -> timedelta:
    return timedelta(seconds=count)


def start(what: str, at: datetime, sink: Sink) -> subprocess.Popen[str]:
    """A worker process that mails to the sink."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.kennel.duties.worker_for_tests", what, at.isoformat()],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "kennel.settings",
            "EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",
        },
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def tell(worker: subprocess.Popen[str], instant: datetime) -> None:
    """One tick for a listening worker."""
    assert worker.stdin is not None
    worker.stdin.write(f"{instant.isoformat()}\n")
    worker.stdin.flush()


def ended_well(process: subprocess.Popen[str]) -> None:
    """Wait for a worker and say what it said when it failed."""
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err or out


@pytest.mark.fault
def test_workers_killed_in_the_middle_of_20_deliveries_lose_none_and_repeat_only_under_the_same_id(
    sink: Sink, scene: Scene
) -> None:
    for number in range(6):
        scene.routine(title=f"Bowl {number}")
    scene.routine(title="One more", kind="test-weigh")
    scene.release(DUE)
    waiting = scene.messages("email", "step = 0")
    assert len(waiting) == 21
    sink.hang_after = 5
    worker = start("send:email:20", DUE, sink)
    sink.wait_until_hanging()
    worker.send_signal(signal.SIGKILL)
    worker.communicate(timeout=30)
    states = Counter(m["state"] for m in scene.messages("email", "step = 0"))
    assert states == {"pending": 17, "accepted": 4}
    sink.hang_after = None
    again = start("send:email:40", DUE + seconds(15), sink)
    ended_well(again)
    # Leases of 60 s hold what the killed one had claimed; the 21st was nobody's.
    assert Counter(m["state"] for m in scene.messages("email", "step = 0")) == {"pending": 16, "accepted": 5}
    last = start("send:email:40", DUE + seconds(75), sink)
    ended_well(last)
    assert {m["state"] for m in scene.messages("email", "step = 0")} == {"accepted"}
    expected = {f"<reminder-{m['uid']}@127.0.0.1>" for m in waiting}
    assert set(sink.ids()) == expected
    assert Counter(Counter(sink.ids()).values()) == {1: 20, 2: 1}


def timeline(scene: Scene) -> tuple[set[tuple[str, datetime]], Counter[tuple[str, str, int, str]]]:
    """What was planned, and what became of which message."""
    planned = {(d["occurrence"], d["due_at"]) for d in scene.duties()}
    messages = Counter(
        (m["duty_key"], m["channel"], m["step"], m["state"])
        for m in scene.rows(
            "SELECT d.title || d.occurrence AS duty_key, r.channel, r.step, r.state FROM duties_reminder r"
            " JOIN duties_duty d ON d.id = r.duty_id WHERE r.kennel_id = %(k)s"
        )
    )
    return planned, messages


@pytest.mark.fault
def test_two_beats_and_four_workers_for_ten_minutes_do_what_one_does(sink: Sink, scene: Scene) -> None:
    def with_routines(kennel: Scene) -> Scene:
        for number in range(3):
            kennel.routine(
                title=f"Bowl {number}",
                rule={"kind": "every", "interval_s": 300, "anchor_at": f"2026-02-03T17:0{number}:00Z"},
                escalate_after_s=120,
                useful_for_s=600,
            )
        return kennel

    begin, count = utc("2026-02-03 16:59"), 44
    one = with_routines(scene)
    for number in range(count):
        one.tick(begin + seconds(15) * number)
    mails_of_one = len(sink.taken)
    sink.taken.clear()

    two = with_routines(Scene())
    workers = [start("listen", begin, sink) for _ in range(4)]
    for number in range(count):
        for worker in workers:  # every tick of two beats, taken by four workers at once
            tell(worker, begin + seconds(15) * number)
        assert [worker.stdout.readline() for worker in workers] == ["ok\n"] * 4  # type: ignore[union-attr]
    for worker in workers:
        ended_well(worker)
    for kennel in (one, two):  # a worker that met a busy kennel left it to the next tick
        kennel.tick(begin + seconds(15) * count)
    assert timeline(two) == timeline(one)
    assert len(sink.ids()) == len(set(sink.ids()))
    assert len(sink.taken) >= mails_of_one > 0


def run_together(*jobs: Callable[[], object]) -> None:
    """Run callables in threads of their own, each with its own connections; an error is raised."""
    barrier = threading.Barrier(len(jobs))

    def run(job: Callable[[], object]) -> None:
        try:
            barrier.wait()
            job()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        for future in [pool.submit(run, job) for job in jobs]:
            future.result()


def test_four_planners_at_once_plan_each_occurrence_once(scene: Scene) -> None:
    scene.routine()
    later = utc("2026-02-05 12:00")
    run_together(*[lambda: ticks.plan_tick(later)] * 4)
    ticks.plan_tick(later)
    keys = [d["occurrence"] for d in scene.duties()]
    assert len(keys) == len(set(keys)) == 5


def test_four_releasers_at_once_release_once(scene: Scene, sink: Sink) -> None:
    scene.routine()
    run_together(*[lambda: ticks.release_tick(DUE)] * 4)
    ticks.release_tick(DUE)
    assert len(scene.messages("email", "step = 0")) == 3
    assert scene.duties()[0]["version"] == 2


def test_four_senders_at_once_send_each_message_once(scene: Scene, sink: Sink) -> None:
    for number in range(5):
        scene.routine(title=f"Bowl {number}")
    scene.release(DUE)
    run_together(*[lambda: scene.send(DUE, limit=10)] * 4)
    scene.send(DUE)
    assert Counter(Counter(sink.ids()).values()) == {1: 15}


def test_claims_of_two_senders_never_overlap(scene: Scene, sink: Sink) -> None:
    for number in range(4):
        scene.routine(title=f"Bowl {number}")
    scene.release(DUE)
    found: list[tuple[int, ...]] = []
    run_together(*[lambda: found.append(claims.claim("email", DUE, 4).ids)] * 3)
    ids = [i for one in found for i in one]
    assert len(ids) == len(set(ids)) == 12


@pytest.mark.fault
def test_a_mail_server_that_hangs_does_not_keep_the_inbox_waiting(scene: Scene, sink: Sink) -> None:
    for number in range(3):
        scene.routine(title=f"Bowl {number}")
    ticks.release_tick(DUE)
    sink.hang_after = 0
    stuck = start("ticks:1", DUE, sink)
    sink.wait_until_hanging()
    # The other worker: mail is leased to the first one, the inbox goes on.
    assert ticks.send_tick("email", DUE + seconds(15)).in_all == 0
    ticks.send_tick("inbox", DUE + seconds(15))
    assert {m["state"] for m in scene.messages("inbox", "step = 0")} == {"accepted"}
    stuck.kill()
    stuck.communicate(timeout=30)
    sink.hang_after = None
    # Its lease lapses by itself.
    assert ticks.send_tick("email", DUE + seconds(61)).accepted == 9


def test_a_kennel_that_breaks_does_not_stop_the_others(
    scene: Scene, sink: Sink, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = Scene()
    for kennel in (scene, other):
        kennel.routine()
    whole = planning.plan_due

    class Broken(Exception):
        pass

    def break_in_one(opened: object) -> int:
        if opened.kennel.id == scene.place.here.id:  # type: ignore[attr-defined]
            raise Broken
        return whole(opened)  # type: ignore[arg-type]

    monkeypatch.setattr(planning, "plan_due", break_in_one)
    later = utc("2026-02-05 12:00")
    with pytest.raises(Broken):
        ticks.plan_tick(later)
    assert len(other.duties()) > 3
    ran = other.rows("SELECT ran_at, failures FROM duties_tick WHERE name = 'plan'")
    assert ran == [{"ran_at": later, "failures": 1}]


def test_a_busy_kennel_is_left_to_the_next_tick(scene: Scene, sink: Sink) -> None:
    scene.routine()
    inside, go_on = threading.Event(), threading.Event()

    def hold_the_door() -> None:
        with scene.write(DUE):
            inside.set()
            go_on.wait(30)

    def tick() -> None:
        inside.wait(30)
        try:
            ticks.release_tick(DUE)
        finally:
            go_on.set()

    run_together(hold_the_door, tick)
    assert scene.messages() == []
    ticks.release_tick(DUE + seconds(15))
    assert len(scene.messages("email", "step = 0")) == 3


def test_the_age_of_the_ticks_is_that_of_the_slowest(scene: Scene, sink: Sink) -> None:
    from kennel.duties import selectors

    assert selectors.tick_age(DUE) is None
    scene.tick(DUE)
    assert selectors.tick_age(DUE + minutes(1)) == 60.0
    ticks.plan_tick(DUE + minutes(1))
    assert selectors.tick_age(DUE + minutes(1)) == 60.0
    assert selectors.tick_ages(DUE + minutes(1))["plan"] == 0.0


def test_ticks_expire_and_carry_no_facts() -> None:
    from kennel.celery import app
    from kennel.duties import tasks

    entries = {k: v for k, v in app.conf.beat_schedule.items() if k.startswith("duties-")}
    assert {e["schedule"] for e in entries.values()} == {15.0}
    assert {e["options"]["expires"] for e in entries.values()} == {15.0}
    assert {arg for e in entries.values() for arg in e["args"]} == {"inbox", "email"}
    assert {e["task"] for e in entries.values()} == {t.name for t in (tasks.plan, tasks.release, tasks.send)}

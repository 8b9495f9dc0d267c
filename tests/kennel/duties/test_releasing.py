"""What is due becomes messages once: on duty first, then the next, then everybody; the rest is missed."""

from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress

from kennel.people.models import Membership
from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import DAILY, CountQueries, Scene, minutes, utc

pytestmark = pytest.mark.usefixtures("sink")
DUE = utc("2026-02-03 17:00")


def steps(scene: Scene, channel: str = "email") -> dict[int, set[str]]:
    found: dict[int, set[str]] = {}
    for message in scene.messages(channel):
        found.setdefault(message["step"], set()).add(message["carer"])
    return found


def test_nothing_is_released_before_it_is_due_and_nothing_twice(scene: Scene) -> None:
    scene.routine()
    assert scene.release(DUE - timedelta(seconds=1)).released == 0
    assert scene.release(DUE).released == 1
    before = scene.messages()
    assert scene.release(DUE + timedelta(seconds=15)).released == 0
    assert scene.messages() == before


def test_nobody_on_duty_means_everybody_and_once_more(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    everybody = {scene.maud.name, scene.idris.name, scene.oona.name}
    assert steps(scene) == {0: everybody, 1: everybody}
    assert {m["scheduled_at"] - DUE for m in scene.messages()} == {minutes(0), minutes(15)}


def test_the_chain_runs_from_on_duty_to_the_next_to_everybody(scene: Scene) -> None:
    scene.shift(scene.oona, "16:00", "22:00")
    scene.shift(scene.idris, "16:00", "22:00", rank=2)
    scene.routine()
    scene.release(DUE)
    everybody = {scene.maud.name, scene.idris.name, scene.oona.name}
    assert steps(scene) == {0: {scene.oona.name}, 1: {scene.idris.name}, 2: everybody}


def test_an_info_kind_tells_once_and_does_not_go_on(scene: Scene) -> None:
    scene.routine(kind="test-weigh")
    scene.release(DUE)
    assert set(steps(scene)) == {0}


def test_every_channel_of_a_carer_has_its_own_message(scene: Scene, sink: Sink) -> None:
    EmailAddress.objects.filter(user=scene.idris).update(verified=False)
    scene.routine()
    scene.release(DUE)
    assert scene.idris.name in steps(scene, "inbox")[0]
    assert scene.idris.name not in steps(scene, "email")[0]


def test_a_server_without_mail_still_fills_the_inbox(scene: Scene, settings: object) -> None:
    settings.MAIL_CONFIGURED = False  # type: ignore[attr-defined]
    scene.routine()
    scene.release(DUE)
    assert (len(scene.messages("inbox")), len(scene.messages("email"))) == (6, 0)


def test_a_duty_past_its_use_is_missed_and_so_are_its_unsent_messages(scene: Scene) -> None:
    scene.routine()
    scene.release(DUE)
    scene.send(DUE)
    assert scene.release(DUE + timedelta(hours=1)).missed == 1
    assert scene.duties()[0]["state"] == "missed"
    found = {(m["step"], m["state"]) for m in scene.messages("email", "r.kind = 'duty'")}
    assert found == {(0, "accepted"), (1, "missed")}


def test_the_ladder_passes_over_who_left_the_kennel(scene: Scene) -> None:
    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine()
    Membership.objects.filter(carer=scene.oona).update(ended_at=DUE - minutes(5))
    scene.release(DUE)
    assert steps(scene)[0] == {scene.maud.name, scene.idris.name}


def test_two_routines_at_one_instant_are_two_duties(scene: Scene) -> None:
    scene.routine(title="Soak", rule={**DAILY, "wall_times": ["17:00"]})
    scene.routine(title="Meal")
    assert scene.release(DUE).released == 2


def test_releasing_costs_the_same_for_1_and_12_duties(scene: Scene, count_queries: CountQueries) -> None:
    counts = []
    for many in (1, 12):
        kennel = Scene()
        for number in range(many):
            kennel.routine(title=f"Bowl {number}")
        with count_queries() as counted:
            assert kennel.release(DUE).released == many
        counts.append(len(counted))
    assert counts[0] == counts[1]

"""The audit explains a day: what was planned, sent, held and missed, to whom and why."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.kennel.duties.mail import Sink
from tests.kennel.duties.scenes import Scene, minutes, utc

DUE = utc("2026-02-03 17:00")


def audit(*args: str) -> str:
    out = StringIO()
    call_command("reminders_audit", *args, stdout=out)
    return out.getvalue()


def test_it_tells_every_duty_of_the_day_with_its_animals_and_messages(scene: Scene, sink: Sink) -> None:
    scene.shift(scene.oona, "16:00", "22:00")
    scene.routine()
    scene.tick(DUE)
    duty = scene.duties()[0]["uid"]
    scene.act(duty, "take", scene.oona, DUE + minutes(1))
    scene.act(duty, "skip", scene.oona, DUE + minutes(2), animals=[str(scene.pups[0])], note="asleep")
    scene.tick(DUE + minutes(60))
    text = audit(str(scene.place.here.uid), "--day", "2026-02-03")
    assert "Hollin Bank, 2026-02-03 (Europe/London): 1 duties" in text
    assert "03 Feb 17:00:00  Softened food [test-round, due]: missed" in text
    assert f"taken by {scene.oona.name} at 03 Feb 17:01:00" in text
    assert f"moss: skipped 03 Feb 17:02:00 by {scene.oona.name} (asleep)" in text
    assert f"step 0 email to {scene.oona.name}: accepted, for 03 Feb 17:00:00, 1 attempts" in text
    assert f"step 1 email to {scene.idris.name}: missed" in text


def test_it_answers_as_json_too(scene: Scene, sink: Sink) -> None:
    scene.routine()
    scene.tick(DUE)
    found = json.loads(audit(str(scene.place.here.uid), "--day", "2026-02-03", "--json"))
    assert [d["state"] for d in found["duties"]] == ["open"]
    assert len(found["duties"][0]["messages"]) == 12


def test_an_unknown_kennel_or_a_bad_day_is_an_error(scene: Scene) -> None:
    for args in (
        ["01890a5d-ac96-774b-bcce-b302099a8057"],
        ["x"],
        [str(scene.place.here.uid), "--day", "2026-02-31"],
    ):
        with pytest.raises(CommandError):
            audit(*args)

"""What keeps pups from leaving through the API: rules of the place, waivers, the appointment, adult weight."""

from datetime import date, timedelta
from typing import Any

import psycopg
import pytest
from django.utils import timezone

from litters.domain.leaving import NeededVaccination
from litters.services import leavings
from litters.services.leavings import HealthFacts
from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place(owner: psycopg.Connection) -> Place:
    made = make_kennel(zone="UTC")
    owner.execute("UPDATE people_kennel SET place = 'GB-ENG' WHERE id = %s", [made.here.id])
    return made


def ask(place: Place, path: str) -> dict[str, Any]:
    answer = DeviceClient(place).get(path)
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def today() -> date:
    return timezone.now().date()


def change(place: Place, path: str, data: dict[str, Any]) -> None:
    client = DeviceClient(place, carer=place.keeper)
    version = client.get(path).json()["version"]
    assert client.patch(path, data, version=version).status_code == 200


def test_each_hold_has_its_date_and_the_rule_behind_it(place: Place) -> None:
    # England: not under 8 weeks, chipped (SI 2018/486 Schedule 6; SI 2015/108).
    nest = make_nest(place, days_old=50)
    born_on = nest.born_at("moss").date()
    told = ask(place, f"pups/{nest.pups['moss']}/leaving")
    holds = {hold["key"]: hold for hold in told["holds"]}
    assert set(holds) == {"leave_age", "transport_age", "weaning", "chip", "booking"}
    assert holds["leave_age"]["on"] == (born_on + timedelta(days=56)).isoformat()
    assert "England" in holds["leave_age"]["rule"]
    assert "read on" in holds["leave_age"]["rule"]
    assert told["free_on"] is None
    assert told["is_here"] is True
    assert "legal advice" in told["rules"]["caution"]


def ready(place: Place, nest: Nest, *bands: str) -> None:
    change(place, f"litters/{nest.litter}", {"weaned_on": (today() - timedelta(days=5)).isoformat()})
    for band in bands:
        make_record(place, "booking", litter=nest.litter, pup=nest.pups[band], leaves_on=today().isoformat())


def test_one_appointment_frees_most_pups(place: Place) -> None:
    nest = make_nest(place, days_old=50)
    ready(place, nest, "moss", "rust")
    told = ask(place, f"litters/{nest.litter}/leaving")
    visit = told["appointment"]
    assert visit["on"] == today().isoformat()
    assert {one["pup"] for one in visit["frees"]} == {nest.pups["moss"], nest.pups["rust"]}
    assert [one["called"] for one in visit["still_kept"]] == ["teal"]
    leave_on = {nest.born_at(band).date() + timedelta(days=56) for band in ("moss", "rust")}
    assert {date.fromisoformat(one["leaves_on"]) for one in visit["frees"]} == leave_on
    closed = today().weekday()
    later = ask(place, f"litters/{nest.litter}/leaving?closed_weekdays={closed}")["appointment"]
    assert later["on"] == (today() + timedelta(days=1)).isoformat()
    assert DeviceClient(place).get(f"litters/{nest.litter}/leaving?closed_weekdays=7").status_code == 422


def test_a_waiver_stays_visible_with_its_reason_and_name(place: Place) -> None:
    nest = make_nest(place, days_old=50)
    make_record(
        place, "waiver", pup=nest.pups["moss"], hold_key="leave_age", why="dam is ill", said_by="Dr Reed"
    )
    holds = {hold["key"]: hold for hold in ask(place, f"pups/{nest.pups['moss']}/leaving")["holds"]}
    assert holds["leave_age"]["waived"] == "dam is ill (Dr Reed)"


def test_a_rule_switched_off_keeps_nobody_and_stays_listed(place: Place) -> None:
    nest = make_nest(place, days_old=50)
    make_record(place, "rule-setting", rule_key="england.leave_age", is_enabled=False)
    told = ask(place, f"pups/{nest.pups['moss']}/leaving")
    assert "leave_age" not in {hold["key"] for hold in told["holds"]}
    assert {one["name"]: one["is_enabled"] for one in told["inputs"]}["england.leave_age"] is False


def test_what_other_apps_know_of_health_keeps_a_pup_too(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    nest = make_nest(place, days_old=60)
    from_on = today() + timedelta(days=3)
    monkeypatch.setattr(leavings, "_health", [])
    leavings.add_health_facts(
        lambda ids, kennel, at: {
            one: HealthFacts(vaccinations=(NeededVaccination("DHP", from_on),)) for one in ids
        }
    )
    holds = {hold["key"]: hold for hold in ask(place, f"pups/{nest.pups['moss']}/leaving")["holds"]}
    assert holds["vaccination:DHP"]["on"] == from_on.isoformat()


def test_a_pup_that_left_is_kept_by_nothing(place: Place) -> None:
    nest = make_nest(place, days_old=50)
    make_record(
        place, "departure", pup=nest.pups["moss"], kind="sold", occurred_at=timezone.now().isoformat()
    )
    gone = ask(place, f"pups/{nest.pups['moss']}/leaving")
    assert (gone["is_here"], gone["holds"]) == (False, [])


def test_a_place_without_rules_of_its_own_has_those_of_its_country(
    place: Place, owner: psycopg.Connection
) -> None:
    nest = make_nest(place, days_old=50)
    for code, name in (
        ("US-OH", "US federal"),
        ("FR", "EU members"),
        ("IE", "Ireland + EU members"),
        ("", "none"),
    ):
        owner.execute("UPDATE people_kennel SET place = %s WHERE id = %s", [code, place.here.id])
        assert ask(place, f"litters/{nest.litter}/leaving")["rules"]["set"] == name


def test_adult_weight_is_a_range_that_names_its_model(place: Place) -> None:
    # The handbook takes the dam's weight; the parents' mean by sex is common practice.
    nest = make_nest(place, days_old=100)
    path = f"pups/{nest.pups['moss']}/adult-weight"
    silent = ask(place, path)
    assert silent["ranges"] == []
    assert len(silent["silent"]) == 3
    change(place, f"dogs/{nest.dam}", {"adult_weight_kg": 19})
    weigh(place, nest.pups["moss"], 8200, hours_ago=3)
    told = ask(place, f"{path}?size=medium")
    parents, one_weighing = told["ranges"]
    assert (parents["model"], parents["low_kg"], parents["high_kg"]) == ("dam's weight", 19, 19)
    assert one_weighing["low_kg"] < one_weighing["high_kg"]
    assert "medium" in one_weighing["basis"]
    newest = next(one for one in told["inputs"] if one["name"] == "newest weight")
    assert (newest["value"], newest["age_h"]) == (8200, 3.0)
    assert DeviceClient(place).get(f"{path}?size=huge").status_code == 422

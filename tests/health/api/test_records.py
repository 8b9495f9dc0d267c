"""Medicines, plans, one entry for many animals, watches: what the API takes, refuses, tells twice, and keeps."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from kennel.people.choices import Role
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh

pytestmark = pytest.mark.usefixtures("db")
PYRANTEL = body_of(PUBLISHED_LABELS["pyrantel_us_suspension"])


def _keeper() -> DeviceClient:
    """The keeper's own phone."""
    place = make_kennel()
    return DeviceClient(place, carer=place.keeper)


def weighed(place: Place, pups: int = 3, days_old: float = 28) -> Nest:
    """A litter weighed two hours ago."""
    nest = make_nest(place, tuple(f"band {n}" for n in range(pups)), days_old=days_old)
    for pup in nest.pups.values():
        weigh(place, pup, 900, hours_ago=2)
    return nest


def for_many(nest: Nest, medicine: str, **fields: object) -> dict[str, object]:
    """An entry for the whole litter."""
    return {
        "medicine": medicine,
        "occurred_at": timezone.now().isoformat(),
        "lot": "L 4711",
        "expires_on": (date.today() + timedelta(days=300)).isoformat(),
        "animals": [
            {"uid": str(new_uid()), "pup": pup, "amount": 1.98, "amount_unit": "mL"}
            for pup in nest.pups.values()
        ],
        **fields,
    }


def test_every_published_label_can_be_copied_into_a_medicine() -> None:
    client = _keeper()
    labels = client.get("medicine-labels").json()["labels"]
    assert len(labels) == len(PUBLISHED_LABELS)
    for one in labels:
        answer = client.post("medicines", one["medicine"])
        assert answer.status_code == 201, (one["key"], answer.content)


def test_only_keepers_write_medicines_and_everybody_reads_them() -> None:
    place = make_kennel()
    carer = DeviceClient(place, carer=add_member(place, Role.CARER))
    assert carer.post("medicines", PYRANTEL).status_code == 403
    medicine = make_record(place, "medicine", **PYRANTEL)
    assert carer.get(f"medicines/{medicine}").json()["name"] == PYRANTEL["name"]


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"strength_value": 4.54, "strength_unit": ""}, "value and unit"),
        ({"strength_value": 4.54, "strength_unit": "mg/tablet"}, "liquid"),
        ({"dose_value": 5, "dose_unit": "mg/kg"}, "not both"),
        ({"strength_stated": "as_is"}, "base or salt"),
    ],
)
def test_a_label_that_contradicts_itself_is_refused(fields: dict[str, object], why: str) -> None:
    answer = _keeper().post("medicines", {**PYRANTEL, **fields})
    assert answer.status_code == 422
    assert why in answer.content.decode()


def test_one_entry_for_many_is_recorded_once_however_often_it_is_sent() -> None:
    place = make_kennel()
    nest = weighed(place)
    client = DeviceClient(place)
    body = for_many(nest, make_record(place, "medicine", **PYRANTEL))
    first, again = (client.post("treatments/for-many", body) for _ in range(2))
    assert [one["status"] for one in first.json()["results"]] == [201] * 3
    assert [one["outcome"] for one in again.json()["results"]] == ["replayed"] * 3
    stored = client.get("treatments").json()["results"]
    assert len(stored) == 3
    assert {one["lot"] for one in stored} == {"L 4711"}
    assert {one["weight_g"] for one in stored} == {900}
    assert [one["warnings"] for one in stored] == [[]] * 3


def test_one_refused_animal_does_not_refuse_the_others() -> None:
    place, other = make_kennel(), make_kennel("Elsewhere")
    nest, theirs = weighed(place), weighed(other)
    body = for_many(nest, make_record(place, "medicine", **PYRANTEL))
    animals = body["animals"]
    assert isinstance(animals, list)
    animals[0]["pup"] = next(iter(theirs.pups.values()))
    animals[1]["amount_unit"] = "tablet"
    results = DeviceClient(place).post("treatments/for-many", body).json()["results"]
    assert [one["status"] for one in results] == [409, 422, 201]


def test_an_entry_for_many_costs_the_same_queries_for_3_and_for_30() -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    place = make_kennel()
    medicine = make_record(place, "medicine", **PYRANTEL)
    client = DeviceClient(place)
    counts = []
    for pups in (3, 3, 30):  # the first fills caches
        body = for_many(weighed(place, pups), medicine)
        with CaptureQueriesContext(connection) as caught:
            assert client.post("treatments/for-many", body).status_code == 200
        counts.append(len(caught))
    assert counts[1] == counts[2]


def test_a_plan_takes_the_published_rules_and_keeps_its_own_when_edited() -> None:
    place = make_kennel()
    nest = weighed(place, days_old=28)
    client = DeviceClient(place)
    plan = client.post("treatment-plans", {"litter": nest.litter, "scheme": "us_label_pyrantel"}).json()
    # 21 CFR 520.2042: 2, 3, 4, 6, 8 and 10 weeks.
    assert plan["phases"][0]["days"] == [14, 21, 28, 42, 56, 70]
    assert plan["kind"] == "worming"
    phases = [{**plan["phases"][0], "days": [14, 28]}]
    edited = client.patch(f"treatment-plans/{plan['uid']}", {"phases": phases}, plan["version"]).json()
    assert edited["phases"][0]["days"] == [14, 28]
    wrong = [{"anchor": "birth", "days": [14], "every_days": 7}]
    assert (
        client.patch(f"treatment-plans/{plan['uid']}", {"phases": wrong}, edited["version"]).status_code
        == 422
    )


def test_dates_of_a_plan_are_each_animals_own() -> None:
    place = make_kennel(zone="UTC")
    nest = weighed(place, days_old=20)
    client = DeviceClient(place)
    medicine = make_record(place, "medicine", **PYRANTEL)
    plan = make_record(
        place, "treatment-plan", litter=nest.litter, scheme="us_label_pyrantel", medicine=medicine
    )
    day_14 = {uid: (nest.born_at(band) + timedelta(days=14)).date() for band, uid in nest.pups.items()}
    band, pup = next(iter(nest.pups.items()))
    given = (nest.born_at(band) + timedelta(days=16)).isoformat()
    make_record(place, "treatment", pup=pup, medicine=medicine, dose_mg=9, occurred_at=given)
    found = client.get(f"treatment-plans/{plan}/dates").json()
    animals = {one["animal"]: one for one in found["animals"]}
    assert animals[pup]["dates"][0]["state"] == "given"
    # Two days late: the 3-week dose keeps its gap of 7 days to it.
    assert animals[pup]["next_due_on"] == (day_14.pop(pup) + timedelta(days=9)).isoformat()
    assert {uid: animals[uid]["next_due_on"] for uid in day_14} == {
        uid: day.isoformat() for uid, day in day_14.items()
    }
    assert "21 CFR 520.2042" in found["source"]


def test_schemes_and_subjects_must_fit() -> None:
    place = make_kennel()
    nest = weighed(place)
    client = DeviceClient(place)
    for body in (
        {"dog": nest.dam, "scheme": "esccap"},
        {"litter": nest.litter, "scheme": "kennel_monthly"},
        {"litter": nest.litter, "dog": nest.dam, "scheme": "core"},
        {"scheme": "core"},
        {"litter": nest.litter, "scheme": "no_such_scheme"},
    ):
        assert client.post("treatment-plans", body).status_code == 422
    keys = {one["key"] for one in client.get("treatment-schemes").json()["schemes"]}
    assert {"esccap", "capc", "us_label_pyrantel", "core", "rabies"} <= keys


def test_a_watch_is_closed_by_somebody_and_with_a_reason() -> None:
    place = make_kennel()
    nest = weighed(place)
    client = DeviceClient(place)
    pup = next(iter(nest.pups.values()))
    opened = (timezone.now() - timedelta(hours=1)).isoformat()
    watch = client.post(
        "watches", {"pup": pup, "level": "watch", "opened_at": opened, "note": "Quiet."}
    ).json()
    now = timezone.now().isoformat()
    bare = client.patch(f"watches/{watch['uid']}", {"closed_at": now, "closed_by": "carer"}, watch["version"])
    assert bare.status_code == 422
    body = {"closed_at": now, "closed_by": "carer", "closing_reason": "Lively again."}
    assert (
        client.patch(f"watches/{watch['uid']}", body, watch["version"]).json()["closing_reason"]
        == "Lively again."
    )


def test_facts_of_health_stand_in_journal_and_feed() -> None:
    place = make_kennel()
    nest = weighed(place)
    client = DeviceClient(place)
    pup = next(iter(nest.pups.values()))
    event = {"pup": pup, "kind": "diarrhoea", "occurred_at": timezone.now().isoformat(), "note": "Soft."}
    uid = client.post("health-events", event).json()["uid"]
    assert client.get(f"health-events/{uid}/history").status_code == 200
    feed = client.get("changes?limit=1000").content.decode()
    assert uid in feed
    two = {"pup": pup, "dog": nest.dam, "kind": "injury", "occurred_at": timezone.now().isoformat()}
    assert client.post("health-events", two).status_code == 422

"""What the vet card says of medicines: those of the last 24 hours, with dose and time, and how many more."""

from datetime import timedelta
from uuid import UUID

import pytest
from django.utils import timezone

from health.given_today import given_words
from kennel.records import door
from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_nest, make_record
from tests.health.scenes import Health
from tests.kennel.duties.scenes import AT, utc

pytestmark = pytest.mark.usefixtures("db")


def words(scene: Health, dam: str) -> str:
    """What was given, as the card says it at AT."""
    dog_id = scene.row("litters_dog", UUID(dam))["id"]
    with door.read(scene.place.here, scene.place.actor, AT):
        return given_words(dog_id, scene.place.here, AT)


def calcium(scene: Health) -> UUID:
    """A medicine of the cupboard."""
    return scene.create(
        "medicine", {"name": "Calcium", "purpose": "other", "active": "calcium", "form": "liquid"}
    )


def dam_of(scene: Health) -> str:
    """The litter's dam."""
    rows = scene.rows(
        "SELECT d.uid FROM litters_dog d WHERE d.kennel_id = %(k)s AND d.name = 'Bramble'",
    )
    return str(rows[0]["uid"])


def test_doses_of_the_last_day_are_said_newest_first_by_the_kennels_clock() -> None:
    scene = Health(zone="Europe/Berlin")
    dam, medicine = dam_of(scene), calcium(scene)
    worming = scene.label("fenbendazole_suspension_100")
    for given, at, data in (
        (medicine, "2026-02-03 09:10", {"amount": "2", "amount_unit": "mL"}),
        (worming, "2026-02-02 12:30", {"dose_mg": "950", "outcome": "vomited"}),
        (medicine, "2026-02-02 11:59", {"amount": "2", "amount_unit": "mL"}),  # over 24 hours before
    ):
        row = {"dog": dam, "medicine": str(given), "occurred_at": utc(at).isoformat(), **data}
        scene.create("treatment", row, utc(at), scene.idris)
    assert words(scene, dam) == "calcium 2 mL 10:10 and 1 more"
    scene.remove("treatment", scene.rows("SELECT uid FROM health_treatment ORDER BY occurred_at")[2]["uid"])
    assert words(scene, dam) == "fenbendazole 950 mg 13:30 vomited"


def test_another_dog_and_another_kennel_give_no_words() -> None:
    scene, other = Health(), Health()
    sire = scene.create("dog", {"name": "Marram", "sex": "male"})
    for where, dog in ((scene, str(sire)), (other, dam_of(other))):
        row = {"dog": dog, "medicine": str(calcium(where)), "occurred_at": AT.isoformat()}
        where.create("treatment", row)
    assert words(scene, dam_of(scene)) == ""
    assert words(other, dam_of(other)) == "calcium 12:00"


def test_the_card_read_to_the_vet_names_the_medicine() -> None:
    place: Place = make_kennel(zone="UTC")
    nest = make_nest(place, days_old=0.2)
    client = DeviceClient(place)
    before = client.get(f"litters/{nest.litter}/vet-card").json()["card"]["text"]
    assert "No medicine given in 24 hours." in before
    medicine = make_record(
        place, "medicine", name="Calcium", purpose="other", active="calcium", form="liquid"
    )
    at = timezone.now() - timedelta(minutes=20)
    make_record(
        place, "treatment", dog=nest.dam, medicine=medicine, amount=2, amount_unit="mL", occurred_at=at
    )
    after = client.get(f"litters/{nest.litter}/vet-card").json()["card"]["text"]
    assert f"Given in 24 hours: calcium 2 mL {at:%H:%M}." in after

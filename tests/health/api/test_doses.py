"""The dose through the API: for a pup, a dog, a litter; its band, its weight's age, and no number for vet-only items."""

from datetime import timedelta

import pytest
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from tests.api import DeviceClient
from tests.factories.people import make_kennel
from tests.factories.records import make_nest, make_record, weigh

pytestmark = pytest.mark.usefixtures("db")


def label(place, key: str, **fields: object) -> str:
    """A medicine copied from a published label."""
    return make_record(place, "medicine", **{**body_of(PUBLISHED_LABELS[key]), **fields})


def test_a_pups_dose_names_medicine_weight_age_and_band() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=28)
    weigh(place, nest.pups["moss"], 900, hours_ago=6)
    medicine = label(place, "pyrantel_us_suspension")
    answer = DeviceClient(place).get(f"pups/{nest.pups['moss']}/dose?medicine={medicine}")
    assert answer.status_code == 200
    found = answer.json()
    # 21 CFR 520.2042: 4.54 mg/lb at 5 lb or less; 0.9 kg x 4.54 / 0.45359237 = 9.008 mg, at 4.54 mg/mL 1.984 mL.
    assert found["dose_mg"] == pytest.approx(9.008, rel=0.001)
    assert found["amount"] == pytest.approx(1.984, rel=0.001)
    assert found["amount_unit"] == "mL"
    assert found["medicine_name"] == "Pyrantel suspension (US label)"
    assert found["weight_g"] == 900
    assert found["weight_age_days"] == pytest.approx(0.25, abs=0.01)
    assert found["outcome"] == "worked out"
    assert "21 CFR 520.2042" in found["source"]
    assert "follow the vet's instruction" in found["caution"]


def test_the_least_dose_halves_as_a_pup_passes_five_pounds_and_says_so() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=56)
    weigh(place, nest.pups["moss"], 2260, hours_ago=2)
    weigh(place, nest.pups["rust"], 2280, hours_ago=2)
    medicine = label(place, "pyrantel_us_suspension")
    answer = DeviceClient(place).get(f"litters/{nest.litter}/doses?medicine={medicine}")
    doses = {one["name"]: one for one in answer.json()["doses"]}
    # 21 CFR 520.2042: 2.26 kg (under 5 lb) 22.62 mg, 2.28 kg (over) 11.41 mg.
    assert doses["moss"]["dose_mg"] == pytest.approx(22.62, rel=0.001)
    assert doses["rust"]["dose_mg"] == pytest.approx(11.41, rel=0.001)
    assert doses["rust"]["band"] != ""
    assert doses["teal"]["outcome"] == "weigh first"
    assert doses["teal"]["dose_mg"] is None


def test_no_number_at_all_for_what_only_a_vet_may_dose() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=28)
    weigh(place, nest.pups["moss"], 900, hours_ago=6)
    medicine = label(place, "emodepside_toltrazuril", dose_value=0.5, dose_unit="mL/kg")
    found = DeviceClient(place).get(f"pups/{nest.pups['moss']}/dose?medicine={medicine}").json()
    assert found["outcome"] == "vet only"
    numbers = ("dose_mg", "amount", "course_mg", "course_amount")
    assert [found[name] for name in numbers] == [None] * 4
    assert found["amount_text"] == found["band"] == ""
    assert found["other_actives_mg"] == {}


def test_a_pup_under_two_pounds_is_told_what_it_lacks() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=35)
    weigh(place, nest.pups["moss"], 900, hours_ago=1)
    medicine = label(place, "milbemycin_oxime")
    found = DeviceClient(place).get(f"pups/{nest.pups['moss']}/dose?medicine={medicine}").json()
    # 21 CFR 520.1441: from 2 lb, 907 g: not 900 g and not 1 kg.
    assert found["outcome"] == "outstanding"
    assert found["needs_weight_g"] == 907
    assert found["dose_mg"] is None


def test_a_nursing_dam_is_told_when_her_label_says_nothing() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=14)
    at = (timezone.now() - timedelta(hours=2)).isoformat()
    make_record(place, "weighing", dog=nest.dam, weight_g=19_000, occurred_at=at)
    medicine = label(place, "fenbendazole_granules_222")
    found = DeviceClient(place).get(f"dogs/{nest.dam}/dose?medicine={medicine}").json()
    # 21 CFR 520.905b: 50 mg/kg on three days; 19 kg x 50 = 950 mg a day, at 222 mg/g 4.279 g.
    assert found["dose_mg"] == pytest.approx(950)
    assert found["amount"] == pytest.approx(4.279, rel=0.001)
    assert found["course_mg"] == pytest.approx(2850)
    assert "nursing_not_stated" in [one["code"] for one in found["advice"]]


def test_animals_and_medicines_of_another_kennel_are_not_there() -> None:
    place, other = make_kennel(), make_kennel("Elsewhere")
    nest = make_nest(place, days_old=28)
    medicine = label(place, "pyrantel_us_suspension")
    foreign = label(other, "pyrantel_us_suspension")
    theirs = make_nest(other, days_old=28)
    client = DeviceClient(place)
    assert client.get(f"pups/{theirs.pups['moss']}/dose?medicine={medicine}").status_code == 404
    assert client.get(f"litters/{theirs.litter}/doses?medicine={medicine}").status_code == 404
    assert client.get(f"dogs/{theirs.dam}/dose?medicine={medicine}").status_code == 404
    refused = client.get(f"pups/{nest.pups['moss']}/dose?medicine={foreign}")
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "#/medicine"
    assert client.get(f"pups/{nest.pups['moss']}/dose").status_code == 422

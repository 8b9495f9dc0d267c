"""Growth tables a vet supplied: stored, refused, and pups read against them, through the API."""

from datetime import timedelta
from typing import Any

import pytest
from scipy.stats import norm

from kennel.people.choices import Role
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record

pytestmark = pytest.mark.usefixtures("db")

# L = 1 makes the table normal with SD S M, so that scipy can say the score.  Invented values.
ROWS = [
    {"age_days": 84, "power": 1, "median_kg": 6, "spread": 0.1},
    {"age_days": 168, "power": 1, "median_kg": 14, "spread": 0.1},
]
TABLE: dict[str, Any] = {
    "name": "Bitches of 15 to 30 kg",
    "sex": "female",
    "adult_from_kg": 15,
    "adult_below_kg": 30,
    "rows": ROWS,
    "supplied_by": "Dr Reed",
    "supplied_on": "2026-01-05",
    "source": "the vet's own sheet",
}


@pytest.fixture
def place() -> Place:
    return make_kennel()


def _keeper_of(place: Place) -> DeviceClient:
    return DeviceClient(place, carer=place.keeper)


@pytest.fixture
def keeper(place: Place) -> DeviceClient:
    return _keeper_of(place)


@pytest.fixture
def nest(place: Place) -> Nest:
    """Pups of 130 days, expected to weigh 19 kg."""
    found = make_nest(place, days_old=130)
    client = _keeper_of(place)
    version = client.get(f"litters/{found.litter}").json()["version"]
    assert client.patch(f"litters/{found.litter}", {"expected_adult_kg": 19}, version).status_code == 200
    return found


def median_kg(day: float) -> float:
    """The median of ROWS, straight between both."""
    return 6 + (day - 84) / 84 * 8


def weigh_at(place: Place, nest: Nest, band: str, day: float, grams: float, **other: Any) -> None:
    """A weight of a pup at an age in days."""
    animal = other or {"pup": nest.pups[band]}
    at = (nest.born_at(band) + timedelta(days=day)).isoformat()
    make_record(place, "weighing", weight_g=round(float(grams), 1), occurred_at=at, **animal)


def position(client: DeviceClient, nest: Nest, band: str = "moss", query: str = "") -> dict[str, Any]:
    answer = client.get(f"pups/{nest.pups[band]}/growth-position{query}")
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


# Independent library: scipy.stats.norm.  Salt et al. 2020, PLoS ONE 15(9):e0238521: more than two lines is too many.
def test_a_pup_is_read_against_the_table_of_its_sex_and_size(
    place: Place, keeper: DeviceClient, nest: Nest
) -> None:
    made = keeper.post("growth-tables", TABLE)
    assert made.status_code == 201, made.content
    weigh_at(place, nest, "moss", 60, 3500)
    for day, z in ((90, 0.1), (110, -0.8), (128, -1.5)):
        weigh_at(place, nest, "moss", day, 1000 * norm.ppf(norm.cdf(z), median_kg(day), 0.1 * median_kg(day)))
    told = position(keeper, nest)
    assert told["silent"] == []
    (one,) = told["positions"]
    assert (one["table"], one["supplied_by"], one["misfit"]) == (made.json()["uid"], "Dr Reed", "")
    assert (one["from_day"], one["to_day"], one["weights_not_covered"]) == (84, 168, 1)
    assert one["first"]["age_days"] == 90
    assert (one["first"]["z"], one["newest"]["z"]) == pytest.approx((0.1, -1.5), abs=0.001)
    assert one["newest"]["centile"] == pytest.approx(100 * norm.cdf(-1.5), abs=0.06)
    assert (one["lines_crossed"], one["direction"], one["crosses_too_many"]) == (3, "down", True)
    assert "3 centile lines crossed downwards" in one["words"]
    assert "vet" in told["caution"]
    assert "Salt et al. 2020" in told["source"]
    assert told["inputs"][0]["value"] == 19
    assert one["newest"]["weighed_at"].startswith(
        (nest.born_at("moss") + timedelta(days=128)).date().isoformat()
    )


def test_lines_crossed_make_a_pup_one_to_keep_an_eye_on(
    place: Place, keeper: DeviceClient, nest: Nest
) -> None:
    for band, last in (("moss", -1.5), ("rust", -1.0)):
        for day, z in ((90, 0.1), (128, last)):
            weigh_at(place, nest, band, day, 1000 * median_kg(day) * (1 + 0.1 * z))

    def rules(band: str) -> dict[str, dict[str, Any]]:
        pups = keeper.get(f"litters/{nest.litter}/growth").json()["pups"]
        reasons = next(pup for pup in pups if pup["called"] == band)["reasons"]
        return {reason["rule"]: reason for reason in reasons}

    assert "centile_lines" not in rules("moss")
    keeper.post("growth-tables", TABLE)
    found = rules("moss")["centile_lines"]
    assert (found["level"], found["published"]) == ("watch", True)
    assert "Bitches of 15 to 30 kg" in found["words"]
    assert "centile_lines" not in rules("rust")
    # The rule is published, the limit a figure that the vet may set.
    agreed = {"area": "growth", "key": "centile_lines_crossed", "value": 3}
    make_record(place, "agreed-figure", **agreed, agreed_with="Dr Reed", agreed_on="2026-01-05")
    assert "centile_lines" not in rules("moss")
    assert position(keeper, nest)["positions"][0]["crosses_too_many"] is False


def test_a_table_for_other_dogs_says_nothing_unless_it_is_asked_for(
    place: Place, keeper: DeviceClient, nest: Nest
) -> None:
    weigh_at(place, nest, "moss", 100, 7000)
    others = [
        TABLE | {"name": "Dogs", "sex": "male"},
        TABLE | {"name": "Small", "adult_from_kg": None, "adult_below_kg": 6.5},
        TABLE | {"name": "From 19", "adult_from_kg": 19, "adult_below_kg": None},
        TABLE | {"name": "Below 19", "adult_from_kg": None, "adult_below_kg": 19},
    ]
    uids = {one["name"]: keeper.post("growth-tables", one).json()["uid"] for one in others}
    told = position(keeper, nest)
    assert [one["name"] for one in told["positions"]] == ["From 19"]
    assert told["silent"] == [
        "Below 19: it is for other adult weights than 19 kg",
        "Small: it is for other adult weights than 19 kg",
        "Dogs: it is for the other sex",
    ]
    (asked,) = position(keeper, nest, query=f"?table={uids['Dogs']}")["positions"]
    assert asked["misfit"] == "it is for the other sex"
    assert asked["newest"]["age_days"] == 100


def test_the_weights_of_the_dog_a_pup_grew_into_are_its_own(
    place: Place, keeper: DeviceClient, nest: Nest
) -> None:
    keeper.post("growth-tables", TABLE)
    weigh_at(place, nest, "moss", 90, 6500)
    dog = make_record(place, "dog", name="Moss", sex="female")
    weigh_at(place, nest, "moss", 120, 9400, dog=dog)
    assert position(keeper, nest)["positions"][0]["newest"]["age_days"] == 90
    version = keeper.get(f"pups/{nest.pups['moss']}").json()["version"]
    assert keeper.patch(f"pups/{nest.pups['moss']}", {"grown_as": dog}, version).status_code == 200
    newest = position(keeper, nest)["positions"][0]["newest"]
    assert (newest["age_days"], newest["weight_g"]) == (120, 9400)
    pups = keeper.get(f"litters/{nest.litter}/growth").json()["pups"]
    assert next(pup for pup in pups if pup["called"] == "moss")["last_weight_g"] == 9400


def test_a_pup_nobody_weighed_at_those_ages_is_said_to_be_so(keeper: DeviceClient, nest: Nest) -> None:
    assert position(keeper, nest)["silent"] == [
        "no growth table is stored: enter the values that your vet gave you"
    ]
    keeper.post("growth-tables", TABLE)
    (one,) = position(keeper, nest)["positions"]
    assert (one["newest"], one["lines_crossed"], one["crosses_too_many"]) == (None, None, None)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        # Salt et al. 2017, PLoS ONE 12(9):e0182064: the standard begins at 12 weeks.
        ({"rows": [ROWS[0] | {"age_days": 70}, ROWS[1]]}, "#/rows/0/age_days"),
        ({"rows": [ROWS[1], ROWS[0]]}, "#/rows"),
        ({"rows": ROWS[:1]}, "#/rows"),
        ({"rows": [ROWS[0], ROWS[1] | {"spread": 0}]}, "#/rows/1/spread"),
        ({"rows": [ROWS[0], ROWS[1] | {"median_kg": "14"}]}, "#/rows/1/median_kg"),
        ({"rows": [ROWS[0], ROWS[1] | {"z": 1}]}, "#/rows/1/z"),
        ({"source": ""}, "#/source"),
        ({"supplied_by": ""}, "#/supplied_by"),
        ({"sex": "both"}, "#/sex"),
        ({"adult_from_kg": 30, "adult_below_kg": 15}, "#"),
    ],
)
def test_a_table_that_cannot_be_right_is_refused_by_field(
    keeper: DeviceClient, change: dict[str, Any], pointer: str
) -> None:
    refused = keeper.post("growth-tables", TABLE | change)
    assert refused.status_code == 422, refused.content
    assert pointer in [error["pointer"] for error in refused.json()["errors"]]
    assert keeper.get("growth-tables").json()["results"] == []


def test_only_a_keeper_stores_a_table_and_a_stranger_finds_none(place: Place, keeper: DeviceClient) -> None:
    carer = DeviceClient(place, carer=add_member(place, Role.CARER))
    assert carer.post("growth-tables", TABLE).status_code == 403
    uid = keeper.post("growth-tables", TABLE).json()["uid"]
    assert carer.get(f"growth-tables/{uid}").status_code == 200
    assert DeviceClient(make_kennel()).get(f"growth-tables/{uid}").status_code == 404


def test_a_table_of_another_kennel_or_of_nobody_is_refused(keeper: DeviceClient, nest: Nest) -> None:
    theirs = _keeper_of(make_kennel()).post("growth-tables", TABLE).json()["uid"]
    for wanted in (theirs, "nonsense"):
        refused = keeper.get(f"pups/{nest.pups['moss']}/growth-position?table={wanted}")
        assert refused.status_code == 422
        assert refused.json()["errors"][0]["pointer"] == "#/table"


def test_a_corrected_table_is_read_as_corrected_and_both_stay_on_record(
    place: Place, keeper: DeviceClient, nest: Nest
) -> None:
    uid = keeper.post("growth-tables", TABLE).json()["uid"]
    weigh_at(place, nest, "moss", 84.5, 6000)
    before = position(keeper, nest)["positions"][0]["newest"]["z"]
    rows = [ROWS[0] | {"median_kg": 7}, ROWS[1]]
    assert keeper.patch(f"growth-tables/{uid}", {"rows": rows}, 1).status_code == 200
    assert position(keeper, nest)["positions"][0]["newest"]["z"] < before - 1
    history = keeper.get(f"growth-tables/{uid}/history").json()["results"]
    assert [(entry["op"], entry["version"]) for entry in history] == [("create", 1), ("update", 2)]
    assert history[1]["old"]["rows"][0]["median_kg"] == 6
    assert history[1]["new"]["rows"][0]["median_kg"] == 7

"""Seasons, blood tests, matings, scans, the whelping log, chip codes, agreed figures: through the API."""

from typing import Any

import pytest

from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel

pytestmark = pytest.mark.usefixtures("db")
MORNING = "2026-02-01T09:00:00Z"


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def client(place: Place) -> DeviceClient:
    return DeviceClient(place, carer=place.keeper)


def make(client: DeviceClient, path: str, **data: Any) -> dict[str, Any]:
    answer = client.post(path, data)
    assert answer.status_code == 201, answer.content
    made: dict[str, Any] = answer.json()
    return made


def codes(record: dict[str, Any]) -> list[str]:
    return [warning["code"] for warning in record["warnings"]]


def dog(client: DeviceClient, name: str, sex: str, **more: Any) -> str:
    return str(make(client, "dogs", name=name, sex=sex, **more)["uid"])


def siblings(client: DeviceClient) -> tuple[str, str]:
    sire, dam = dog(client, "Marram", "male"), dog(client, "Bramble", "female")
    return (
        dog(client, "Dune", "male", sire=sire, dam=dam),
        dog(client, "Sorrel", "female", sire=sire, dam=dam),
    )


def test_a_mating_of_full_siblings_is_kept_with_its_coefficient_said(client: DeviceClient) -> None:
    # Offspring of full siblings of unrelated parents: F = 0.25 (Wright 1922, Am Nat 56:330-338).
    brother, sister = siblings(client)
    made = make(client, "matings", dam=sister, sire=brother, occurred_at=MORNING)
    assert "close_relatives" in codes(made)
    said = next(w["text"] for w in made["warnings"] if w["code"] == "close_relatives")
    assert said.startswith("F 0.25:")
    stranger = dog(client, "Whin", "male")
    assert codes(make(client, "matings", dam=sister, sire=stranger, occurred_at=MORNING)) == []


def test_a_line_agreed_with_the_vet_stands_in_place_of_ours(client: DeviceClient) -> None:
    brother, sister = siblings(client)
    given = {"area": "inbreeding", "agreed_with": "Vet", "agreed_on": "2026-01-05"}
    # A line of 0.3 would lie above the red one of 0.25: refused, nothing changes.
    crossed = client.post("agreed-figures", given | {"key": "amber_from", "value": 0.3})
    assert (crossed.status_code, crossed.json()["errors"][0]["pointer"]) == (422, "#/key")
    make(client, "agreed-figures", **given, key="red_from", value=0.5)
    make(client, "agreed-figures", **given, key="amber_from", value=0.3)
    assert codes(make(client, "matings", dam=sister, sire=brother, occurred_at=MORNING)) == []


@pytest.mark.parametrize(
    ("area", "key", "value"),
    [
        ("growth", "no_such_limit", 3),
        ("labour", "collapse.advice_after", 3),
        ("labour", "strong_straining.advice_after", -1),
        ("labour", "strong_straining.advice_after", 45),
        ("gestation", "lh_sd_days", 0),
    ],
)
def test_a_figure_no_formula_could_work_with_is_refused(
    client: DeviceClient, area: str, key: str, value: float
) -> None:
    sent = {"area": area, "key": key, "value": value, "agreed_with": "Vet", "agreed_on": "2026-01-05"}
    answer = client.post("agreed-figures", sent)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/key")


def test_a_dam_too_young_by_the_rules_of_the_place_is_recorded_with_the_rule(owner: Any) -> None:
    # England: not mated under 12 months (SI 2018/486 Schedule 6 para 6, from memory).
    place = make_kennel()
    owner.execute("UPDATE people_kennel SET place = 'GB-ENG' WHERE id = %s", [place.here.id])
    client = DeviceClient(place, carer=place.keeper)
    dam, sire = (
        dog(client, "Teasel", "female", born_on="2025-06-01"),
        dog(client, "Marram", "male"),
    )
    made = make(client, "matings", dam=dam, sire=sire, occurred_at=MORNING)
    assert codes(made) == ["rules_of_the_place"]
    assert "2026-06-01" in made["warnings"][0]["text"]
    make(client, "rule-settings", rule_key="england.dam_age", is_enabled=False)
    assert codes(make(client, "matings", dam=dam, sire=sire, occurred_at=MORNING)) == []
    unknown = client.post("rule-settings", {"rule_key": "atlantis.dam_age"})
    assert unknown.status_code == 422


def test_a_series_of_two_units_is_kept_and_said(client: DeviceClient) -> None:
    dam = dog(client, "Bramble", "female")
    season = make(client, "seasons", dam=dam, began_on="2026-01-25")["uid"]
    first = make(
        client,
        "progesterone-tests",
        dam=dam,
        season=season,
        value=2.1,
        unit="ng/mL",
        occurred_at=MORNING,
        analyser="lab",
    )
    assert codes(first) == []
    second = make(
        client,
        "progesterone-tests",
        dam=dam,
        value=19.4,
        unit="nmol/L",
        occurred_at="2026-02-03T09:00:00Z",
        analyser="table-top",
    )
    assert codes(second) == ["mixed_units", "mixed_analysers"]
    # 200 ng/mL is far above any canine serum; the same figure is usual in nmol/L.
    slip = {"dam": dam, "value": 210, "unit": "ng/mL", "occurred_at": MORNING}
    answer = client.post("progesterone-tests", slip)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/value")


def test_scan_readings_stay_numbers_and_sending_twice_makes_one(client: DeviceClient) -> None:
    dam = dog(client, "Bramble", "female")
    scan = {
        "uid": "01989e4c-5a7e-7c30-9c5f-0b8a4a5d7e10",
        "dam": dam,
        "structure": "icc",
        "readings": [21.4, 22],
        "occurred_at": MORNING,
    }
    assert client.post("scans", scan).status_code == 201
    again = client.post("scans", scan)
    assert (again.status_code, again.json()["readings"]) == (200, [21.4, 22])
    for bad in ({"readings": []}, {"structure": ""}, {"readings": ["21"]}, {"readings": [0]}):
        refused = client.post("scans", {k: v for k, v in scan.items() if k != "uid"} | bad)
        assert refused.status_code == 422, bad


def test_a_viability_score_is_whole_and_names_its_pup(client: DeviceClient) -> None:
    dam = dog(client, "Bramble", "female")
    litter = make(client, "litters", name="L", dam=dam, whelped_at=MORNING)["uid"]
    pup = make(client, "pups", litter=litter, band="moss", born_at=MORNING)["uid"]
    points = {f"apgar_{part}": 2 for part in ("heart_rate", "breathing", "reflex", "motility", "colour")}
    line = {"litter": litter, "kind": "apgar", "pup": pup, "occurred_at": MORNING}
    assert client.post("whelping-entries", line).status_code == 422
    assert client.post("whelping-entries", line | points | {"apgar_colour": 3}).status_code == 422
    assert client.post("whelping-entries", line | points).status_code == 201
    odd = client.post("whelping-entries", line | points | {"kind": "pup_born"})
    assert odd.status_code == 422
    other = make(client, "litters", name="M", dam=dam)["uid"]
    kept = make(client, "whelping-entries", litter=other, kind="pup_born", pup=pup, occurred_at=MORNING)
    assert codes(kept) == ["other_litter"]


def test_chip_codes_are_recorded_with_what_they_tell(client: DeviceClient) -> None:
    # 038 is no country of ISO 3166-1; 826 is the United Kingdom; 999 is for tests (ISO 11784, ICAR).
    dam = make(client, "dogs", name="Bramble", sex="female", chip_code="826 0000 1234-5678")
    assert (dam["chip_code"], codes(dam)) == ("826000012345678", [])
    litter = make(client, "litters", name="L", dam=dam["uid"], whelped_at=MORNING)["uid"]
    pup = {"litter": litter, "born_at": MORNING}
    assert codes(make(client, "pups", **pup, chip_code="038000012345678")) == ["chip_invalid"]
    assert codes(make(client, "pups", **pup, chip_code="999000012345678")) == ["chip_test"]
    assert codes(make(client, "pups", **pup, chip_code="123456789")) == ["chip_not_iso"]
    shared = make(client, "pups", **pup, chip_code="826000012345678")
    assert codes(shared) == ["chip_elsewhere"]
    mended = client.patch(f"pups/{shared['uid']}", {"chip_code": "826000012345679"}, version=1)
    assert mended.json()["warnings"] == []
    assert client.post("pups", pup | {"chip_code": "12"}).status_code == 422


def test_no_dog_descends_from_itself(client: DeviceClient) -> None:
    sire = dog(client, "Marram", "male")
    son = dog(client, "Dune", "male", sire=sire)
    grandson = dog(client, "Bent", "male", sire=son)
    answer = client.patch(f"dogs/{sire}", {"sire": grandson}, version=1)
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (422, "own_ancestor")
    odd = make(client, "dogs", name="Rush", sex="male", dam=sire)
    assert codes(odd) == ["dam_not_female"]


def test_the_new_records_are_journalled_in_the_feed_and_closed_to_other_kennels(
    client: DeviceClient,
) -> None:
    dam = dog(client, "Bramble", "female")
    made = {
        "season": make(client, "seasons", dam=dam, began_on="2026-01-25"),
        "progesterone-test": make(
            client, "progesterone-tests", dam=dam, value=2, unit="ng/mL", occurred_at=MORNING
        ),
        "mating": make(client, "matings", dam=dam, occurred_at=MORNING),
        "scan": make(client, "scans", dam=dam, pups_counted=6, occurred_at=MORNING),
    }
    feed = client.get("changes").json()
    seen = {change["uid"] for change in feed["changes"]}
    assert {record["uid"] for record in made.values()} <= seen
    journal = client.get("journal").json()["results"]
    assert {entry["type"] for entry in journal} >= set(made)
    stranger = DeviceClient(make_kennel("Elsewhere"))
    for plural, record in zip(
        ("seasons", "progesterone-tests", "matings", "scans"), made.values(), strict=True
    ):
        assert stranger.get(f"{plural}/{record['uid']}").status_code == 404
    assert (
        stranger.post("matings", {"dam": dam, "occurred_at": MORNING}).json()["errors"][0]["code"]
        == "parent_missing"
    )


def test_the_figure_agreed_last_stands_and_one_that_no_longer_fits_is_left_out(client: DeviceClient) -> None:
    brother, sister = siblings(client)
    given = {"area": "inbreeding", "agreed_with": "Vet"}
    red = make(client, "agreed-figures", **given, agreed_on="2026-01-05", key="red_from", value=0.5)
    make(client, "agreed-figures", **given, agreed_on="2026-01-06", key="amber_from", value=0.3)

    def lines() -> dict[str, float]:
        found: dict[str, float] = client.get(f"planned-mating?sire={brother}&dam={sister}").json()["lines"]
        return found

    assert lines() == {"amber_from": 0.3, "red_from": 0.5}
    make(client, "agreed-figures", **given, agreed_on="2026-02-06", key="amber_from", value=0.2)
    make(client, "agreed-figures", **given, agreed_on="2026-01-20", key="amber_from", value=0.4)
    assert lines() == {"amber_from": 0.2, "red_from": 0.5}
    make(client, "agreed-figures", **given, agreed_on="2026-03-06", key="amber_from", value=0.4)
    # Without the red line of 0.5 an amber one of 0.4 lies above the published red one of 0.25.
    assert client.delete(f"agreed-figures/{red['uid']}", version=1).status_code == 204
    assert lines() == {"amber_from": 0.125, "red_from": 0.25}

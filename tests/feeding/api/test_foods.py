"""Foods: the energy follows from the label, printed first, and a label that cannot be is refused."""

from typing import Any

import pytest

from tests.api import DeviceClient
from tests.factories.people import make_kennel
from tests.feeding.world import DRY, add

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def client() -> DeviceClient:
    return DeviceClient(make_kennel())


def _food(client: DeviceClient, **data: Any) -> dict[str, Any]:
    shown: dict[str, Any] = client.get(f"foods/{add(client, 'foods', **data)}").json()
    return shown


@pytest.mark.parametrize(
    ("label", "kcal_per_kg"),
    [
        # Modified Atwater, AAFCO Model Regulation PF9: 10 x (3.5 protein + 8.5 fat + 3.5 NFE), worked by hand.
        ({"protein_pct": 26, "fat_pct": 15, "fibre_pct": 3, "moisture_pct": 10, "ash_pct": 7}, 3550),
        ({"protein_pct": 31, "fat_pct": 20, "fibre_pct": 2.5, "moisture_pct": 8, "ash_pct": 7.5}, 3870),
    ],
)
def test_a_label_without_printed_energy_is_reckoned_by_modified_atwater(
    client: DeviceClient, label: dict[str, float], kcal_per_kg: float
) -> None:
    food = _food(client, name="Puppy dry", kind="dry", **label)
    assert food["energy_kcal_per_kg"] == pytest.approx(kcal_per_kg, rel=0.001)
    assert (food["energy_method"], food["energy_is_estimated"]) == ("atwater", False)


def test_a_wet_food_without_stated_ash_is_marked_as_estimated(client: DeviceClient) -> None:
    food = _food(client, name="Tin", kind="wet", protein_pct=9.5, fat_pct=6, fibre_pct=0.8, moisture_pct=77)
    # As above with 2.5 % ash assumed (common practice, no source): NFE 4.2, so 10 x (33.25 + 51 + 14.7).
    assert food["energy_kcal_per_kg"] == pytest.approx(989.5)
    assert food["energy_is_estimated"] is True


def test_printed_energy_outranks_the_analysis_and_a_correction_reckons_anew(client: DeviceClient) -> None:
    analysis = {"protein_pct": 26, "fat_pct": 15, "fibre_pct": 3, "moisture_pct": 10, "ash_pct": 7}
    food = _food(client, **DRY, **analysis)
    assert (food["energy_kcal_per_kg"], food["energy_method"]) == (3800, "printed")
    corrected = client.patch(f"foods/{food['uid']}", {"printed_kcal_per_kg": None}, food["version"])
    assert corrected.status_code == 200, corrected.content
    assert corrected.json()["energy_kcal_per_kg"] == pytest.approx(3550)


@pytest.mark.parametrize(
    ("data", "pointer"),
    [
        ({"name": "Bare", "kind": "dry"}, "#/printed_kcal_per_kg"),
        ({"name": "Milk", "kind": "replacer"}, "#/milk_kcal_per_ml"),
        (
            {"name": "Odd", "protein_pct": 60, "fat_pct": 40, "fibre_pct": 3, "moisture_pct": 10},
            "#/protein_pct",
        ),
        ({"name": "Odd", "printed_kcal_per_kg": 20}, "#/printed_kcal_per_kg"),
        ({"name": "Odd", "printed_kcal_per_kg": 3800, "taste": "good"}, "#/taste"),
    ],
)
def test_a_food_nobody_could_reckon_with_is_refused(
    client: DeviceClient, data: dict[str, Any], pointer: str
) -> None:
    answer = client.post("foods", data)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer)


def test_stock_is_what_was_weighed_and_what_came_and_went_since(client: DeviceClient) -> None:
    food = add(client, "foods", **DRY)
    assert client.get(f"foods/{food}").json()["stock_g"] is None

    def move(kind: str, mass_g: float, hour: int) -> None:
        add(
            client,
            "stock-moves",
            food=food,
            kind=kind,
            mass_g=mass_g,
            occurred_at=f"2026-03-01T{hour:02}:00:00Z",
        )

    move("bought", 10_000, 6)
    move("counted", 9_000, 8)
    move("bought", 5_000, 9)
    move("thrown_away", 500, 10)
    assert client.get(f"foods/{food}").json()["stock_g"] == 13_500
    empty = {"food": food, "kind": "used", "mass_g": 0, "occurred_at": "2026-03-01T11:00:00Z"}
    assert client.post("stock-moves", empty).status_code == 422

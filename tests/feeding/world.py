"""A litter of a given age with weights, food and plan, made through the API as a device would."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from tests.api import DeviceClient
from tests.factories.people import Place

BANDS = ("moss", "rust", "slate", "straw", "plum", "fern", "clay", "sky")
# An invented dry food that prints its energy.
DRY = {"name": "Puppy dry", "kind": "dry", "printed_kcal_per_kg": 3800, "density_g_per_ml": "0.4"}
MILK = {"name": "Puppy milk", "kind": "replacer", "milk_kcal_per_ml": "1.0"}


@dataclass
class Nest:
    """Uids of a dam, her litter, its pups by band, the food and the plan."""

    client: DeviceClient
    dam: str
    litter: str
    whelped_at: datetime
    pups: dict[str, str] = field(default_factory=dict)
    food: str = ""
    plan: str = ""

    def get(self, path: str) -> dict[str, Any]:
        """A computed read that must succeed."""
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.content
        found: dict[str, Any] = answer.json()
        return found

    def weigh(self, band: str, grams: float, *, hours_ago: float = 1) -> str:
        """A weight of a pup."""
        at = timezone.now() - timedelta(hours=hours_ago)
        return add(self.client, "weighings", pup=self.pups[band], weight_g=grams, occurred_at=at.isoformat())

    def meal(self, *, minutes_ago: float, **data: Any) -> dict[str, Any]:
        """A recorded meal, as it is answered."""
        at = timezone.now() - timedelta(minutes=minutes_ago)
        answer = self.client.post("meals", {"litter": self.litter, "occurred_at": at.isoformat(), **data})
        assert answer.status_code == 201, answer.content
        shown: dict[str, Any] = answer.json()
        return shown


def add(client: DeviceClient, plural: str, **data: Any) -> str:
    """Uid of a new record."""
    answer = client.post(plural, data)
    assert answer.status_code == 201, answer.content
    return str(answer.json()["uid"])


def make_nest(
    place: Place,
    *,
    days_old: int,
    pups: int = 2,
    adult_kg: float = 30,
    weight_g: float | None = 5000,
    food: dict[str, Any] | None = None,
    **plan: Any,
) -> Nest:
    """A litter so many completed days old, each pup weighed an hour ago, with food and feeding plan."""
    client = DeviceClient(place)
    whelped_at = timezone.now() - timedelta(days=days_old)
    dam = add(client, "dogs", name="Bramble", sex="female")
    litter = add(
        client,
        "litters",
        name="Bramble's",
        dam=dam,
        whelped_at=whelped_at.isoformat(),
        expected_adult_kg=adult_kg,
    )
    nest = Nest(client, dam, litter, whelped_at)
    for place_in_litter in range(pups):
        round_, index = divmod(place_in_litter, len(BANDS))
        band = BANDS[index] + (str(round_) if round_ else "")
        nest.pups[band] = add(
            client,
            "pups",
            litter=litter,
            band=band,
            birth_order=place_in_litter + 1,
            born_at=whelped_at.isoformat(),
        )
        if weight_g is not None:
            nest.weigh(band, weight_g)
    nest.food = add(client, "foods", **(food or DRY))
    nest.plan = add(client, "feeding-plans", litter=litter, food=nest.food, **plan)
    return nest

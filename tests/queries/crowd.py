"""A kennel with so many of everything: pups, dogs, litters, records of each type, members, devices, duties."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from django.test import Client
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from kennel.duties.services import ticks
from kennel.people.choices import Role
from kennel.people.services.invitations import NewInvitation, invitation_create
from kennel.people.services.kennels import NewKennel, kennel_create
from kennel.records import door, service, types
from litters.registrations import WEIGHING
from litters.rollup.services import computing
from tests.api import DeviceClient
from tests.factories.bodies import Stock, patch_for
from tests.factories.people import add_member, make_device, make_kennel
from tests.kennel.people.clients import CarerClient, browser
from tests.tenancy.callers import EVERYTHING, member_uid
from tests.tenancy.operations import World

# A Tuesday noon; the clock stands still, because some reads look at what is due today.
NOON = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
DAYS_OLD = 35  # on softened food, still sucking, worming, not yet old enough to leave
# Facts that take a pup away belong to the second litter: the first one stays whole.
_AWAY = {"departure", "return"}


class CrowdStock(Stock):
    """Makes records below parents that take turns; `fresh` gives the one that reads are about."""

    def __init__(self, client: DeviceClient, member: str) -> None:
        super().__init__(client, lambda: member)
        self.rows: dict[str, list[str]] = {}

    def parent(self, type_name: str) -> str:
        """The parents of a type in turn."""
        rows = self.rows.get(type_name)
        return rows[self.turn % len(rows)] if rows else super().parent(type_name)

    def fresh(self, type_name: str) -> str:
        """Uid of the record of that type which has the most to show."""
        return self.rows[type_name][0] if type_name in self.rows else super().fresh(type_name)

    def add(self, type_name: str, *bodies: dict[str, Any]) -> list[str]:
        """Uids of new records, made in one batch."""
        if not bodies:
            return []
        items = [{"op": "create", "type": type_name, "data": body} for body in bodies]
        results = self.client.post("batch", {"items": items}).json()["results"]
        assert {one["outcome"] for one in results} == {"created"}, (type_name, results)
        made = [one["uid"] for one in results]
        self.rows.setdefault(type_name, []).extend(made)
        return made

    def fill(self, type_name: str, count: int) -> None:
        """Records of a type made from its input model alone, until there are so many."""
        record_type = types.by_name(type_name)
        assert record_type is not None
        rows = self.rows.setdefault(type_name, [])
        if len(rows) >= count:
            return
        self.turn = len(rows)  # the parents of those made by hand have had their turn
        rows.append(self._first(record_type))
        self.add(type_name, *(self._next(record_type, self.parent) for _ in range(count - len(rows))))


class Crowd(World):
    """The world of the operations' example calls, crowded.

    animals: pups of the first litter, and about as many of everything else.
    """

    def __init__(self, animals: int) -> None:
        super().__init__(make_kennel())
        self.animals = animals
        self.device = DeviceClient(self.place, scopes=EVERYTHING, carer=self.place.keeper)
        self.stock: CrowdStock = CrowdStock(self.device, member_uid(self.place, self.place.keeper))
        self.carer = CarerClient(self.place, self.place.keeper)
        self.pages: Client = browser(self.place.keeper)
        self._people()
        self._dogs()
        self._litters()
        self._feeding_and_health()
        self._pregnancy()
        self._everything_else()
        computing.mark_finished_days(timezone.now())
        computing.compute_dirty(timezone.now())
        ticks.plan_tick(timezone.now())
        ticks.release_tick(timezone.now())
        ticks.send_tick("inbox", timezone.now())
        self._history()

    def _people(self) -> None:
        """Members, devices and invitations, and other kennels of the keeper."""
        for number in range(self.animals):
            kennel_create(
                NewKennel(f"Hollin Bank {number}", "Europe/London"), keeper=self.place.keeper, at=NOON
            )
            add_member(self.place, Role.READER)
            make_device(self.place)
            with door.write(self.place.here, self.place.actor, timezone.now()) as opened:
                invitation_create(NewInvitation(role=Role.READER), opened, sends_mail=False)

    def _dogs(self) -> None:
        """A bitch and a dog of each generation, so that a pedigree reaches as far back as there are animals."""
        dam, sire = self.stock.add("dog", *_pair(0))
        for generation in range(1, self.animals // 2 + 1):
            dam, sire = self.stock.add("dog", *_pair(generation, dam=dam, sire=sire))
        self.dam, self.sire = dam, sire
        dogs = self.stock.rows["dog"]
        dogs[:] = [dam, *(uid for uid in dogs if uid != dam)]

    def _litters(self) -> None:
        whelped_at = timezone.now() - timedelta(days=DAYS_OLD)
        born = {"whelped_at": whelped_at.isoformat(), "expected_adult_kg": 30, "dam": self.dam}
        whole, second = self.stock.add("litter", {"name": "Bramble's", **born}, {"name": "Sorrel's", **born})
        numbers = range(self.animals)
        kept = self.stock.add("pup", *(_pup(whole, number, whelped_at) for number in numbers))
        self.leaving = self.stock.add("pup", *(_pup(second, number, whelped_at) for number in numbers))
        self.stock.rows["pup"] = kept
        for days in (8, 1):
            at = (timezone.now() - timedelta(days=days)).isoformat()
            weights = [{"pup": pup, "weight_g": 2600 - 100 * days, "occurred_at": at} for pup in kept]
            self.stock.add("weighing", *weights, {"dog": self.dam, "weight_g": 28_000, "occurred_at": at})

    def _feeding_and_health(self) -> None:
        dry, milk = self.stock.add(
            "food",
            {"name": "Puppy dry", "kind": "dry", "printed_kcal_per_kg": 3800, "density_g_per_ml": "0.4"},
            {"name": "Puppy milk", "kind": "replacer", "milk_kcal_per_ml": "1.0"},
        )
        self.stock.rows["food"].remove(milk)  # it does not go into the bowls of the plans made below
        litter = self.stock.rows["litter"][0]
        self.stock.add("feeding-plan", {"litter": litter, "food": dry, "dam_food": dry, "milk": milk})
        self.stock.add("medicine", body_of(PUBLISHED_LABELS["pyrantel_us_suspension"]))
        self.stock.add("treatment-plan", {"litter": litter, "scheme": "us_label_pyrantel"})

    def _pregnancy(self) -> None:
        """A litter on its way, of which everything was noted that dates it."""
        (dam,) = self.stock.add("dog", {"name": "Teasel", "sex": "female"})
        began_on = (timezone.now() - timedelta(days=70)).date().isoformat()
        (season,) = self.stock.add("season", {"dam": dam, "began_on": began_on})
        (self.unborn,) = self.stock.add("litter", {"name": "Teasel's", "dam": dam, "season": season})
        ago = [(timezone.now() - timedelta(days=56, hours=n)).isoformat() for n in range(self.animals)]
        lately = [(timezone.now() - timedelta(hours=6 * n + 1)).isoformat() for n in range(self.animals)]
        here = {"dam": dam, "season": season}
        tests = [{**here, "value": "5.5", "unit": "ng/mL", "occurred_at": at} for at in ago]
        scans = [{**here, "structure": "bp", "readings": [20, 21], "occurred_at": at} for at in lately]
        self.stock.add("progesterone-test", *tests)
        self.stock.add("mating", *({**here, "sire": self.sire, "occurred_at": at} for at in ago))
        self.stock.add("scan", *scans)
        self.stock.add("temperature", *({"dog": dam, "temp_c": "38.2", "occurred_at": at} for at in lately))
        for litter in (self.unborn, self.stock.rows["litter"][0]):
            remarks = ({"litter": litter, "kind": "remark", "occurred_at": at} for at in lately)
            self.stock.add("whelping-entry", *remarks)

    def _everything_else(self) -> None:
        kept = self.stock.rows["pup"]
        for record_type in types.every():
            self.stock.rows["pup"] = self.leaving if record_type.name in _AWAY else kept
            self.stock.fill(record_type.name, self.animals)
        self.stock.rows["pup"] = kept

    def _history(self) -> None:
        """A correction of every record that reads are about, and many of one: all histories are one view."""
        corrections = [(record_type, 1) for record_type in types.every()]
        corrections += [(WEIGHING, number) for number in range(2, self.animals + 1)]
        for record_type, number in corrections:
            uid = UUID(self.stock.fresh(record_type.name))
            change = service.Change(0, uid, None, patch_for(record_type, number))
            with door.write(self.place.here, self.place.actor, timezone.now()) as opened:
                outcome = service.update(record_type, [change], opened)[0]
            assert outcome.refusal is None, (record_type.name, outcome.refusal)


def _pair(generation: int, **parents: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return (
        {"name": f"Bramble {generation}", "sex": "female", **parents},
        {"name": f"Marram {generation}", "sex": "male", **parents},
    )


def _pup(litter: str, number: int, whelped_at: datetime) -> dict[str, Any]:
    born_at = whelped_at + timedelta(minutes=number)
    return {
        "litter": litter,
        "band": f"band {number}",
        "birth_order": number + 1,
        "born_at": born_at.isoformat(),
    }

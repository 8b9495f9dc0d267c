"""The kennel that is fuzzed: the demo's, one record of every type beside it, and a call of each operation that works."""

import random
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils import timezone

from kennel import demo
from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer, Kennel
from kennel.records import types
from kennel.records.door import Actor
from kennel.records.ids import new_uid
from kennel.records.types import RecordType
from tests.factories.people import Place, make_device
from tests.tenancy.callers import EVERYTHING
from tests.tenancy.operations import BASE, KENNEL, Call, World, routed

# Operations that no device's token may do: a person does, or a shared tablet, or nobody is asked for a token.
# Their own tests are in tests/kennel/people and tests/kennel/duties.
NOT_FOR_THIS_TOKEN = {
    ("POST", f"{BASE}kennels"),
    ("POST", f"{BASE}invitations/accept"),
    ("POST", f"{BASE}{KENNEL}tablet/act"),
    ("DELETE", f"{BASE}{KENNEL}tablet/act"),
}
# References of queries and bodies that no record type declares.
ALSO_REFER = {
    "medicine": "medicine",
    "sire": "dog",
    "dam": "dog",
    "pup": "pup",
    "litter": "litter",
    "dog": "dog",
}


@dataclass
class Scene:
    """What the generators draw from.  calls: (method, path of the description) -> a call that succeeds."""

    place: Place
    token: str
    world: World
    calls: dict[tuple[str, str], Call]
    uids: dict[str, list[str]]

    @property
    def kennel(self) -> str:
        """Uid of the kennel."""
        return str(self.place.here.uid)

    def some(self, type_name: str, dice: random.Random) -> str:
        """Uid of a record of that type."""
        return dice.choice(self.uids.get(type_name) or [self.world.stock.parent(type_name)])

    def body(self, record_type: RecordType, dice: random.Random) -> dict[str, Any]:
        """A body that is taken, its references spread over the records of the kennel."""
        made: dict[str, Any] = dict(self.world.stock.body(record_type.name))
        for name, target in record_type.refs.items():
            if name in made and dice.random() < 0.8:
                made[name] = self.some(target, dice)
        return made


def is_uid(value: Any) -> bool:
    """Whether the value is the text of a UUID."""
    try:
        return isinstance(value, str) and len(value) == 36 and bool(UUID(value))
    except ValueError:
        return False


def refers_to(name: str, record_type: RecordType | None) -> str | None:
    """Name of the record type that a field or query parameter of this name refers to."""
    return (record_type.refs.get(name) if record_type else None) or ALSO_REFER.get(name)


def make_scene() -> Scene:
    """The demo kennel, filled up."""
    now = timezone.now()
    demo.fill(now)
    here = selectors.here(Kennel.objects.get(uid=demo.KENNEL_UID))
    keeper = Carer.objects.get(email=demo.PEOPLE[0][1])
    place = Place(here, keeper, Actor(role=Role.KEEPER, carer_id=keeper.pk, name=keeper.name))
    world = World(place)
    for record_type in types.every():
        world.stock.parent(record_type.name)
    calls = {
        (operation.method, BASE + operation.path): _call(world, operation)
        for operation in routed()
        if (operation.method, BASE + operation.path) not in NOT_FOR_THIS_TOKEN
    }
    # What one operation's own call needs untouched, no other call may draw.
    kept = {word for call in calls.values() for word in call.path.split("?")[0].split("/") if is_uid(word)}
    uids = {
        record_type.name: [
            one["uid"]
            for one in world.device.get(f"{record_type.plural}?limit=200").json()["results"]
            if one["uid"] not in kept
        ]
        for record_type in types.every()
    }
    uids["membership"] = [one["uid"] for one in world.device.get("members").json()["results"]]
    return Scene(place, make_device(place, EVERYTHING, keeper)[1], world, calls, uids)


def _call(world: World, operation: Any) -> Call:
    if operation.id == "POST devices/pair":
        made = world.device.post("devices", {"name": "Scale", "kind": "scale"}).json()
        return Call(f"{BASE}devices/pair", {"code": made["pairing"]["code"]})
    if operation.id == f"POST {KENNEL}treatments/for-many":
        return Call(
            operation.below,
            {
                "medicine": world.stock.parent("medicine"),
                "occurred_at": timezone.now().isoformat(),
                "animals": [{"uid": str(new_uid()), "pup": world.stock.parent("pup")}],
            },
        )
    return world.call(operation)

"""Every operation of the API, as the URL resolver has it and as the description has it, with a call that succeeds."""

import base64
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cache
from typing import Any

from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator

from kennel.api import urls
from kennel.duties.models import Duty, Reminder
from kennel.duties.services.unsubscribing import unsubscribe_url
from kennel.people.choices import Role
from kennel.people.services.invitations import NewInvitation, invitation_create
from kennel.records import door, types
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.bodies import Stock, body_of, patch_for
from tests.factories.people import Place, add_member, make_device
from tests.tenancy.callers import EVERYTHING, member_uid

METHODS = ("get", "post", "put", "patch", "delete")
BASE = "/api/v1/"
KENNEL = "kennels/{kennel}/"


@dataclass(frozen=True)
class Operation:
    """One method of one path below /api/v1/."""

    method: str
    path: str
    view: Any = field(compare=False, hash=False)
    record_type: Any = field(compare=False, hash=False)

    @property
    def id(self) -> str:
        """Readable name."""
        return f"{self.method} {self.path}"

    @property
    def below(self) -> str:
        """Path below the kennel."""
        return self.path.removeprefix(KENNEL)

    @property
    def is_in_kennel(self) -> bool:
        """Whether the operation names a kennel."""
        return self.path.startswith("kennels/{kennel}")


def routed() -> list[Operation]:
    """Operations that the URL resolver knows."""
    found = []
    for pattern in urls.patterns():
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(pattern.pattern))
        view = pattern.callback.view_class
        record_type = pattern.callback.view_initkwargs.get("record_type")
        found += [Operation(name.upper(), path, view, record_type) for name in METHODS if hasattr(view, name)]
    return found


@cache
def described() -> dict[tuple[str, str], dict[str, Any]]:
    """Operations of the OpenAPI description, made once, by method and path."""
    schema = SchemaGenerator().get_schema(request=None, public=True)
    return {
        (name.upper(), path.removeprefix(BASE)): operation
        for path, operations in schema["paths"].items()
        for name, operation in operations.items()
        if name in METHODS
    }


@dataclass
class Call:
    """A request that the right caller gets a 2xx for."""

    path: str
    body: Any = None
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, client: Any, method: str) -> Any:
        """Send it."""
        return client.send(method, self.path, self.body, **self.headers)


class World:
    """A kennel with one of everything, made when an operation asks for it."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.reads_as: Any = None  # whose inbox a message lies in
        self.device = DeviceClient(place, scopes=EVERYTHING, carer=place.keeper)
        self.stock = Stock(self.device, lambda: member_uid(place, place.keeper))

    @property
    def kennel_path(self) -> str:
        """Path of the kennel."""
        return f"{BASE}kennels/{self.place.here.uid}"

    def call(self, operation: Operation) -> Call:
        """A fresh call, upon records that nobody touched yet."""
        special = _SPECIAL.get(operation.id)
        if special is not None:
            return special(self)
        if operation.record_type is not None:
            return self._record_call(operation)
        return self._plain_call(operation)

    def _record_call(self, operation: Operation) -> Call:
        record_type = operation.record_type
        if "{uid}" not in operation.path:
            body = self.stock.body(record_type.name) if operation.method == "POST" else None
            return Call(operation.below, body)
        uid = self.stock.fresh(record_type.name)
        item = f"{record_type.plural}/{uid}"
        version = self.device.get(item).json()["version"]
        if operation.below.endswith("/restore"):
            self.device.delete(item, version)
            version += 1
        body = patch_for(record_type) if operation.method == "PATCH" else None
        tag = {"If_Match": f'"v{version}"'} if operation.method != "GET" else {}
        return Call(operation.below.replace("{uid}", uid), body, tag)

    def _plain_call(self, operation: Operation) -> Call:
        """A computed read or an action of an app: below a record when its path begins with a plural."""
        path = operation.below
        if "{uid}" in path:
            record_type = types.by_plural(path.split("/")[0])
            assert record_type is not None, (
                f"write a call for {operation.id} into tests/tenancy/operations.py"
            )
            path = path.replace("{uid}", self.stock.fresh(record_type.name))
        assert "{" not in path, f"write a call for {operation.id} into tests/tenancy/operations.py"
        body = getattr(operation.view, "body_input", None)
        if isinstance(body, dict):
            body = body.get(operation.method)
        sends = operation.method in ("POST", "PATCH", "PUT") and body is not None
        query = getattr(operation.view, "query_input", None)
        if operation.method == "GET" and isinstance(query, type) and (needed := body_of(query)):
            path += "?" + "&".join(f"{name}={value}" for name, value in needed.items())
        return Call(path, body_of(body) if sends else None)

    def member(self) -> str:
        """Uid of another member."""
        return member_uid(self.place, add_member(self.place, Role.READER))

    def device_uid(self) -> str:
        """Uid of another device."""
        return str(make_device(self.place)[0].uid)

    def invitation(self) -> Any:
        """An open invitation, with its code."""
        with door.write(self.place.here, self.place.actor, timezone.now()) as opened:
            return invitation_create(NewInvitation(role=Role.READER), opened, sends_mail=False)

    def reminder(self, carer: Any, state: str) -> str:
        """Uid of a message to a carer, as the release of a duty makes it."""
        at = timezone.now()
        uid = self.stock.fresh("duty")
        with door.write(self.place.here, self.place.actor, at):
            reminder = Reminder.objects.create(
                kennel_id=self.place.here.id,
                duty=Duty.objects.get(uid=uid),
                carer=carer,
                channel="inbox",
                level="due",
                state=state,
                released_at=at,
                scheduled_at=at,
                useful_until=at + timedelta(hours=6),
            )
        return str(reminder.uid)

    def unsubscribe(self) -> "Call":
        """The signed link of a digest."""
        url = unsubscribe_url(self.place.here.uid, self.place.keeper.pk, "email")
        return Call("/api/v1/" + url.split("/api/v1/")[1])


_V1 = {"If_Match": '"v1"'}


def _kennel_patch(world: World) -> Call:
    version = world.device.get(world.kennel_path).json()["version"]
    return Call(world.kennel_path, {"name": "Hollin Bank, upper"}, {"If_Match": f'"v{version}"'})


def _batch(world: World) -> Call:
    data = world.stock.body("dog")
    return Call("batch", {"items": [{"op": "create", "type": "dog", "uid": str(new_uid()), "data": data}]})


def _erase(world: World) -> Call:
    return Call(f"contacts/{world.stock.fresh('contact')}/erase")


def _import(world: World) -> Call:
    pup = world.device.get(f"pups/{world.stock.fresh('pup')}").json()
    content = base64.b64encode(f"pup,date,grams\n{pup['band']},2026-03-01,400\n".encode()).decode()
    return Call(f"litters/{pup['litter']}/imports", {"file_name": "weights.csv", "content": content})


_SPECIAL: dict[str, Callable[[World], Call]] = {
    f"GET {KENNEL}planned-mating": lambda w: Call(
        f"planned-mating?sire={w.stock.fresh('dog')}&dam={w.stock.fresh('dog')}"
    ),
    f"POST {KENNEL}litters/{{uid}}/imports": _import,
    f"GET {KENNEL}pups/{{uid}}/dose": lambda w: Call(
        f"pups/{w.stock.fresh('pup')}/dose?medicine={w.stock.fresh('medicine')}"
    ),
    f"GET {KENNEL}dogs/{{uid}}/dose": lambda w: Call(
        f"dogs/{w.stock.fresh('dog')}/dose?medicine={w.stock.fresh('medicine')}"
    ),
    f"GET {KENNEL}litters/{{uid}}/doses": lambda w: Call(
        f"litters/{w.stock.fresh('litter')}/doses?medicine={w.stock.fresh('medicine')}"
    ),
    "GET kennels": lambda w: Call(f"{BASE}kennels"),
    "POST kennels": lambda w: Call(f"{BASE}kennels", {"name": "Hollin Bank", "zone": "Europe/London"}),
    "GET kennels/{kennel}": lambda w: Call(w.kennel_path),
    "PATCH kennels/{kennel}": _kennel_patch,
    f"POST {KENNEL}batch": _batch,
    f"GET {KENNEL}members/{{uid}}": lambda w: Call(f"members/{w.member()}"),
    f"PATCH {KENNEL}members/{{uid}}": lambda w: Call(f"members/{w.member()}", {"role": "carer"}, _V1),
    f"DELETE {KENNEL}members/{{uid}}": lambda w: Call(f"members/{w.member()}", None, _V1),
    f"GET {KENNEL}invitations/{{uid}}": lambda w: Call(f"invitations/{w.invitation().invitation.uid}"),
    f"DELETE {KENNEL}invitations/{{uid}}": lambda w: Call(
        f"invitations/{w.invitation().invitation.uid}", None, _V1
    ),
    f"POST {KENNEL}invitations": lambda w: Call("invitations", {"role": "reader"}),
    f"GET {KENNEL}devices/{{uid}}": lambda w: Call(f"devices/{w.device_uid()}"),
    f"DELETE {KENNEL}devices/{{uid}}": lambda w: Call(f"devices/{w.device_uid()}", None, _V1),
    f"POST {KENNEL}devices/{{uid}}/pairing": lambda w: Call(f"devices/{w.device_uid()}/pairing"),
    f"POST {KENNEL}devices": lambda w: Call("devices", {"name": "Scale at the box", "kind": "scale"}),
    f"POST {KENNEL}tablet/pin": lambda w: Call("tablet/pin", {"pin": "40718"}),
    f"POST {KENNEL}reminders/{{uid}}/seen": lambda w: Call(
        f"reminders/{w.reminder(w.reads_as or w.place.keeper, 'accepted')}/seen"
    ),
    f"POST {KENNEL}reminders/{{uid}}/retry": lambda w: Call(
        f"reminders/{w.reminder(w.place.keeper, 'undelivered')}/retry"
    ),
    f"POST {KENNEL}reminder-choices": lambda w: Call("reminder-choices", {"channel": "inbox"}),
    f"GET {KENNEL}digests/unsubscribe/{{token}}": lambda w: w.unsubscribe(),
    f"POST {KENNEL}digests/unsubscribe/{{token}}": lambda w: w.unsubscribe(),
    f"POST {KENNEL}contacts/{{uid}}/erase": _erase,
}

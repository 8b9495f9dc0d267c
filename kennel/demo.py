"""The demo kennel: an invented scenario, all dates relative to today.  Apps add what they know in `apps.py`."""

import hashlib
import json
import os
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from allauth.account.models import EmailAddress
from django.conf import settings

from kennel.people import tokens
from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Kennel, Membership
from kennel.people.services.kennels import NewKennel, kennel_create
from kennel.records import door, service, types
from kennel.records.door import Actor, KennelHere

PEOPLE = (
    ("Maud Ferrier", "maud@hollin-bank.example", Role.KEEPER),
    ("Idris Vane", "idris@hollin-bank.example", Role.CARER),
    ("Oona Quill", "oona@hollin-bank.example", Role.CARER),
    ("Piet Lasker", "piet@hollin-bank.example", Role.READER),
)
KENNEL_UID = UUID("0190a5d0-5a00-7000-8000-0000000b0111")
_fillers: list[tuple[int, Callable[["Scene"], None]]] = []


def add(order: int, fill: Callable[["Scene"], None]) -> None:
    """Let an app add its part; lower orders first."""
    _fillers.append((order, fill))


@dataclass
class Scene:
    """The kennel being filled.  `at` is now; `uid("pup:moss")` names a record the same way every time."""

    here: KennelHere
    at: datetime
    actors: dict[str, Actor]
    _waiting: list[tuple[str, str, UUID, dict[str, Any]]] = field(default_factory=list)

    def uid(self, key: str) -> UUID:
        """A stable uid (version 4 bits) for a key of this kennel."""
        digest = bytearray(hashlib.sha256(f"{self.here.uid}:{key}".encode()).digest()[:16])
        digest[6] = digest[6] & 0x0F | 0x40
        digest[8] = digest[8] & 0x3F | 0x80
        return UUID(bytes=bytes(digest))

    def add(self, type_name: str, key: str, by: str = "Maud", **data: Any) -> UUID:
        """Put a record on the list; `write` sends the list through the door."""
        uid = self.uid(key)
        self._waiting.append((by, type_name, uid, data))
        return uid

    def write(self) -> None:
        """Write what was added, by author and type.  Raises RuntimeError when a record is refused."""
        waiting, self._waiting = self._waiting, []
        while waiting:
            by, name = waiting[0][:2]
            group = [w for w in waiting if w[:2] == (by, name)]
            waiting = [w for w in waiting if w[:2] != (by, name)]
            record_type = types.by_name(name)
            assert record_type is not None, name
            for start in range(0, len(group), 200):
                items = [
                    service.NewRecord(index, uid, service.check(record_type.input, data))
                    for index, (_, _, uid, data) in enumerate(group[start : start + 200])
                ]
                with door.write(self.here, self.actors[by], self.at) as opened:
                    for outcome in service.create(record_type, items, opened):
                        if outcome.refusal:
                            raise RuntimeError(
                                f"{name} {outcome.uid}: {outcome.refusal} {outcome.refusal.errors}"
                            )


def fill(at: datetime) -> dict[str, Any]:
    """Make the demo kennel, or find it; returns its sign-ins and device token as `deploy/start` prints them."""
    kept = _kept_secrets()
    carers = {name: _carer(name, email, kept["passwords"][email]) for name, email, _ in PEOPLE}
    keeper = carers["Maud Ferrier"]
    known = Kennel.objects.filter(uid=KENNEL_UID).first()
    if known is None:
        here = kennel_create(
            NewKennel(name="Hollin Bank", zone="Europe/London", uid=KENNEL_UID, place="GB-ENG"),
            keeper=keeper,
            at=at,
        )
        with door.write(here, Actor(role=Role.KEEPER, carer_id=keeper.pk), at):
            for name, _, role in PEOPLE[1:]:
                Membership.objects.create(kennel_id=here.id, carer=carers[name], role=role, recorded_at=at)
            _device(here, kept["device_token"], at)
        actors = {
            name.split()[0]: Actor(role=role, carer_id=carers[name].pk, name=name) for name, _, role in PEOPLE
        }
        scene = Scene(here, at, actors)
        for _, part in sorted(_fillers, key=lambda filler: filler[0]):
            part(scene)
            scene.write()
    sign_ins = [
        {"name": name, "email": email, "password": kept["passwords"][email], "role": str(role)}
        for name, email, role in PEOPLE
    ]
    return {"kennel": str(KENNEL_UID), "sign_ins": sign_ins, "device_token": kept["device_token"]}


def _kept_secrets() -> dict[str, Any]:
    """Passwords and token, made once for this state folder, readable by its owner alone."""
    path = Path(settings.STATE_DIR) / "demo-secrets.json"
    if path.exists():
        kept: dict[str, Any] = json.loads(path.read_text())
        return kept
    kept = {
        "passwords": {email: f"{secrets.token_hex(3)}-{secrets.token_hex(3)}" for _, email, _ in PEOPLE},
        "device_token": tokens.new_device_token()[0],
    }
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with open(path, "x", opener=lambda name, flags: os.open(name, flags, 0o600)) as target:
        json.dump(kept, target)
    return kept


def _carer(name: str, email: str, password: str) -> Carer:
    carer = Carer.objects.filter(email=email).first()
    if carer is None:
        carer = Carer.objects.create_user(email, password, name=name, zone="Europe/London")
        # Reminders by mail go to proved addresses only; these are the trial's own.
        EmailAddress.objects.create(user=carer, email=email, verified=True, primary=True)
        return carer
    if not carer.check_password(password):
        carer.set_password(password)
        carer.save(update_fields=["password"])
    return carer


def _device(here: KennelHere, token: str, at: datetime) -> None:

    parts = tokens.parse_device_token(token)
    assert parts is not None
    key, secret = parts
    Device.objects.create(
        kennel_id=here.id,
        name="Tablet by the whelping box",
        kind="program",
        scopes=["read", "write"],
        token_key=key,
        token_hash=hashlib.sha256(secret.encode()).digest(),
        recorded_at=at,
        expires_at=at + timedelta(days=400),
    )

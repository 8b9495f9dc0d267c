"""Making kennels and changing what is agreed in them."""

from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, connection, transaction

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer, Kennel, Membership
from kennel.people.services.accounts import carer_settle
from kennel.people.services.versions import expect
from kennel.records import door as doors
from kennel.records import store
from kennel.records.door import Actor, Door, KennelHere
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal


@dataclass(frozen=True)
class NewKennel:
    """What a new kennel needs: a name and the time zone it lives in."""

    name: str
    zone: str
    uid: UUID | None = None
    mass_unit: str = "g"
    temperature_unit: str = "C"
    place: str = ""


def kennel_create(new: NewKennel, *, keeper: Carer, at: datetime) -> KennelHere:
    """Make a kennel with its first keeper.

    This is the one write of a journalled table outside `door.write`: there is no counter row to lock before
    the kennel exists, and nobody else can see the new kennel before the commit.
    Raises Refusal("uid-conflict") when the uid is taken: see `kennel_create_once` for sending twice.
    """
    uid = new.uid or new_uid()
    try:
        with transaction.atomic(durable=True):
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT set_config('app.actor', %s, true), set_config('app.at', %s, true)",
                    [str(keeper.pk), at.isoformat()],
                )
            columns = {field.name: getattr(new, field.name) for field in fields(new) if field.name != "uid"}
            kennel = Kennel.objects.create(uid=uid, recorded_at=at, **columns)
            Membership.objects.create(kennel=kennel, carer=keeper, role=Role.KEEPER, recorded_at=at)
        carer_settle(keeper, new.zone)
    except IntegrityError:
        if selectors.kennel_by_uid(uid) is None:
            raise
        raise Refusal("uid-conflict", "This uid is taken.") from None
    return selectors.here(kennel)


def kennel_create_once(
    new: NewKennel, sent: frozenset[str], *, keeper: Carer, at: datetime
) -> tuple[KennelHere, bool]:
    """Make a kennel, or find the one made by sending the same before: (kennel, whether it was there).

    sent: names of the fields the caller sent; only these are compared with what the kennel was made with.
    Raises Refusal("uid-conflict") for other content, and for a uid of somebody else's kennel.
    """
    if new.uid is None or selectors.kennel_by_uid(new.uid) is None:
        try:
            return kennel_create(new, keeper=keeper, at=at), False
        except Refusal:
            if new.uid is None:
                raise
    place = selectors.place_of(keeper, new.uid)
    if place is None or not _was_made_with(new, sent, *place, at):
        raise Refusal("uid-conflict", "This uid is taken.")
    return place[0], True


def _was_made_with(
    new: NewKennel, sent: frozenset[str], here: KennelHere, actor: Actor, at: datetime
) -> bool:
    with doors.read(here, actor, at), connection.cursor() as cursor:
        cursor.execute(
            "SELECT new::text FROM records_journal"
            " WHERE kennel_id = %s AND type = 'kennel' AND uid = %s AND op = 'create'",
            [here.id, here.uid],
        )
        row = cursor.fetchone()
    if row is None:
        return False
    made_with, values = store.load(row[0]), asdict(new)
    return all(made_with.get(name) == values[name] for name in sent & values.keys() - {"uid"})


Hook = Callable[[dict[str, Any], dict[str, Any], Door], None]
_settings_hooks: list[Hook] = []


def when_settings_change(hook: Hook) -> None:
    """Call hook(before, after, door) in the transaction that changes settings; both hold the changed ones."""
    _settings_hooks.append(hook)


def kennel_change(settings: dict[str, Any], accepted: frozenset[int] | None, door: Door) -> Kennel:
    """Change name, zone, units, place and vets of the kennel.  Runs inside `door.write`.

    settings: column -> checked value.  When all of them hold already the version does not matter.
    Raises Refusal("version-mismatch").
    """
    kennel = Kennel.objects.get(pk=door.kennel.id)
    after = {name: value for name, value in settings.items() if getattr(kennel, name) != value}
    if not after:
        return kennel
    expect(kennel.version, accepted)
    before = {name: getattr(kennel, name) for name in after}
    Kennel.objects.filter(pk=kennel.pk).update(**after)
    kennel.refresh_from_db()
    for hook in _settings_hooks:
        hook(before, after, door)
    return kennel

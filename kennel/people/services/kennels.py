"""Making kennels and changing what is agreed in them."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import connection, transaction

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer, Kennel, Membership
from kennel.records.door import KennelHere
from kennel.records.ids import new_uid


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
    """Make a kennel with its first keeper.  A uid that is known already returns that kennel to its own keeper."""
    with transaction.atomic(durable=True):
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT set_config('app.actor', %s, true), set_config('app.at', %s, true)",
                [str(keeper.pk), at.isoformat()],
            )
        kennel = Kennel.objects.create(
            uid=new.uid or new_uid(),
            name=new.name,
            zone=new.zone,
            mass_unit=new.mass_unit,
            temperature_unit=new.temperature_unit,
            place=new.place,
            recorded_at=at,
        )
        Membership.objects.create(kennel=kennel, carer=keeper, role=Role.KEEPER, recorded_at=at)
    return selectors.here(kennel)

"""Carers, kennels, memberships, devices."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import factory
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from kennel.people import selectors, tokens
from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Kennel, Membership
from kennel.people.services.kennels import NewKennel, kennel_create
from kennel.records.door import Actor, KennelHere

AT = datetime(2026, 3, 1, 7, 30, tzinfo=UTC)


PASSWORD = "wool-band-4711"


@lru_cache
def hashed(password: str) -> str:
    """Argon2 is slow on purpose; once per test run is enough."""
    return make_password(password)


class CarerFactory(factory.django.DjangoModelFactory):
    """A carer who signs in with "wool-band-4711"."""

    class Meta:
        model = Carer
        skip_postgeneration_save = True

    name = factory.Iterator(["Maud Ferrier", "Idris Vane", "Oona Quill", "Piet Lasker"])
    email = factory.Sequence(lambda n: f"carer{n}@hollin.example")
    password = factory.LazyFunction(lambda: hashed(PASSWORD))


@dataclass(frozen=True)
class Place:
    """A kennel with its keeper, ready to act in."""

    here: KennelHere
    keeper: Carer
    actor: Actor


def make_kennel(name: str = "Hollin Bank", zone: str = "Europe/London") -> Place:
    """A kennel with a keeper."""
    keeper = CarerFactory()
    here = kennel_create(NewKennel(name=name, zone=zone), keeper=keeper, at=AT)
    return Place(here, keeper, Actor(role=Role.KEEPER, carer_id=keeper.pk, name=keeper.name))


def add_member(place: Place, role: Role) -> Carer:
    """Another carer of the kennel."""
    carer = CarerFactory()
    Membership.objects.create(kennel_id=place.here.id, carer=carer, role=role, recorded_at=AT)
    return carer


def make_device(
    place: Place, scopes: tuple[str, ...] = ("read", "write"), carer: Carer | None = None
) -> tuple[Device, str]:
    """A paired device and its token."""
    token, key, digest = tokens.new_device_token()
    device = Device.objects.create(
        kennel=Kennel.objects.get(pk=place.here.id),
        carer=carer,
        name="Phone of the night",
        kind="phone",
        scopes=list(scopes),
        token_key=key,
        token_hash=digest,
        recorded_at=timezone.now(),
        expires_at=timezone.now() + timedelta(days=30),
    )
    return device, token


__all__ = ["AT", "CarerFactory", "Place", "add_member", "make_device", "make_kennel", "selectors"]

"""The caller's kennels, and one kennel's own settings."""

from typing import Annotated, Any

from django.http import HttpResponse
from pydantic import BaseModel, ConfigDict, Field

from kennel.api.base import AuthenticatedView, KennelView
from kennel.api.records import take_uid
from kennel.api.rendering import dumps, json_response
from kennel.api.schema import page_of
from kennel.people import selectors
from kennel.people.choices import MassUnit, Role, TemperatureUnit
from kennel.people.models import Carer, Kennel
from kennel.people.services.kennels import NewKennel, kennel_create
from kennel.records import service
from kennel.records.fields import Line, Name, Zone
from kennel.records.refusals import Refusal


class KennelInput(BaseModel):
    """A kennel's name, zone, units and place (ISO 3166-2 code whose rules apply)."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    zone: Zone
    mass_unit: MassUnit = MassUnit.GRAM
    temperature_unit: TemperatureUnit = TemperatureUnit.CELSIUS
    place: Annotated[Line, Field(max_length=12, pattern=r"^([A-Z]{2}(-[A-Z0-9]{1,3})?)?$")] = ""


_TEXT = {"type": "string"}
KENNEL_SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["uid", "version", "name", "zone", "mass_unit", "temperature_unit", "place", "role"],
    "properties": {
        "uid": {"type": "string", "format": "uuid"},
        "version": {"type": "integer"},
        **{name: _TEXT for name in ("name", "zone", "mass_unit", "temperature_unit", "place")},
        **{name: _TEXT for name in ("vet_name", "vet_phone", "night_vet_phone", "role")},
    },
}


def kennel_shape(kennel: Kennel, role: Role) -> dict[str, Any]:
    """A kennel as the API shows it."""
    return {
        "uid": kennel.uid,
        "version": kennel.version,
        "name": kennel.name,
        "zone": kennel.zone,
        "mass_unit": kennel.mass_unit,
        "temperature_unit": kennel.temperature_unit,
        "place": kennel.place,
        "vet_name": kennel.vet_name,
        "vet_phone": kennel.vet_phone,
        "night_vet_phone": kennel.night_vet_phone,
        "role": role,
    }


class KennelList(AuthenticatedView):
    """The caller's kennels."""

    body_input = KennelInput
    slugs = ("uid-conflict",)
    answer_schema = {"GET": page_of(KENNEL_SCHEMA), "POST": KENNEL_SCHEMA}
    answer_status = {"POST": 201}
    also_status = {"POST": (200,)}

    def get(self, request: Any) -> HttpResponse:
        """All kennels the caller belongs to."""
        if isinstance(request.user, Carer):
            found = selectors.kennels_of(request.user)
        else:
            found = [(Kennel.objects.get(pk=request.user.kennel.id), request.user.actor.role)]
        return json_response(dumps({"results": [kennel_shape(k, role) for k, role in found], "next": None}))

    def post(self, request: Any) -> HttpResponse:
        """Make a kennel; the caller becomes its keeper."""
        if not isinstance(request.user, Carer):
            raise Refusal("forbidden", "A device cannot make a kennel.")
        uid, data = take_uid(request.data)
        checked = service.check(KennelInput, data)
        kennel = kennel_create(
            NewKennel(uid=uid, **checked.model_dump()), keeper=request.user, at=self.at
        )
        row = Kennel.objects.get(pk=kennel.id)
        return json_response(dumps(kennel_shape(row, Role.KEEPER)), status=201, etag=f'"v{row.version}"')


class KennelDetail(KennelView):
    """One kennel."""

    answer_schema = KENNEL_SCHEMA

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """Name, zone, units, place, vet."""
        row = Kennel.objects.get(pk=self.here.id)
        return json_response(dumps(kennel_shape(row, self.actor.role)), etag=f'"v{row.version}"')

"""The caller's kennels, and one kennel's own settings."""

from typing import Annotated, Any

from django.http import HttpResponse
from pydantic import BaseModel, ConfigDict, Field

from kennel.api.base import AuthenticatedView, KennelView
from kennel.api.components import page_of, patch_reference
from kennel.api.preconditions import accepted_versions, etag
from kennel.api.rendering import dumps, json_response
from kennel.people import selectors
from kennel.people.choices import MassUnit, Role, Scope, TemperatureUnit
from kennel.people.models import Carer, Kennel
from kennel.people.services.kennels import NewKennel, kennel_change, kennel_create_once
from kennel.records import door, service
from kennel.records.fields import Line, Name, Uid, Zone
from kennel.records.refusals import Refusal


class KennelInput(BaseModel):
    """A kennel's name, zone, units and place (ISO 3166-2 code whose rules apply)."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    zone: Zone
    mass_unit: MassUnit = MassUnit.GRAM
    temperature_unit: TemperatureUnit = TemperatureUnit.CELSIUS
    place: Annotated[Line, Field(max_length=12, pattern=r"^([A-Z]{2}(-[A-Z0-9]{1,3})?)?$")] = ""


class KennelBody(KennelInput):
    """A new kennel."""

    uid: Uid | None = Field(
        default=None, description="Client-made UUIDv7 (or v4): makes sending twice harmless."
    )


_Phone = Annotated[Line, Field(max_length=40)]


class KennelSettings(KennelInput):
    """Everything that is agreed in a kennel; the telephone numbers stand on the vet card."""

    vet_name: Annotated[Line, Field(max_length=80)] = ""
    vet_phone: _Phone = ""
    night_vet_phone: _Phone = ""


_TEXT = {"type": "string"}
KENNEL_SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["uid", "version", "name", "zone", "mass_unit", "temperature_unit", "place", "role"],
    "properties": {
        "uid": {"type": "string", "format": "uuid"},
        "version": {"type": "integer"},
        **dict.fromkeys(("name", "zone", "mass_unit", "temperature_unit", "place"), _TEXT),
        **dict.fromkeys(("vet_name", "vet_phone", "night_vet_phone", "role"), _TEXT),
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

    body_input = KennelBody
    slugs = ("uid-conflict",)
    answer_schema = {"GET": page_of(KENNEL_SCHEMA), "POST": KENNEL_SCHEMA}
    answer_status = {"POST": 201}
    also_status = {"POST": (200,)}

    def get(self, request: Any) -> HttpResponse:
        """All kennels the caller belongs to."""
        if isinstance(request.user, Carer):
            found = selectors.kennels_of(request.user)
        else:
            found = [(selectors.kennel_row(request.user.kennel.id), request.user.actor.role)]
        return json_response(dumps({"results": [kennel_shape(k, role) for k, role in found], "next": None}))

    def post(self, request: Any) -> HttpResponse:
        """Make a kennel; the caller becomes its keeper.  Sending the same again changes nothing."""
        if not isinstance(request.user, Carer) or request.user.turn:
            raise Refusal("forbidden", "A device cannot make a kennel.")
        checked = service.check(KennelBody, request.data)
        here, replayed = kennel_create_once(
            NewKennel(**checked.model_dump()),
            frozenset(checked.model_fields_set),
            keeper=request.user,
            at=self.at,
        )
        place = selectors.place_of(request.user, here.uid)
        assert place is not None
        row = selectors.kennel_row(here.id)
        shape = dumps(kennel_shape(row, place[1].role))
        answer = json_response(shape, status=200 if replayed else 201, etag=etag(row.version))
        if replayed:
            answer["Replayed"] = "true"
        else:
            answer["Location"] = f"{request.path}/{here.uid}"
        return answer


class KennelDetail(KennelView):
    """One kennel."""

    write_role = Role.KEEPER
    body_input = patch_reference(KennelSettings, "KennelPatch")
    answer_schema = KENNEL_SCHEMA
    needs_if_match = ("PATCH",)
    slugs = ("version-mismatch", "precondition-required")

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """Name, zone, units, place, vets."""
        return self._shown()

    def patch(self, request: Any, kennel: str) -> HttpResponse:
        """Change what is agreed: a JSON Merge Patch with If-Match."""
        if Scope.MANAGE not in self.actor.scopes:
            raise Refusal("forbidden", "This needs a person who is signed in, or a token that may manage.")
        accepted = accepted_versions(request.META.get("HTTP_IF_MATCH"))
        with door.write(self.here, self.actor, self.at) as opened:
            row = selectors.kennel_row(self.here.id)
            settings = _merged(row, request.data)
            try:
                kennel_change(settings, accepted, opened)
            except Refusal as refusal:
                if refusal.slug == "version-mismatch":
                    refusal.extra["current"] = kennel_shape(row, self.actor.role)
                raise
        return self._shown()

    def _shown(self) -> HttpResponse:
        row = selectors.kennel_row(self.here.id)
        return json_response(dumps(kennel_shape(row, self.actor.role)), etag=etag(row.version))


def _merged(row: Kennel, patch: dict[str, Any]) -> dict[str, Any]:
    """The settings with the patch laid over them; null means empty, where empty is allowed."""
    fields = KennelSettings.model_fields
    merged = {name: getattr(row, name) for name in fields} | patch
    for name, value in patch.items():
        if value is None and name in fields and not fields[name].is_required():
            merged[name] = fields[name].get_default()
    return dict(service.check(KennelSettings, merged).model_dump())

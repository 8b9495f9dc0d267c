"""Members of a kennel and the invitations that lead there."""

from typing import Annotated, Any
from uuid import UUID

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.http import HttpResponse
from django.urls import reverse
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from kennel.api import cursors
from kennel.api.base import SAFE, AuthenticatedView, KennelView
from kennel.api.components import INSTANT, UID, Json, page_of, patch_reference
from kennel.api.preconditions import accepted_versions, etag, parse_uid
from kennel.api.records import page_limit
from kennel.api.rendering import dumps, json_response
from kennel.people import limits, selectors
from kennel.people.addresses import client_address, network_of
from kennel.people.choices import Role, Scope
from kennel.people.models import Carer
from kennel.people.qr import qr_svg
from kennel.people.services import invitations, members
from kennel.people.shapes import SHAPES
from kennel.records import door, service, store
from kennel.records.fields import Line, Uid
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal

TEXT: Json = {"type": "string"}
MAYBE_TEXT: Json = {"type": ["string", "null"]}
MAYBE_INSTANT: Json = {"type": ["string", "null"], "format": "date-time"}


WHY_UID = "Client-made UUIDv7 (or v4): makes sending twice harmless."


def described(doc: str, **properties: Json) -> Json:
    """Schema of an answer whose fields are all there."""
    return {"type": "object", "description": doc, "required": sorted(properties), "properties": properties}


def _address(value: str) -> str:
    try:
        validate_email(value)
    except ValidationError:
        raise PydanticCustomError("email", "An e-mail address is expected.") from None
    return value.lower()


class RoleInput(BaseModel):
    """The role a member is to have."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    role: Role


class InvitationInput(BaseModel):
    """Whom to invite as what: with an address by mail, without one by a code to show in the room."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    uid: Uid | None = Field(default=None, description=WHY_UID)
    role: Role
    email: Annotated[Line, StringConstraints(max_length=254), AfterValidator(_address)] | None = None


class AcceptInput(BaseModel):
    """The token of a mailed link, or the code shown in the room: one of them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    token: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    code: Annotated[str, Field(min_length=1, max_length=32)] | None = None

    @model_validator(mode="after")
    def _one_of_them(self) -> "AcceptInput":
        if (self.token is None) == (self.code is None):
            raise PydanticCustomError("one_of", "Send the token or the code.")
        return self


class PageQuery(BaseModel):
    """Which page of a list."""

    cursor: str | None = Field(default=None, description="`next` of the page before.")
    limit: int = Field(default=50, ge=1, le=200)


class IdentityView(KennelView):
    """Base of the views of one identity type: pages by signed cursor, items by uid, versions by If-Match.

    Administering is for keepers who are signed in themselves, or for a device that may `manage`.
    """

    type_name = ""
    write_role = Role.KEEPER

    @property
    def with_private(self) -> bool:
        """Whether this caller sees addresses and the like."""
        return self.actor.may(Role.KEEPER)

    def place(self, request: Any, **kwargs: Any) -> None:
        """As everywhere; writing here also needs the scope `manage`."""
        super().place(request, **kwargs)
        if request.method not in SAFE and Scope.MANAGE not in self.actor.scopes:
            raise Refusal("forbidden", "This needs a person who is signed in, or a token that may manage.")

    def least_role(self, reading: bool) -> Role:
        """Reading as the type says."""
        return SHAPES[self.type_name].read_role if reading else self.write_role

    def page(self, request: Any) -> HttpResponse:
        """A page of those that are there now, in the order they were made."""
        limit = page_limit(request.query_params)
        purpose = f"list:{self.type_name}"
        text = request.query_params.get("cursor")
        after = cursors.unseal(purpose, self.here.uid, text)[0] if text else 0
        page = selectors.identity_page(
            self.here.id,
            self.type_name,
            limit=limit,
            after=after,
            with_private=self.with_private,
            with_gone=False,
        )
        following = f'"{cursors.seal(purpose, self.here.uid, page.next_id)}"' if page.next_id else "null"
        answer = json_response(f'{{"results":[{",".join(page.rows)}],"next":{following}}}', store=False)
        if page.next_id:
            rest = request.query_params.copy()
            rest["cursor"] = following.strip('"')
            answer["Link"] = f'<{request.path}?{rest.urlencode()}>; rel="next"'
        return answer

    def row(self, uid: UUID) -> dict[str, Any]:
        """One as it is shown now.  Raises Refusal("not-found")."""
        page = selectors.identity_page(
            self.here.id, self.type_name, limit=1, uid=uid, with_private=self.with_private
        )
        if not page.rows:
            raise Refusal("not-found")
        found: dict[str, Any] = store.load(page.rows[0])
        return found

    def shown(self, uid: UUID, status: int = 200, *, replayed: bool = False, **more: Any) -> HttpResponse:
        """Answer with one row, and what else belongs to it."""
        row = self.row(uid)
        answer = json_response(dumps(row | more), status=status, etag=etag(row["version"]), store=False)
        if replayed:
            answer["Replayed"] = "true"
        elif status == 201:
            answer["Location"] = f"{self.request.path}/{uid}"
        return answer

    def accepted(self) -> frozenset[int] | None:
        """Versions named by If-Match."""
        return accepted_versions(self.request.META.get("HTTP_IF_MATCH"))

    def handle_exception(self, exc: Exception) -> Any:
        """Put the current row into a lost precondition, so that a client can merge."""
        if isinstance(exc, Refusal) and exc.slug == "version-mismatch":
            exc.extra.setdefault("current", self.row(parse_uid(self.kwargs.get("uid", str(self.here.uid)))))
        return super().handle_exception(exc)


MEMBER: Json = described(
    "A member; `email` is there for keepers only.",
    uid=UID,
    version={"type": "integer"},
    carer=UID,
    name=TEXT,
    role={"type": "string", "enum": Role.values},
    has_pin={"type": "boolean"},
    recorded_at=INSTANT,
    ended_at=MAYBE_INSTANT,
    deleted={"type": "boolean"},
)
MEMBER["properties"]["email"] = TEXT


class MemberList(IdentityView):
    """Who belongs to this kennel."""

    type_name = "membership"
    query_input = PageQuery
    answer_schema = page_of(MEMBER)

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of the members there are now."""
        return self.page(request)


class MemberItem(IdentityView):
    """One member."""

    type_name = "membership"
    body_input = patch_reference(RoleInput, "MemberPatch")
    answer_schema = {"GET": MEMBER, "PATCH": MEMBER, "DELETE": {}}
    answer_status = {"DELETE": 204}
    needs_if_match = ("PATCH", "DELETE")
    slugs = ("version-mismatch", "precondition-required", "validation")

    def least_role(self, reading: bool) -> Role:
        """Anybody may leave."""
        return Role.READER if self.request.method == "DELETE" else super().least_role(reading)

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The member as it is now, ended ones too (marked so)."""
        return self.shown(parse_uid(uid))

    def patch(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Give the member another role; the last keeper stays one."""
        identifier, accepted = parse_uid(uid), self.accepted()
        if request.data:  # an empty merge patch asks for nothing
            checked = service.check(RoleInput, request.data)
            with door.write(self.here, self.actor, self.at) as opened:
                members.member_change_role(identifier, checked.role, accepted, opened)
        return self.shown(identifier)

    def delete(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """End the membership, a keeper any, everybody their own; the last keeper cannot leave."""
        identifier, accepted = parse_uid(uid), self.accepted()
        if not self.actor.may(Role.KEEPER):
            membership = selectors.membership_by_uid(self.here.id, identifier)
            if membership is None:
                raise Refusal("not-found")
            if membership.carer_id != self.actor.carer_id:
                raise Refusal("forbidden", "Only a keeper ends somebody else's membership.")
        with door.write(self.here, self.actor, self.at) as opened:
            ended = members.member_end(identifier, accepted, opened)
        return HttpResponse(status=204, headers={"ETag": etag(ended.version)})


INVITATION: Json = described(
    "An invitation.",
    uid=UID,
    version={"type": "integer"},
    role={"type": "string", "enum": Role.values},
    kind={"type": "string", "enum": ["mail", "room"]},
    email=TEXT,
    invited_by=MAYBE_TEXT,
    recorded_at=INSTANT,
    expires_at=INSTANT,
    accepted_at=MAYBE_INSTANT,
    accepted_by=MAYBE_TEXT,
    withdrawn_at=MAYBE_INSTANT,
    deleted={"type": "boolean"},
)
INVITED: Json = {
    **INVITATION,
    "description": "An invitation as it was made; code, address and QR are there for the room alone.",
    "properties": {**INVITATION["properties"], "code": MAYBE_TEXT, "url": MAYBE_TEXT, "qr_svg": MAYBE_TEXT},
}


class InvitationList(IdentityView):
    """Invitations of this kennel."""

    type_name = "invitation"
    query_input = PageQuery
    body_input = InvitationInput
    answer_schema = {"GET": page_of(INVITATION), "POST": INVITED}
    answer_status = {"POST": 201}
    also_status = {"POST": (200,)}
    slugs = ("uid-conflict",)

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of invitations that were not withdrawn."""
        return self.page(request)

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Invite somebody: by mail, or with a code for the room that lasts an hour."""
        checked = service.check(InvitationInput, request.data)
        uid = checked.uid or new_uid()
        new = invitations.NewInvitation(role=checked.role, email=checked.email or "", uid=uid)
        with door.write(self.here, self.actor, self.at) as opened:
            made = invitations.invitation_create(new, opened, sends_mail=settings.MAIL_CONFIGURED)
        url = settings.ORIGIN + reverse("web:join", kwargs={"secret": made.code}) if made.code else None
        return self.shown(
            uid,
            200 if made.replayed else 201,
            replayed=made.replayed,
            code=made.code,
            url=url,
            qr_svg=qr_svg(url) if url else None,
        )


class InvitationItem(IdentityView):
    """One invitation."""

    type_name = "invitation"
    answer_schema = {"GET": INVITATION, "DELETE": {}}
    answer_status = {"DELETE": 204}
    needs_if_match = ("DELETE",)
    slugs = ("version-mismatch", "precondition-required", "validation")

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The invitation as it is now."""
        return self.shown(parse_uid(uid))

    def delete(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Withdraw the invitation: its link or code is dead at once."""
        with door.write(self.here, self.actor, self.at) as opened:
            withdrawn = invitations.invitation_withdraw(parse_uid(uid), self.accepted(), opened)
        return HttpResponse(status=204, headers={"ETag": etag(withdrawn.version)})


class InvitationAccept(AuthenticatedView):
    """Joining a kennel."""

    body_input = AcceptInput
    answer_schema = described(
        "The kennel joined and the membership there.",
        kennel=described("The kennel.", uid=UID, name=TEXT, zone=TEXT),
        member=UID,
        role={"type": "string", "enum": Role.values},
    )

    def post(self, request: Any) -> HttpResponse:
        """Accept an invitation with its token or code; accepting again is harmless."""
        if not isinstance(request.user, Carer) or request.user.turn:
            raise Refusal("forbidden", "Somebody who is signed in accepts an invitation, not a device.")
        checked = service.check(AcceptInput, request.data)
        for subject in (f"carer:{request.user.pk}", network_of(client_address(request._request))):
            if (wait_s := limits.take(limits.INVITATION, subject, self.at)) is not None:
                raise Refusal("quota-exceeded", extra={"retry_after_s": wait_s})
        joined = invitations.invitation_accept(
            checked.token or checked.code, request.user, self.at, request_id=request._request.request_id
        )
        here = joined.kennel
        body = {
            "kennel": {"uid": here.uid, "name": here.name, "zone": here.zone},
            "member": joined.membership.uid,
            "role": joined.membership.role,
        }
        return json_response(dumps(body), store=False)

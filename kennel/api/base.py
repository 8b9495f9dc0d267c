"""The base of every view under /api/v1/kennels/{kennel}/: who asks, which kennel, what the role allows."""

from typing import Any, ClassVar, TypeVar
from uuid import UUID

from django.http import HttpResponse
from django.utils import timezone
from pydantic import BaseModel
from rest_framework.views import APIView

from kennel.api import problems, quotas
from kennel.api.preconditions import device_skew_s, parse_uid
from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer
from kennel.records import service
from kennel.records.door import Actor, KennelHere
from kennel.records.refusals import Refusal

Model = TypeVar("Model", bound=BaseModel)
SAFE = {"GET", "HEAD", "OPTIONS"}


class AuthenticatedView(APIView):
    """A view for somebody signed in.  Counts the request against the caller's quota."""

    quota: quotas.Quota | None = None

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        """Authenticate, place, count."""
        self.at = timezone.now()
        if request.user is None:
            raise Refusal("unauthenticated")
        self.place(request, **kwargs)
        self.quota = quotas.count(self.principal_key(request), self.units(request))
        if self.quota and self.quota.is_exceeded and not self.may_exceed(request):
            raise self.over_quota()

    def over_quota(self) -> Refusal:
        """The refusal for a caller who asks too much."""
        assert self.quota is not None
        return Refusal("quota-exceeded", extra={"retry_after_s": self.quota.resets_in_s})

    def place(self, request: Any, **kwargs: Any) -> None:
        """Find the kennel; nothing to find here."""

    def units(self, request: Any) -> int:
        """What this request costs."""
        return 1

    def may_exceed(self, request: Any) -> bool:
        """Whether the view itself decides (a replay is answered even over the quota)."""
        return False

    def principal_key(self, request: Any) -> str:
        """Whose quota counts."""
        if isinstance(request.user, Carer):
            return f"carer:{request.user.pk}"
        return f"device:{request.user.actor.device_id}"

    def finalize_response(self, request: Any, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Add the quota headers (draft-ietf-httpapi-ratelimit-headers)."""
        response = super().finalize_response(request, response, *args, **kwargs)
        if self.quota:
            response["RateLimit-Policy"] = f'"caller";q={self.quota.limit};w={quotas.WINDOW_S}'
            left = max(0, self.quota.limit - self.quota.used)
            response["RateLimit"] = f'"caller";r={left};t={self.quota.resets_in_s}'
        return response


class KennelView(AuthenticatedView):
    """A view inside one kennel; `read_role` and `write_role` are the least roles for reading and writing."""

    read_role: ClassVar[Role] = Role.READER
    write_role: ClassVar[Role] = Role.CARER
    here: KennelHere
    actor: Actor

    def place(self, request: Any, **kwargs: Any) -> None:
        """Resolve the kennel of the path among those of the caller, then check role and scope."""
        uid = parse_uid(kwargs["kennel"])
        found = self._find(request.user, uid)
        if found is None:
            raise Refusal("not-found")
        self.here, actor = found
        skew = device_skew_s(request.META.get("HTTP_DEVICE_TIME"), self.at)
        self.actor = actor.at_request(request._request.request_id, skew)
        reading = request.method in SAFE
        if not self.actor.may(self.least_role(reading)):
            raise Refusal("forbidden", "Your role in this kennel does not allow that.")
        if ("read" if reading else "write") not in self.actor.scopes:
            raise Refusal("forbidden", "This token's scope does not allow that.")

    def least_role(self, reading: bool) -> Role:
        """Least role for reading or writing here."""
        return self.read_role if reading else self.write_role

    @staticmethod
    def _find(user: Any, uid: UUID) -> tuple[KennelHere, Actor] | None:
        if isinstance(user, selectors.DevicePrincipal):
            return (user.kennel, user.actor) if user.kennel.uid == uid else None
        return selectors.place_of(user, uid)

    def query(self, model: type[Model]) -> Model:
        """The query of the request, checked.  Raises Refusal("validation") that names every bad parameter."""
        checked: Model = service.check(model, dict(self.request.query_params.items()))
        return checked

    def refuse(self, refusal: Refusal) -> HttpResponse:
        """The answer for a refusal that is a result, not an exception."""
        return problems.response(refusal, self.request._request)

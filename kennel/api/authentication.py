"""Who is asking: a device by bearer token, or a carer by session (then with a CSRF token for writes)."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication

from kennel.people import selectors
from kennel.records.refusals import Refusal


class DeviceTokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer kn_dev_...`"""

    def authenticate(self, request: Any) -> tuple[Any, Any] | None:
        """The device behind the token; None without one.  Raises Refusal for a bad one."""
        header = request.META.get("HTTP_AUTHORIZATION", "")
        if not header:
            return None
        scheme, _, token = header.partition(" ")
        if scheme.lower() != "bearer":
            raise Refusal("unauthenticated", "Only bearer tokens are accepted.")
        principal = selectors.device_by_token(token.strip(), timezone.now())
        if principal is None:
            raise Refusal("unauthenticated", "The token is not known, has expired or was revoked.")
        return principal, principal

    def authenticate_header(self, request: Any) -> str:
        """Value of WWW-Authenticate."""
        return "Bearer"


class _CsrfCheck(CsrfViewMiddleware):
    def _reject(self, request: HttpRequest, reason: str) -> Any:
        return reason


class CarerSessionAuthentication(BaseAuthentication):
    """The session of a signed-in carer."""

    def authenticate(self, request: Any) -> tuple[Any, Any] | None:
        """The carer of the session; None when nobody is signed in.  Raises Refusal without a CSRF token."""
        carer = getattr(request._request, "user", None)
        if carer is None or not carer.is_authenticated:
            return None
        check = _CsrfCheck(_nothing)
        check.process_request(request._request)
        if check.process_view(request._request, _nothing, (), {}):
            raise Refusal("forbidden", "The CSRF token is missing or wrong.")
        return carer, None

    def authenticate_header(self, request: Any) -> str:
        """Value of WWW-Authenticate."""
        return "Bearer"


def _nothing(request: HttpRequest) -> HttpResponse:
    return HttpResponse()

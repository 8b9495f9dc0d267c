"""RFC 9457 problem documents for every error under /api, and the mapping of refusals and exceptions to them."""

import random
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import structlog
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from rest_framework import exceptions

from kennel.api.rendering import dumps
from kennel.records.refusals import Refusal

log = structlog.get_logger(__name__)


@dataclass(frozen=True)
class Slug:
    """Status, title and what sending again would do: "same", "never" or "after_change"."""

    status: int
    title: str
    retry: str


SLUGS: dict[str, Slug] = {
    "malformed": Slug(400, "The request cannot be read", "never"),
    "unauthenticated": Slug(401, "Sign in or send a device token", "after_change"),
    "forbidden": Slug(403, "Your role or this token does not allow that", "never"),
    "not-found": Slug(404, "Nothing here", "never"),
    "method-not-allowed": Slug(405, "This method does not exist here", "never"),
    "not-acceptable": Slug(406, "Only JSON is answered here", "never"),
    "uid-conflict": Slug(409, "This uid is taken by other content", "never"),
    "parent-missing": Slug(409, "A record this one refers to is not here yet", "same"),
    "cursor-expired": Slug(410, "This cursor has ended; take a snapshot", "after_change"),
    "erased": Slug(410, "This record was erased", "never"),
    "version-mismatch": Slug(412, "Somebody changed this meanwhile", "after_change"),
    "too-large": Slug(413, "The request is too large", "never"),
    "unsupported-media": Slug(415, "This content type is not accepted", "never"),
    "validation": Slug(422, "Some values are not acceptable", "after_change"),
    "precondition-required": Slug(428, "Say which version you change (If-Match)", "after_change"),
    "quota-exceeded": Slug(429, "Too many requests for the moment", "same"),
    "internal": Slug(500, "Something broke on our side; nothing was stored", "same"),
    "unavailable": Slug(503, "The server is busy or its database is away", "same"),
}
_OF_STATUS = {
    400: "malformed",
    401: "unauthenticated",
    403: "forbidden",
    404: "not-found",
    405: "method-not-allowed",
    406: "not-acceptable",
    413: "too-large",
    415: "unsupported-media",
    503: "unavailable",
}


def document(refusal: Refusal, request_id: UUID | None) -> dict[str, Any]:
    """The problem document of a refusal."""
    slug = SLUGS[refusal.slug]
    body: dict[str, Any] = {
        "type": f"/problems/{refusal.slug}",
        "title": slug.title,
        "status": slug.status,
        "detail": refusal.detail or (refusal.errors[0].detail if refusal.errors else slug.title + "."),
        "instance": f"urn:uuid:{request_id}",
        "retry": slug.retry,
    }
    if refusal.errors:
        body["errors"] = [
            {"pointer": e.pointer, "code": e.code, "detail": e.detail} for e in refusal.errors[:50]
        ]
    return body | refusal.extra


def response(refusal: Refusal, request: HttpRequest) -> HttpResponse:
    """HTTP answer for a refusal."""
    slug = SLUGS[refusal.slug]
    body = document(refusal, getattr(request, "request_id", None))
    answer = HttpResponse(dumps(body), status=slug.status, content_type="application/problem+json")
    answer["Cache-Control"] = "no-store"
    if slug.status == 401:
        answer["WWW-Authenticate"] = "Bearer"
    if slug.status in (429, 503):
        answer["Retry-After"] = str(refusal.extra.get("retry_after_s", random.randint(1, 4)))
    return answer


def refusal_of(error: Exception) -> Refusal | None:
    """The refusal an exception stands for, or None when it is our bug."""
    if isinstance(error, Refusal):
        return error
    if isinstance(error, Http404 | exceptions.NotFound):
        return Refusal("not-found")
    if isinstance(error, RequestDataTooBig):
        return Refusal("too-large")
    if isinstance(error, PermissionDenied):
        return Refusal("forbidden")
    if isinstance(error, OperationalError | InterfaceError):
        return Refusal("unavailable")
    if isinstance(error, exceptions.APIException):
        return Refusal(_OF_STATUS.get(error.status_code, "malformed"), str(error.detail))
    return None


def problem_for_exception(error: Exception, context: dict[str, Any]) -> HttpResponse | None:
    """REST framework's exception handler."""
    request = context["request"]._request
    refusal = refusal_of(error)
    if refusal is None:
        log.exception("internal error", path=request.path)
        refusal = Refusal("internal")
    elif refusal.slug == "unavailable":
        log.warning("unavailable", error=type(error).__name__)
    return response(refusal, request)


def for_status(status: int, request: HttpRequest) -> HttpResponse:
    """The problem for an answer that something before the views gave."""
    slug = _OF_STATUS.get(status, "internal" if status >= 500 else "malformed")
    return response(Refusal(slug), request)

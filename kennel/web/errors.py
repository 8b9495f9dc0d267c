"""Error pages in plain words, each saying whether trying again helps."""

import random
import sys
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import REASON_BAD_ORIGIN
from django.shortcuts import render
from django.template import loader

from kennel.records.refusals import Refusal

_PAGE_OF_SLUG = {
    "malformed": 400,
    "validation": 400,
    "too-large": 413,
    "unavailable": 503,
    "quota-exceeded": 503,
}


def page_of(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """The page for a refusal that no form can show.  Raises Http404 or PermissionDenied."""
    if refusal.slug in ("not-found", "erased"):
        raise Http404
    if refusal.slug == "forbidden":
        raise PermissionDenied(refusal.detail)
    status = _PAGE_OF_SLUG.get(refusal.slug, 400)
    answer = _page(request, status, {"detail": refusal.detail})
    if status == 503:
        answer.headers["Retry-After"] = str(random.randint(1, 4))
    return answer


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Handler of 400."""
    return _page(request, 400)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Handler of 403."""
    return _page(request, 403)


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Handler of a form whose protection does not fit any more: somebody signed in since it was opened.

    What was typed into a record's form can be sent once more by a press, if the browser itself vouches (`Origin`)
    that it came from a page of ours.  Other forms may hold secrets, which are not shown back.
    """
    origin = request.headers.get("Origin")
    is_ours = origin is not None and reason != REASON_BAD_ORIGIN % origin
    values: dict[str, Any] = {}
    if is_ours and request.user.is_authenticated and "uid" in request.POST and not request.FILES:
        names = (name for name in request.POST if name != "csrfmiddlewaretoken")
        values["fields"] = [(name, value) for name in names for value in request.POST.getlist(name)]
    return _page(request, 403, values, "403_csrf.html")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Handler of 404; the same for what is absent and what belongs to somebody else."""
    return _page(request, 404)


def too_large(request: HttpRequest) -> HttpResponse:
    """An upload over the limit."""
    return _page(request, 413)


def broken(request: HttpRequest) -> HttpResponse:
    """Handler of 500: stands on its own, because the frame itself may be what broke.

    A database that is away before any page began (sessions are read from it) is not our bug: 503.
    """
    is_database_away = isinstance(sys.exc_info()[1], OperationalError | InterfaceError)
    status = 503 if is_database_away else 500
    answer = HttpResponse(
        loader.get_template("500.html").render({"is_busy": is_database_away}), status=status
    )
    if is_database_away:
        answer.headers["Retry-After"] = str(random.randint(1, 4))
    return answer


def _page(
    request: HttpRequest, status: int, values: dict[str, Any] | None = None, template: str = ""
) -> HttpResponse:
    answer = render(request, template or f"{status}.html", values, status=status)
    answer.headers["Cache-Control"] = "no-store"
    return answer

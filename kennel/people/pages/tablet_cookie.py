"""The cookie by which the browser of a shared tablet shows which device it is."""

from datetime import datetime, timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from kennel.people import selectors
from kennel.people.choices import DeviceKind
from kennel.people.selectors import DevicePrincipal

NAME = "__Host-tablet" if settings.IS_HTTPS else "tablet"


def remember_tablet(answer: HttpResponse, token: str, life: timedelta) -> None:
    """Let the browser keep the device's token where no script can read it."""
    answer.set_cookie(
        NAME, token, max_age=life, secure=settings.IS_HTTPS, httponly=True, samesite="Strict", path="/"
    )


def tablet_of(request: HttpRequest, at: datetime) -> DevicePrincipal | None:
    """The shared tablet this browser is, or None: never paired, revoked, or its time is over."""
    token = request.COOKIES.get(NAME)
    found = selectors.device_by_token(token, at) if token and token.startswith("kn_dev_") else None
    return found if found is not None and found.kind == DeviceKind.TABLET else None

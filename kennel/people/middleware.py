"""Sessions that a member opened at a shared tablet by name and PIN; the cookie that protects forms."""

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from kennel.people import selectors
from kennel.people.models import Carer

Handler = Callable[[HttpRequest], HttpResponse]
SESSION_KEY = "tablet_turn"
_LEAVING = ("/accounts/logout/", "/static/")


def tablet_turns(get_response: Handler) -> Handler:
    """Let such a session act only while its turn runs, as that member at that tablet, never on the account.

    The turn ends 15 minutes after the last request, with the tablet, with the membership and with a new PIN.
    """

    def handle(request: HttpRequest) -> HttpResponse:
        token = request.session.get(SESSION_KEY)
        if token is None:
            return get_response(request)
        turn, carer = selectors.turn_by_token(token, timezone.now()), request.user
        if turn is None or not isinstance(carer, Carer) or turn.carer_id != carer.pk:
            logout(request)
            if request.path.startswith("/api/"):
                return get_response(request)
            return HttpResponseRedirect(reverse("web:tablet"))
        if request.path.startswith("/accounts/") and not request.path.startswith(_LEAVING):
            return HttpResponseRedirect(reverse("web:tablet"))
        carer.turn = turn
        return get_response(request)

    return handle


def settled_csrf_cookie(get_response: Handler) -> Handler:
    """Send the CSRF cookie when it changes, not with every page.

    Django renews it with each form.  An answer that was under way while somebody signed in (the service worker
    fetches its copies then) would put the cookie of before back, and the form on the screen would be refused.
    The cookie lasts a year and is new with every sign-in, a sign-in lasts 60 days: it never runs out in between.
    """

    def handle(request: HttpRequest) -> HttpResponse:
        answer = get_response(request)
        if request.META.get("CSRF_COOKIE") == request.COOKIES.get(settings.CSRF_COOKIE_NAME):
            request.META["CSRF_COOKIE_NEEDS_UPDATE"] = False
        return answer

    return handle

"""The content security policy of pages."""

from collections.abc import Callable
from typing import cast

from csp.middleware import CSPMiddleware
from django.http import HttpRequest
from django.http.response import HttpResponseBase

Handler = Callable[[HttpRequest], HttpResponseBase]


def page_policy(get_response: Handler) -> Handler:
    """Send the policy with everything but the API: that is JSON with nosniff, and nothing there is ever rendered.

    The library's own list of excluded paths comes after building the policy, which is a twentieth of a request.
    """
    with_policy = cast(Handler, CSPMiddleware(get_response))

    def handle(request: HttpRequest) -> HttpResponseBase:
        chosen = get_response if request.path_info.startswith("/api/") else with_policy
        return chosen(request)

    return handle

"""The kennel's first page, and the whole menu."""

from typing import Any

from django.http import HttpRequest, HttpResponse

from kennel.records import door
from kennel.web.base import KennelPage
from kennel.web.home import panels


class HomePage(KennelPage):
    """What matters now, put together by the apps."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Panels in their order, all read inside one door."""
        with door.read(self.here, self.actor, self.at) as opened:
            found = panels(self, opened)
        return self.page("web/home.html", {"panels": found})


class MenuPage(KennelPage):
    """Everything this carer may open here."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, **kwargs: Any) -> HttpResponse:
        """The menu as a list."""
        return self.page("web/menu.html")

"""The base of every page inside a kennel: somebody signed in, their place there, their role."""

from datetime import datetime
from typing import Any, ClassVar
from uuid import UUID

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views import View

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.models import Carer
from kennel.records.door import Actor, KennelHere
from kennel.records.refusals import Refusal
from kennel.web import errors

SAFE = {"GET", "HEAD", "OPTIONS"}


class SignedInPage(View):
    """A page for somebody signed in.  Its methods find `self.carer` and the one instant `self.at`.

    keep_offline: the service worker keeps a copy of the page, so that it opens without network.
    """

    keep_offline: ClassVar[bool] = False
    carer: Carer
    at: datetime

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Sign-in first, then place and role, then the method.  A refusal becomes its error page."""
        try:
            if not isinstance(request.user, Carer):
                return redirect_to_login(request.get_full_path())
            self.carer = request.user
            self.at = timezone.now()
            self.place(request, **kwargs)
            answer = super().dispatch(request, *args, **kwargs)
        except Refusal as refusal:
            return errors.page_of(request, refusal)
        except (OperationalError, InterfaceError):
            return errors.page_of(request, Refusal("unavailable"))
        answer.headers.setdefault("Cache-Control", "private, no-cache")
        if self.keep_offline and answer.status_code == 200:
            answer.headers["Offline-Copy"] = "yes"
        return answer

    def place(self, request: HttpRequest, **kwargs: Any) -> None:
        """Find the kennel; nothing to find here."""

    def page(self, template: str, values: dict[str, Any] | None = None, status: int = 200) -> HttpResponse:
        """The rendered template; it also knows `carer` and `at`."""
        shown = {"carer": self.carer, "at": self.at, **(values or {})}
        return render(self.request, template, shown, status=status)


class KennelPage(SignedInPage):
    """A page inside one kennel, which is a 404 for everybody who does not belong to it.

    Its methods find `self.here` and `self.actor`.  `least_role` is needed to look, `write_role` to send.
    """

    least_role: ClassVar[Role] = Role.READER
    write_role: ClassVar[Role] = Role.CARER
    here: KennelHere
    actor: Actor

    def place(self, request: HttpRequest, **kwargs: Any) -> None:
        """The kennel of the path among those of the carer, then the role."""
        found = selectors.place_of(self.carer, uid_or_404(kwargs["kennel"]))
        if found is None:
            raise Http404
        self.here, actor = found
        self.actor = actor.at_request(request.request_id, None)  # type: ignore[attr-defined]
        request.kennel_page = self  # type: ignore[attr-defined]
        if not self.actor.may(self.least_role if request.method in SAFE else self.write_role):
            raise PermissionDenied


def uid_or_404(text: str) -> UUID:
    """A uid of the path.  Raises Http404 for anything else."""
    try:
        return UUID(text if len(text) == 36 else "")
    except ValueError:
        raise Http404 from None

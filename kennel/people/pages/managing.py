"""The base of pages that change who may act and how."""

from typing import Any

from django.http import HttpRequest

from kennel.people.choices import Scope
from kennel.records.refusals import Refusal
from kennel.web.base import SAFE, KennelPage


class ManagingPage(KennelPage):
    """A page that only somebody signed in as themselves may send: a PIN at the shared tablet will not do."""

    def place(self, request: HttpRequest, **kwargs: Any) -> None:
        """The kennel and the role as everywhere, then the scope."""
        super().place(request, **kwargs)
        if request.method not in SAFE and Scope.MANAGE not in self.actor.scopes:
            raise Refusal("forbidden")

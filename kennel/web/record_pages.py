"""Bases of the pages that add or change one record: a subclass names fields, titles and where to go next."""

from collections.abc import Mapping
from typing import Any, ClassVar
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from kennel.people.choices import Role
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm, save_changes, save_new


class _FormPage(KennelPage):
    least_role = Role.CARER
    template: ClassVar[str] = "web/form.html"
    submit: ClassVar[str] = "Save"
    caution: ClassVar[str] = ""

    def form(self) -> RecordForm:
        """The form as it is opened; reads through the door."""
        raise NotImplementedError

    def title(self) -> str:
        """Title and heading of the page."""
        raise NotImplementedError

    def cancel_url(self) -> str:
        """Where somebody goes who does not save."""
        raise NotImplementedError

    def saved_url(self, uid: UUID) -> str:
        """Where the carer goes on after saving."""
        raise NotImplementedError

    def more(self) -> dict[str, Any]:
        """Further values for the template."""
        return {}

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """The form."""
        return self.show(self.form())

    def show(self, form: RecordForm, status: int = 200) -> HttpResponse:
        """The page with the form as it stands."""
        values = {
            "title": self.title(),
            "form": form,
            "submit": self.submit,
            "caution": self.caution,
            "cancel_url": self.cancel_url(),
            **self.more(),
        }
        return self.page(self.template, values, status)


class NewRecordPage(_FormPage):
    """Adding a record."""

    def extra(self) -> dict[str, Any]:
        """Data that no field of the form holds."""
        return {}

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store it, or say beside the fields what is wrong."""
        form = self.form()
        return self.store(form, form.read(request.POST) | self.extra())

    def store(self, form: RecordForm, data: Mapping[str, Any]) -> HttpResponse:
        """Store what was read and go on, or show the form with what is wrong."""
        uid = save_new(self, form, data)
        if uid is None:
            return self.show(form, 422)
        messages.success(self.request, "Saved.")
        return redirect(self.saved_url(uid))


class ChangeRecordPage(_FormPage):
    """Changing the record named by `uid` of the path."""

    @property
    def uid(self) -> UUID:
        """The record's uid.  Raises Http404 for anything else."""
        return uid_or_404(self.kwargs["uid"])

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store the change; what somebody else changed meanwhile is shown, not overwritten."""
        form = self.form()
        if not save_changes(self, form, form.read_changes(request.POST)):
            return self.show(form, 422)
        messages.success(request, "Saved.")
        return redirect(self.saved_url(self.uid))

"""What is agreed in a kennel: name, zone, units, place, vets."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from kennel.api.kennels import KennelSettings
from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.page_forms import KennelForm, put_refusal
from kennel.people.pages.managing import ManagingPage
from kennel.people.pages.members import CHANGED_MEANWHILE
from kennel.people.services.kennels import kennel_change
from kennel.records import door, service
from kennel.records.refusals import Refusal


class SettingsPage(ManagingPage):
    """The kennel's settings."""

    least_role = write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The form."""
        row = selectors.kennel_row(self.here.id)
        return self._show(KennelForm(instance=row, initial={"version": row.version}))

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Store it, unless somebody else changed it meanwhile."""
        form = KennelForm(request.POST, instance=selectors.kennel_row(self.here.id))
        if not form.is_valid():
            return self._show(form, 422)
        typed = {name: form.cleaned_data[name] for name in form.Meta.fields}
        try:
            checked = service.check(KennelSettings, typed)
            with door.write(self.here, self.actor, self.at) as opened:
                kennel_change(checked.model_dump(), frozenset({form.cleaned_data["version"]}), opened)
        except Refusal as refusal:
            if refusal.slug == "version-mismatch":
                messages.error(request, CHANGED_MEANWHILE)
                return redirect("web:settings", self.here.uid)
            put_refusal(form, refusal)
            return self._show(form, 422)
        messages.success(request, "Stored.")
        return redirect("web:settings", self.here.uid)

    def _show(self, form: KennelForm, status: int = 200) -> HttpResponse:
        return self.page("people/settings.html", {"form": form}, status)

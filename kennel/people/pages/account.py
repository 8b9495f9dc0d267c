"""The own account: what a carer says about themselves, ways to sign in, where they are signed in."""

from allauth.mfa.models import Authenticator
from allauth.usersessions.internal.flows.sessions import end_sessions
from allauth.usersessions.models import UserSession
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from kennel.people.page_forms import AccountForm
from kennel.records.refusals import Refusal
from kennel.web.base import SignedInPage


class OwnPage(SignedInPage):
    """A page about the account itself: not for a session opened at a shared tablet by PIN."""

    def place(self, request: HttpRequest, **kwargs: object) -> None:
        """A PIN opens the kennel, never the account."""
        if self.carer.turn is not None:
            raise Refusal("forbidden")


class AccountPage(OwnPage):
    """Name, zone, units, quiet hours; ways to sign in."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form and the ways to sign in."""
        return self._show(AccountForm(instance=self.carer))

    def post(self, request: HttpRequest) -> HttpResponse:
        """Store what was said."""
        form = AccountForm(request.POST, instance=self.carer)
        if not form.is_valid():
            return self._show(form, 422)
        self.carer.save(update_fields=list(form.Meta.fields))
        messages.success(request, "Stored.")
        return redirect("web:account")

    def _show(self, form: AccountForm, status: int = 200) -> HttpResponse:
        kinds = list(Authenticator.objects.filter(user_id=self.carer.pk).values_list("type", flat=True))
        values = {
            "form": form,
            "passkeys": kinds.count(Authenticator.Type.WEBAUTHN),
            "has_totp": Authenticator.Type.TOTP in kinds,
            "has_recovery_codes": Authenticator.Type.RECOVERY_CODES in kinds,
        }
        return self.page("people/account.html", values, status)


class SessionsPage(OwnPage):
    """Where the carer is signed in."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """Every session that still lives, newest first."""
        found = UserSession.objects.purge_and_list(self.carer)
        found.sort(key=lambda session: session.created_at, reverse=True)
        return self.page("people/sessions.html", {"sessions": found})

    def post(self, request: HttpRequest) -> HttpResponse:
        """End one session, or all but this one: they are dead from their next request on."""
        sessions = [s for s in UserSession.objects.filter(user=self.carer) if not s.is_current()]
        if (chosen := request.POST.get("session")) is not None:
            sessions = [s for s in sessions if str(s.pk) == chosen]
        end_sessions(request, sessions)
        messages.success(request, f"Ended: {len(sessions)}." if sessions else "There was nothing to end.")
        return redirect("web:sessions")

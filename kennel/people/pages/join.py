"""Joining a kennel with an invitation, from a link, a QR or a typed code."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views import View

from kennel.people import limits, selectors
from kennel.people.adapters import INVITED_KEY, AccountAdapter
from kennel.people.addresses import client_address, network_of
from kennel.people.models import Carer, Invitation
from kennel.people.page_forms import CodeForm
from kennel.people.services.invitations import NOT_FOUND, invitation_accept
from kennel.records.refusals import Refusal


class JoinPage(View):
    """`join/<secret>`: who invites to what, then sign in or make an account, then join."""

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        """Count the look-up against the address before anything is looked up."""
        self.at = timezone.now()
        address = network_of(client_address(request))
        if limits.take(limits.INVITATION, address, self.at) is not None:
            return render(request, "429.html", status=429)
        answer = super().dispatch(request, *args, **kwargs)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    def get(self, request: HttpRequest, secret: str) -> HttpResponse:
        """What the invitation says.  Only a look: nothing is used up."""
        invitation = selectors.invitation_by_secret(secret, self.at)
        if invitation is None or invitation.accepted_at is not None:
            return self._refused(request, invitation)
        if not request.user.is_authenticated:
            request.session[INVITED_KEY] = True
            if invitation.email:
                # The link came by mail: sign-up then takes the address as verified.
                AccountAdapter().stash_verified_email(request, invitation.email)
        values = {"invitation": invitation, "kennel": invitation.kennel, "next": request.path}
        return render(request, "people/join.html", values)

    def post(self, request: HttpRequest, secret: str) -> HttpResponse:
        """Join.  Pressing twice is harmless."""
        if not isinstance(request.user, Carer) or request.user.turn:
            return redirect(f"{reverse('account_login')}?next={request.path}")
        try:
            joined = invitation_accept(
                secret,
                request.user,
                self.at,
                request_id=request.request_id,  # type: ignore[attr-defined]  # set by our middleware
            )
        except Refusal as refusal:
            if refusal.slug not in ("not-found", "forbidden"):
                raise
            return render(request, "people/join_refused.html", {"reason": refusal.detail}, status=404)
        welcome = "You are a member already." if joined.was_member else f"Welcome to {joined.kennel.name}."
        messages.success(request, welcome)
        return redirect("web:home", joined.kennel.uid)

    @staticmethod
    def _refused(request: HttpRequest, invitation: Invitation | None) -> HttpResponse:
        if invitation is not None and invitation.accepted_by_id == request.user.pk:
            return redirect("web:home", invitation.kennel.uid)
        return render(request, "people/join_refused.html", {"reason": NOT_FOUND}, status=404)


class CodePage(View):
    """`join`: for a code that was read aloud instead of scanned."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form."""
        return render(request, "people/join_code.html", {"form": CodeForm()})

    def post(self, request: HttpRequest) -> HttpResponse:
        """On to the invitation of the code."""
        form = CodeForm(request.POST)
        if not form.is_valid() or "/" in form.cleaned_data["code"]:
            return render(request, "people/join_code.html", {"form": form}, status=422)
        return redirect("web:join", form.cleaned_data["code"])

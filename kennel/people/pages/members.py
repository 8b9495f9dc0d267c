"""Members, and the invitations that bring new ones."""

from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.page_forms import InvitationForm, put_refusal
from kennel.people.pages.managing import ManagingPage
from kennel.people.qr import qr_svg
from kennel.people.services import invitations, members
from kennel.records import door
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404


class MembersPage(KennelPage):
    """Who belongs here, and which invitations are open."""

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list; a keeper can change it."""
        is_keeper = self.actor.may(Role.KEEPER)
        values = {
            "members": selectors.members_of(self.here.id),
            "invitations": selectors.open_invitations_of(self.here.id, self.at) if is_keeper else [],
            "roles": Role.choices,
        }
        return self.page("people/members.html", values)


class MemberPage(ManagingPage):
    """What can be done to one membership."""

    write_role = Role.READER  # everybody may leave

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Change the role, or end the membership."""
        membership = selectors.membership_by_uid(self.here.id, uid_or_404(uid))
        if membership is None:
            raise Http404
        action, is_own = request.POST.get("action"), membership.carer_id == self.actor.carer_id
        if not self.actor.may(Role.KEEPER) and not (is_own and action == "end"):
            raise Refusal("forbidden")
        accepted = frozenset({_number(request.POST.get("version", ""))})
        try:
            self._do(action, membership.uid, accepted, request)
        except Refusal as refusal:
            if refusal.slug not in ("validation", "version-mismatch"):
                raise
            messages.error(request, refusal.errors[0].detail if refusal.errors else CHANGED_MEANWHILE)
            return redirect("web:members", self.here.uid)
        if action == "end" and is_own:
            messages.success(request, f"You have left {self.here.name}.")
            return redirect("web:kennels")
        messages.success(request, "Changed.")
        return redirect("web:members", self.here.uid)

    def _do(self, action: str | None, uid: UUID, accepted: frozenset[int], request: HttpRequest) -> None:
        with door.write(self.here, self.actor, self.at) as opened:
            if action == "end":
                members.member_end(uid, accepted, opened)
            elif action == "role" and request.POST.get("role") in Role.values:
                members.member_change_role(uid, Role(request.POST["role"]), accepted, opened)
            else:
                raise Refusal("malformed")


CHANGED_MEANWHILE = "Somebody changed this meanwhile. Please look again."


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


class InvitePage(ManagingPage):
    """Inviting somebody."""

    least_role = write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The form."""
        return self._show(InvitationForm(initial={"uid": new_uid()}))

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Make the invitation; pressing twice makes one."""
        form = InvitationForm(request.POST)
        if not form.is_valid():
            return self._show(form, 422)
        typed = form.cleaned_data
        new = invitations.NewInvitation(role=Role(typed["role"]), email=typed["email"], uid=typed["uid"])
        try:
            with door.write(self.here, self.actor, self.at) as opened:
                made = invitations.invitation_create(new, opened, sends_mail=settings.MAIL_CONFIGURED)
        except Refusal as refusal:
            put_refusal(form, refusal)
            return self._show(form, 422)
        return redirect("web:invitation", self.here.uid, made.invitation.uid)

    def _show(self, form: InvitationForm, status: int = 200) -> HttpResponse:
        if not settings.MAIL_CONFIGURED:
            del form.fields["email"]
        return self.page("people/invite.html", {"form": form, "sends_mail": settings.MAIL_CONFIGURED}, status)


class InvitationPage(ManagingPage):
    """One open invitation: its code to show, or where its letter went."""

    least_role = write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Code, QR and address for the room."""
        found = selectors.invitation_of(self.here.id, uid_or_404(uid))
        if found is None:
            raise Http404
        code = invitations.code_of(found, self.at)
        url = settings.ORIGIN + reverse("web:join", kwargs={"secret": code}) if code else ""
        values: dict[str, Any] = {
            "invitation": found,
            "code": code,
            "url": url,
            "qr": qr_svg(url) if url else "",
        }
        answer = self.page("people/invitation.html", values)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Withdraw it."""
        try:
            with door.write(self.here, self.actor, self.at) as opened:
                invitations.invitation_withdraw(uid_or_404(uid), None, opened)
        except Refusal as refusal:
            if refusal.slug != "validation":
                raise
            messages.error(request, refusal.errors[0].detail)
        else:
            messages.success(request, "Withdrawn: it opens nothing any more.")
        return redirect("web:members", self.here.uid)

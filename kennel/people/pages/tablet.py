"""The shared tablet: step up with name and PIN, step back, and the own PIN."""

from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views import View

from kennel.people import selectors
from kennel.people.choices import Role
from kennel.people.middleware import SESSION_KEY
from kennel.people.models import Carer, Membership
from kennel.people.page_forms import PinForm, StepUpForm, put_refusal
from kennel.people.pages.managing import ManagingPage
from kennel.people.pages.tablet_cookie import tablet_of
from kennel.people.selectors import DevicePrincipal
from kennel.people.services import tablets
from kennel.records import door
from kennel.records.refusals import Refusal

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


class TabletPage(View):
    """`tablet`: the names of those who have a PIN, then the PIN."""

    tablet: DevicePrincipal

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        """Only for a browser that was paired as a shared tablet."""
        self.at = timezone.now()
        found = tablet_of(request, self.at)
        if found is None:
            return render(request, "people/tablet_unpaired.html", status=404)
        self.tablet = found
        answer = super().dispatch(request, *args, **kwargs)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    def get(self, request: HttpRequest) -> HttpResponse:
        """Names, or the PIN pad of the one that was tapped."""
        turn = request.user.turn if isinstance(request.user, Carer) else None
        if turn is not None and "member" not in request.GET:
            return self._show(request, {"turn": turn})
        chosen = next((m for m in self._members() if str(m.uid) == request.GET.get("member")), None)
        if chosen is None:
            return self._show(request, {"members": self._members()})
        return self._show(request, {"form": StepUpForm(initial={"member": chosen.uid}), "chosen": chosen})

    def post(self, request: HttpRequest) -> HttpResponse:
        """Step up, or step back."""
        if request.POST.get("action") == "back":
            tablets.turn_end(self.tablet)
            logout(request)
            return redirect("web:tablet")
        form = StepUpForm(request.POST)
        if not form.is_valid():
            return self._show(request, {"members": self._members()}, 422)
        try:
            taken = tablets.turn_take(
                self.tablet, form.cleaned_data["member"], form.cleaned_data["pin"], self.at
            )
        except Refusal as refusal:
            if refusal.slug == "not-found":
                return redirect("web:tablet")
            put_refusal(form, refusal)
            chosen = next((m for m in self._members() if m.uid == form.cleaned_data["member"]), None)
            return self._show(request, {"form": form, "chosen": chosen}, 422)
        logout(request)
        login(request, taken.membership.carer, backend=BACKEND)
        request.session[SESSION_KEY] = taken.token
        return redirect("web:home", self.tablet.kennel.uid)

    def _members(self) -> list[Membership]:
        return [m for m in selectors.members_of(self.tablet.kennel.id) if m.pin_hash]

    def _show(self, request: HttpRequest, values: dict[str, object], status: int = 200) -> HttpResponse:
        shown = {"kennel_name": self.tablet.kennel.name, "device_name": self.tablet.actor.name, **values}
        return render(request, "people/tablet.html", shown, status=status)


class PinPage(ManagingPage):
    """The carer's own PIN for the shared tablet."""

    write_role = Role.READER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The form."""
        return self._show(PinForm())

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Set the PIN, or take it away."""
        if request.POST.get("action") == "remove":
            with door.write(self.here, self.actor, self.at) as opened:
                tablets.pin_remove(opened)
            messages.success(request, "Your PIN is gone.")
            return redirect("web:pin", self.here.uid)
        form = PinForm(request.POST)
        if not form.is_valid():
            return self._show(form, 422)
        try:
            hashed = tablets.pin_hash(form.cleaned_data["pin"])
        except Refusal as refusal:
            put_refusal(form, refusal)
            return self._show(form, 422)
        with door.write(self.here, self.actor, self.at) as opened:
            tablets.pin_set(hashed, opened)
        messages.success(request, "Your PIN is set.")
        return redirect("web:pin", self.here.uid)

    def _show(self, form: PinForm, status: int = 200) -> HttpResponse:
        membership = selectors.membership_of(self.carer.pk, self.here.id)
        has_pin = membership is not None and membership.pin_hash != ""
        return self.page("people/pin.html", {"form": form, "has_pin": has_pin}, status)

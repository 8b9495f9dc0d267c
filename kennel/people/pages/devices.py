"""Devices of a kennel, and pairing them."""

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views import View

from kennel.api.devices import pairing_shape
from kennel.people import limits, selectors
from kennel.people.addresses import client_address, network_of
from kennel.people.choices import DeviceKind, Role
from kennel.people.page_forms import MAY, CodeForm, DeviceForm, put_refusal
from kennel.people.pages.managing import ManagingPage
from kennel.people.pages.tablet_cookie import remember_tablet
from kennel.people.services import devices
from kennel.people.services.devices import NOT_FOUND
from kennel.records import door
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404


class DevicesPage(KennelPage):
    """Which devices act here."""

    least_role = Role.CARER
    write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list; a keeper can add, pair again and revoke."""
        return self.page("people/devices.html", {"devices": selectors.devices_of(self.here.id)})


class NewDevicePage(ManagingPage):
    """Adding a device."""

    least_role = write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The form."""
        return self._show(DeviceForm(members=self._members(), initial={"uid": new_uid()}))

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Make it; pressing twice makes one."""
        form = DeviceForm(request.POST, members=self._members())
        if not form.is_valid():
            return self._show(form, 422)
        typed = form.cleaned_data
        new = devices.NewDevice(
            name=typed["name"],
            kind=DeviceKind(typed["kind"]),
            scopes=MAY[typed["may"]][1],
            member=uid_or_404(typed["member"]) if typed["member"] else None,
            days=typed["days"],
            uid=typed["uid"],
        )
        try:
            with door.write(self.here, self.actor, self.at) as opened:
                made = devices.device_create(new, opened)
        except Refusal as refusal:
            put_refusal(form, refusal)
            return self._show(form, 422)
        return redirect("web:device", self.here.uid, made.device.uid)

    def _members(self) -> list[tuple[str, str]]:
        return [(str(m.uid), m.carer.name) for m in selectors.members_of(self.here.id)]

    def _show(self, form: DeviceForm, status: int = 200) -> HttpResponse:
        return self.page("people/device_new.html", {"form": form}, status)


class DevicePage(ManagingPage):
    """One device: its pairing code while there is one."""

    least_role = write_role = Role.KEEPER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Code and QR, and what can be done."""
        found = selectors.device_of(self.here.id, uid_or_404(uid))
        if found is None or found.revoked_at is not None:
            raise Http404
        pairing = pairing_shape(devices.pairing_of(found, self.at))
        answer = self.page("people/device.html", {"device": found, "pairing": pairing})
        answer.headers["Cache-Control"] = "no-store"
        return answer

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Pair again, or revoke."""
        identifier, action = uid_or_404(uid), request.POST.get("action")
        with door.write(self.here, self.actor, self.at) as opened:
            if action == "pair":
                devices.device_pairing_renew(identifier, opened)
            elif action == "revoke":
                devices.device_revoke(identifier, None, opened)
            else:
                raise Refusal("malformed")
        if action == "pair":
            return redirect("web:device", self.here.uid, identifier)
        messages.success(request, "Revoked: from now on it can do nothing here.")
        return redirect("web:devices", self.here.uid)


class PairPage(View):
    """`pair`: opened on the device that is to be paired, from the keeper's QR or by hand."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form, filled in by the QR.  Only a look: nothing is used up."""
        return self._show(request, CodeForm(initial={"code": request.GET.get("code", "")[:32]}))

    def post(self, request: HttpRequest) -> HttpResponse:
        """Pair.  A shared tablet keeps its token itself; anything else shows it once."""
        form, at = CodeForm(request.POST), timezone.now()
        if not form.is_valid():
            return self._show(request, form, 422)
        if limits.take(limits.PAIRING, network_of(client_address(request)), at) is not None:
            return render(request, "429.html", status=429)
        try:
            paired = devices.device_pair(
                form.cleaned_data["code"],
                at,
                request_id=request.request_id,  # type: ignore[attr-defined]  # set by our middleware
            )
        except Refusal as refusal:
            if refusal.slug != "not-found":
                raise
            form.add_error("code", NOT_FOUND)
            return self._show(request, form, 422)
        if paired.device.kind == DeviceKind.TABLET:
            onwards = redirect("web:tablet")
            remember_tablet(onwards, paired.token, paired.device.expires_at - at)
            return onwards
        values = {"paired": paired, "origin": settings.ORIGIN}
        answer = render(request, "people/paired.html", values)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    @staticmethod
    def _show(request: HttpRequest, form: CodeForm, status: int = 200) -> HttpResponse:
        answer = render(request, "people/pair.html", {"form": form}, status=status)
        answer.headers["Cache-Control"] = "no-store"
        return answer

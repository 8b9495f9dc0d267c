"""What the people app adds to the API, to the pages and to allauth."""

from typing import Any

from allauth.account.signals import password_reset

from kennel.api import devices, people
from kennel.api.urls import add_view, add_view_outside
from kennel.people.choices import Role
from kennel.people.pages import account, join, members, settings, tablet
from kennel.people.pages import devices as device_pages
from kennel.people.services.accounts import account_taken_back
from kennel.web import menu
from kennel.web.urls import add_page


def register() -> None:
    """Add API views and connect to allauth; called once, when the apps are ready."""
    add_view("members", people.MemberList, "member-list")
    add_view("members/<str:uid>", people.MemberItem, "member")
    add_view("invitations", people.InvitationList, "invitation-list")
    add_view("invitations/<str:uid>", people.InvitationItem, "invitation")
    add_view("devices", devices.DeviceList, "device-list")
    add_view("devices/<str:uid>", devices.DeviceItem, "device")
    add_view("devices/<str:uid>/pairing", devices.DevicePairing, "device-pairing")
    add_view("tablet/act", devices.TabletAct, "tablet-act")
    add_view("tablet/pin", devices.TabletPin, "tablet-pin")
    add_view_outside("invitations/accept", people.InvitationAccept, "invitation-accept")
    add_view_outside("devices/pair", devices.DevicePair, "device-pair")
    _pages()
    password_reset.connect(_on_password_reset, dispatch_uid="kennel.people.password_reset")


def _pages() -> None:
    in_kennel = "kennels/<str:kennel>/"
    add_page(in_kennel + "members", members.MembersPage, "members")
    add_page(in_kennel + "members/<str:uid>", members.MemberPage, "member")
    add_page(in_kennel + "invite", members.InvitePage, "invite")
    add_page(in_kennel + "invitations/<str:uid>", members.InvitationPage, "invitation")
    add_page(in_kennel + "devices", device_pages.DevicesPage, "devices")
    add_page(in_kennel + "devices/new", device_pages.NewDevicePage, "device-new")
    add_page(in_kennel + "devices/<str:uid>", device_pages.DevicePage, "device")
    add_page(in_kennel + "pin", tablet.PinPage, "pin")
    add_page(in_kennel + "settings", settings.SettingsPage, "settings")
    add_page("join", join.CodePage, "join-code")
    add_page("join/<str:secret>", join.JoinPage, "join")
    add_page("pair", device_pages.PairPage, "pair")
    add_page("tablet", tablet.TabletPage, "tablet")
    add_page("account", account.AccountPage, "account")
    add_page("account/sessions", account.SessionsPage, "sessions")
    menu.add("Members", "web:members", Role.READER, order=80)
    menu.add("Devices", "web:devices", Role.CARER, order=82)
    menu.add("Settings", "web:settings", Role.KEEPER, order=84)


def _on_password_reset(user: Any, **_: Any) -> None:
    account_taken_back(user)

"""Pages about people: forms work without script, say what is wrong, and obey the content policy."""

import re
from html.parser import HTMLParser
from pathlib import Path

import allauth
import pytest
from django.template.loader import get_template
from django.test import Client

from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Invitation, Membership
from kennel.records.ids import new_uid
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import below, browser, make_carer, make_device_by_form

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> Client:
    return browser(place.keeper)


class Page(HTMLParser):
    """What a browser would find: hidden fields, labels without a field, what the content policy forbids."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self.ids: set[str] = set()
        self.labelled: set[str] = set()
        self.inputs: list[dict[str, str | None]] = []
        self.forbidden: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if (identifier := found.get("id")) is not None:
            assert identifier not in self.ids, f"the id {identifier} stands twice"
            self.ids.add(identifier)
        if tag == "label" and found.get("for"):
            self.labelled.add(str(found["for"]))
        if tag in ("input", "select", "textarea"):
            self.inputs.append({"tag": tag, **found})
            if found.get("type") == "hidden":
                self.fields[str(found["name"])] = found.get("value") or ""
        if tag == "style" or "style" in found or any(name.startswith("on") for name in found):
            self.forbidden.append(f"{tag} {found}")
        if tag == "script" and "src" not in found and found.get("type") != "application/json":
            self.forbidden.append(f"{tag} {found}")

    @property
    def unlabelled(self) -> list[dict[str, str | None]]:
        """Fields a person sees that no label names."""
        seen = [i for i in self.inputs if i.get("type") != "hidden" and "hidden" not in i]
        return [i for i in seen if i.get("id") not in self.labelled and not i.get("aria-label")]


def page(http: Client, path: str) -> Page:
    answer = http.get(path)
    assert answer.status_code == 200, (path, answer.status_code)
    return Page(answer.content.decode())


EVERY_PAGE = [
    "members",
    "invite",
    "devices",
    "devices/new",
    "pin",
    "settings",
    "/account",
    "/account/sessions",
    "/join",
    "/pair",
    "/accounts/2fa/",
    "/accounts/2fa/webauthn/",
    "/accounts/reauthenticate/",
    "/accounts/email/",
    "/accounts/password/change/",
    "/accounts/sessions/",
    "/accounts/logout/",
]
ENTRANCE = [
    "/accounts/login/",
    "/accounts/signup/",
    "/accounts/password/reset/",
    "/accounts/password/reset/done/",
]


@pytest.mark.parametrize("path", EVERY_PAGE + ENTRANCE)
def test_a_page_has_one_heading_labels_for_all_fields_and_nothing_the_policy_forbids(
    place: Place, path: str
) -> None:
    http = browser(None if path in ENTRANCE else place.keeper)
    answer = http.get(path if path.startswith("/") else below(place, path))
    assert answer.status_code == 200
    html = answer.content.decode()
    found = Page(html)
    assert found.forbidden == []
    assert found.unlabelled == []
    headings = re.findall(r"<h1>(.*?)</h1>", html, re.DOTALL)
    assert len(headings) == 1
    assert headings[0].strip()
    title = re.search(r"<title>(.*?)</title>", html, re.DOTALL)
    assert title is not None
    assert title[1].strip() not in ("", "Kennel")
    assert "default-src 'self'" in answer["Content-Security-Policy"]
    assert "unsafe" not in answer["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("path", "carer", "reader"),
    [
        ("members", 200, 200),
        ("invite", 403, 403),
        ("devices", 200, 403),
        ("devices/new", 403, 403),
        ("pin", 200, 200),
        ("settings", 403, 403),
    ],
)
def test_a_page_opens_for_the_role_it_is_for(place: Place, path: str, carer: int, reader: int) -> None:
    stranger = browser(make_kennel("Elsewhere").keeper)
    assert browser(place.keeper).get(below(place, path)).status_code == 200
    assert browser(add_member(place, Role.CARER)).get(below(place, path)).status_code == carer
    assert browser(add_member(place, Role.READER)).get(below(place, path)).status_code == reader
    assert stranger.get(below(place, path)).status_code == 404
    assert browser().get(below(place, path))["Location"].startswith("/accounts/login/?next=")


def test_a_keeper_invites_somebody_in_the_room_who_is_in_within_four_steps(
    place: Place, keeper: Client
) -> None:
    form = page(keeper, below(place, "invite")).fields
    made = keeper.post(below(place, "invite"), {"uid": form["uid"], "role": "carer"})
    again = keeper.post(below(place, "invite"), {"uid": form["uid"], "role": "carer"})
    assert made["Location"] == again["Location"]
    assert Invitation.objects.count() == 1
    shown = keeper.get(made["Location"])
    assert "no-store" in shown["Cache-Control"]
    code = re.search(r'<p class="code">(\S+)</p>', shown.content.decode())
    assert code is not None
    assert "<svg viewBox" in shown.content.decode()
    oona = make_carer(name="Oona Quill")
    newcomer = browser(oona)
    found = newcomer.post("/join", {"code": code[1].lower()})
    assert newcomer.get(found["Location"]).status_code == 200
    joined = newcomer.post(found["Location"])
    assert joined["Location"] == f"/kennels/{place.here.uid}"
    assert newcomer.get(joined["Location"]).status_code == 200
    assert "Oona Quill" in keeper.get(below(place, "members")).content.decode()
    used = browser(make_carer()).get(found["Location"])
    assert (used.status_code, "was used" in used.content.decode()) == (404, True)
    assert newcomer.get(found["Location"])["Location"] == f"/kennels/{place.here.uid}"


def test_an_invitation_page_withdraws(place: Place, keeper: Client) -> None:
    made = keeper.post(below(place, "invite"), {"uid": new_uid(), "role": "reader"})
    code = re.search(r'<p class="code">(\S+)</p>', keeper.get(made["Location"]).content.decode())
    assert code is not None
    assert browser(make_carer()).get(f"/join/{code[1]}").status_code == 200
    assert keeper.post(made["Location"])["Location"] == below(place, "members")
    assert browser(make_carer()).get(f"/join/{code[1]}").status_code == 404
    assert "was withdrawn" in keeper.get(made["Location"]).content.decode()


@pytest.mark.parametrize("secret", ["ABCD-EFGH", "x", "%00", "a" * 200])
def test_a_link_that_opens_nothing_says_so(secret: str) -> None:
    answer = browser(make_carer()).get(f"/join/{secret}")
    assert (answer.status_code, "not known" in answer.content.decode()) == (404, True)


def test_looking_at_links_is_limited_per_address() -> None:
    statuses = [browser().get("/join/ABCD-EFGH").status_code for _ in range(45)]
    assert statuses[0] == 404
    assert statuses.count(404) <= 40  # twenty a minute, and a window may end in between
    assert statuses[-1] == 429


def test_roles_change_and_memberships_end_by_form(place: Place, keeper: Client) -> None:
    idris = Membership.objects.get(carer=add_member(place, Role.READER))
    path = below(place, f"members/{idris.uid}")
    keeper.post(path, {"action": "role", "role": "carer", "version": 1})
    idris.refresh_from_db()
    assert idris.role == "carer"
    late = keeper.post(path, {"action": "end", "version": 1}, follow=True)
    assert "Somebody changed this meanwhile" in late.content.decode()
    keeper.post(path, {"action": "end", "version": idris.version})
    idris.refresh_from_db()
    assert idris.ended_at is not None
    own = Membership.objects.get(carer=place.keeper)
    last = keeper.post(below(place, f"members/{own.uid}"), {"action": "end", "version": 1}, follow=True)
    assert "last keeper" in last.content.decode()
    assert keeper.post(path, {"action": "promote"}).status_code == 400


def test_a_carer_leaves_by_form_but_changes_nobody_else(place: Place) -> None:
    carer = add_member(place, Role.CARER)
    own, other = Membership.objects.get(carer=carer), Membership.objects.get(carer=place.keeper)
    http = browser(carer)
    assert http.post(below(place, f"members/{other.uid}"), {"action": "end", "version": 1}).status_code == 403
    role = {"action": "role", "role": "keeper", "version": 1}
    assert http.post(below(place, f"members/{own.uid}"), role).status_code == 403
    left = http.post(below(place, f"members/{own.uid}"), {"action": "end", "version": 1})
    assert left["Location"] == "/kennels"
    assert http.get(below(place, "members")).status_code == 404


def test_a_device_is_added_paired_and_revoked_by_form(place: Place, keeper: Client) -> None:
    path, code = make_device_by_form(place, keeper)
    device = browser()
    assert f'value="{code}"' in device.get(f"/pair?code={code}").content.decode()
    paired = device.post("/pair", {"code": code})
    token = re.search(r"kn_dev_\w+_[\w-]{49}", paired.content.decode())
    assert token is not None
    assert "no-store" in paired["Cache-Control"]
    assert DeviceClient(place, token=token[0]).get("members").status_code == 200
    assert "ten minutes are over" in device.post("/pair", {"code": code}).content.decode()
    keeper.post(path, {"action": "revoke"})
    assert DeviceClient(place, token=token[0]).get("members").status_code == 401
    assert keeper.get(path).status_code == 404


def test_a_device_form_says_what_is_wrong_beside_the_field(place: Place, keeper: Client) -> None:
    own = Membership.objects.get(carer=place.keeper).uid
    form = {"uid": new_uid(), "name": "Tablet", "kind": "tablet", "member": own, "may": "write", "days": 400}
    refused = keeper.post(below(place, "devices/new"), form)
    assert (refused.status_code, "belongs to nobody" in refused.content.decode()) == (422, True)
    assert keeper.post(below(place, "devices/new"), {**form, "member": "", "days": 401}).status_code == 422
    assert Device.objects.count() == 0
    assert keeper.post(below(place, "devices/new"), {**form, "member": ""}).status_code == 302


def test_a_new_pairing_code_takes_the_place_of_the_old(place: Place, keeper: Client) -> None:
    path, first = make_device_by_form(place, keeper)
    keeper.post(path, {"action": "pair"})
    second = re.search(r'<p class="code">(\S+)</p>', keeper.get(path).content.decode())
    assert second is not None
    assert browser().post("/pair", {"code": first}).status_code == 422
    assert browser().post("/pair", {"code": second[1]}).status_code == 200


def test_settings_are_stored_by_form_unless_somebody_was_faster(place: Place, keeper: Client) -> None:
    path = below(place, "settings")
    form = {
        "version": page(keeper, path).fields["version"],
        "name": "Hollin Bank",
        "zone": "Europe/Paris",
        "mass_unit": "oz",
        "temperature_unit": "F",
        "place": "FR",
        "vet_name": "Brook Lane",
        "vet_phone": "01632 960 001",
        "night_vet_phone": "",
    }
    wrong = keeper.post(path, {**form, "place": "France"})
    assert wrong.status_code == 422
    assert keeper.post(path, form).status_code == 302
    shown = keeper.get(path).content.decode()
    assert 'value="Brook Lane"' in shown
    late = keeper.post(path, {**form, "name": "Other"}, follow=True)
    assert "Somebody changed this meanwhile" in late.content.decode()
    assert 'value="Hollin Bank"' in keeper.get(path).content.decode()


def test_the_account_keeps_name_zone_units_and_quiet_hours(place: Place, keeper: Client) -> None:
    form = {
        "name": "Maud F.",
        "zone": "Europe/Paris",
        "mass_unit": "oz",
        "temperature_unit": "F",
        "quiet_from": "22:30",
        "quiet_until": "06:00",
    }
    for change, said in (
        ({"quiet_until": ""}, "Say both"),
        ({"quiet_until": "22:30"}, "are the same"),
        ({"name": ""}, "required"),
        ({"zone": "Mars/Base"}, "valid choice"),
    ):
        refused = keeper.post("/account", {**form, **change})
        assert (refused.status_code, said in refused.content.decode()) == (422, True), change
    assert keeper.post("/account", form).status_code == 302
    carer = Carer.objects.get(pk=place.keeper.pk)
    assert (carer.name, carer.zone, carer.mass_unit, carer.temperature_unit) == (
        "Maud F.",
        "Europe/Paris",
        "oz",
        "F",
    )
    assert (str(carer.quiet_from), str(carer.quiet_until)) == ("22:30:00", "06:00:00")
    assert 'value="22:30"' in keeper.get("/account").content.decode()
    keeper.post("/account", {**form, "quiet_from": "", "quiet_until": ""})
    assert Carer.objects.get(pk=place.keeper.pk).quiet_from is None


def _templates_of_allauth() -> list[str]:
    root = Path(allauth.__file__).parent / "templates"
    return [
        str(p.relative_to(root))
        for app in ("account", "mfa", "usersessions")
        for p in (root / app).rglob("*.html")
    ]


@pytest.mark.parametrize("name", _templates_of_allauth())
def test_every_sign_in_template_can_be_compiled(name: str) -> None:
    assert get_template(name).template.name == name  # type: ignore[attr-defined]  # of Django's own engine

"""Passkeys in a real browser with a virtual authenticator, on http://localhost, which counts as secure.

W3C Secure Contexts lets WebAuthn work there; https on another name is tried in tests/web.
"""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from axe_playwright_python.sync_playwright import Axe
from django.db import connections
from django.test import Client
from playwright.sync_api import Page, expect, sync_playwright

from kennel.people.choices import Role
from kennel.people.models import Carer, Membership
from tests.factories.people import PASSWORD, Place, add_member, make_device, make_kennel
from tests.web.conftest import PHONE, Server, free_port

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]
WRONG = "not-the-password-4711"


@dataclass
class Phone:
    """A phone with a passkey store of its own."""

    page: Page
    url: str
    authenticator: str
    wire: Any
    errors: list[str]

    def open(self, path: str) -> None:
        """A page of the server."""
        self.page.goto(self.url + path)

    def press(self, name: str) -> None:
        """A button by its words."""
        self.page.get_by_role("button", name=name, exact=True).click()

    def sign_in(self, carer: Carer) -> None:
        """By password."""
        self.open("/accounts/login/")
        self.page.fill("[name=login]", carer.email)
        self.page.fill("[name=password]", PASSWORD)
        self.press("Sign in")
        self.page.wait_for_url(lambda url: "/accounts/login/" not in url)

    def add_passkey(self, name: str) -> None:
        """As people do it: from the account, confirming the password on the way."""
        self.open("/account")
        self.page.get_by_role("link", name="Passkeys").click()
        self.page.get_by_role("link", name="Add a passkey").click()
        self.page.wait_for_url("**/accounts/reauthenticate/**")
        self.page.fill("[name=password]", PASSWORD)
        self.press("Confirm")
        self.page.fill("[name=name]", name)
        self.press("Add a passkey")
        self.page.wait_for_url("**/accounts/2fa/recovery-codes/")

    def sign_out(self) -> None:
        """Forget the session; the passkey stays."""
        self.page.context.clear_cookies()

    def user_verified(self, value: bool) -> None:
        """Whether the finger is the right one."""
        told = {"authenticatorId": self.authenticator, "isUserVerified": value}
        self.wire.send("WebAuthn.setUserVerified", told)

    @property
    def path(self) -> str:
        """Where the page is."""
        return self.page.url.removeprefix(self.url)


@pytest.fixture
def phone(database: str, db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Phone]:
    server = Server(free_port(), tmp_path / "granian.log", "localhost")
    server.start()
    # The driver keeps an event loop in this thread, which Django takes for asynchronous code; none here is.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "yes")
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        page = browser.new_context(viewport=PHONE).new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda told: errors.append(told.text) if told.type == "error" else None)
        wire = page.context.new_cdp_session(page)
        wire.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasResidentKey": True,
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        added = wire.send("WebAuthn.addVirtualAuthenticator", {"options": options})
        yield Phone(page, server.url, added["authenticatorId"], wire, errors)
        connections.close_all()  # those made beside the loop are out of reach once it has ended
        browser.close()
    server.stop()


@pytest.fixture
def place() -> Place:
    return make_kennel()


def test_a_passkey_is_added_and_signs_in_while_passwords_are_held_back(phone: Phone, place: Place) -> None:
    phone.sign_in(place.keeper)
    phone.add_passkey("Maud's phone")
    expect(phone.page.locator("main")).to_contain_text("codes are left")
    stored = Authenticator.objects.get(user=place.keeper, type="webauthn").wrap()
    assert (stored.name, stored.is_passwordless) == ("Maud's phone", True)
    phone.sign_out()
    # The test's own client and the browser come from the same address.
    for _ in range(40):
        Client().post("/accounts/login/", {"login": place.keeper.email, "password": WRONG})
    assert (
        Client().post("/accounts/login/", {"login": place.keeper.email, "password": PASSWORD}).status_code
        == 429
    )
    phone.open("/accounts/login/")
    phone.press("Sign in with a passkey")
    phone.page.wait_for_url(f"**/kennels/{place.here.uid}")
    phone.open("/account")
    expect(phone.page.locator("main")).to_contain_text(place.keeper.email)
    assert phone.errors == []


def test_with_a_passkey_the_password_alone_does_not_open_the_account(phone: Phone, place: Place) -> None:
    phone.sign_in(place.keeper)
    phone.add_passkey("Maud's phone")
    phone.sign_out()
    phone.sign_in(place.keeper)
    assert phone.path == "/accounts/2fa/authenticate/"
    assert Client().get("/account").status_code == 302
    phone.press("Use your passkey")
    phone.page.wait_for_url(f"**/kennels/{place.here.uid}")
    assert phone.errors == []


def test_a_passkey_confirms_that_it_is_you(phone: Phone, place: Place) -> None:
    phone.sign_in(place.keeper)
    phone.add_passkey("Maud's phone")
    phone.sign_out()
    phone.open("/accounts/login/?next=/accounts/2fa/totp/activate/")
    phone.press("Sign in with a passkey")
    phone.page.wait_for_url("**/accounts/reauthenticate/**")
    phone.page.get_by_role("link", name="Use a security key").click()
    phone.press("Use your passkey")
    phone.page.wait_for_url("**/accounts/2fa/totp/activate/")
    assert phone.errors == []


def test_the_wrong_finger_signs_nobody_in_and_is_said_in_words(phone: Phone, place: Place) -> None:
    phone.sign_in(place.keeper)
    phone.add_passkey("Maud's phone")
    phone.sign_out()
    phone.user_verified(False)
    phone.open("/accounts/login/")
    phone.press("Sign in with a passkey")
    expect(phone.page.locator("[data-passkey-error]")).to_contain_text("cancelled")
    assert phone.path == "/accounts/login/"
    phone.user_verified(True)
    phone.press("Sign in with a passkey")
    phone.page.wait_for_url(f"**/kennels/{place.here.uid}")


def test_a_removed_passkey_opens_nothing(phone: Phone, place: Place) -> None:
    phone.sign_in(place.keeper)
    phone.add_passkey("Maud's phone")
    phone.open("/accounts/2fa/webauthn/")
    phone.page.get_by_role("link", name="Remove").click()
    phone.page.click("main form button[type=submit]")
    phone.page.wait_for_url("**/accounts/2fa/webauthn/")
    assert not Authenticator.objects.filter(user=place.keeper).exists()
    phone.sign_out()
    phone.open("/accounts/login/")
    phone.press("Sign in with a passkey")
    phone.page.wait_for_selector(".messages .error, .messages .danger, [data-passkey-error]:visible")
    assert phone.path == "/accounts/login/"


def test_where_there_are_no_passkeys_the_page_does_not_offer_them(phone: Phone, place: Place) -> None:
    phone.page.add_init_script("delete window.PublicKeyCredential")
    phone.open("/accounts/login/")
    assert phone.page.is_hidden("#passkey_login")
    phone.sign_in(place.keeper)
    phone.open("/accounts/2fa/webauthn/add/")
    phone.page.fill("[name=password]", PASSWORD)
    phone.press("Confirm")
    phone.page.wait_for_selector("[data-passkey-missing]:visible")
    assert phone.page.is_hidden("#mfa_webauthn_add")


def test_pages_about_people_meet_wcag_and_fingers(phone: Phone, place: Place) -> None:
    add_member(place, Role.CARER)
    make_device(place)
    phone.sign_in(place.keeper)
    kennel = f"/kennels/{place.here.uid}"
    phone.open(f"{kennel}/invite")
    phone.press("Invite")
    invitation = phone.path
    phone.open(f"{kennel}/devices/new")
    phone.page.fill("[name=name]", "Tablet at the box")
    phone.page.select_option("[name=kind]", "tablet")
    phone.press("Show the pairing code")
    device, code = phone.path, phone.page.inner_text(".code")
    phone.open(f"{kennel}/pin")
    for name in ("pin", "again"):
        phone.page.fill(f"[name={name}]", "40718")
    phone.press("Set PIN")
    member = Membership.objects.get(carer=place.keeper).uid
    paths = [
        *(f"{kennel}/{page}" for page in ("members", "invite", "devices", "devices/new", "pin", "settings")),
        *(invitation, device, "/account", "/account/sessions", "/join", f"/pair?code={code}"),
        *("/accounts/2fa/", "/accounts/2fa/webauthn/", "/accounts/email/", "/accounts/password/change/"),
    ]
    found = {path: problems(phone, path) for path in paths}
    phone.sign_out()
    for path in (
        "/accounts/login/",
        "/accounts/signup/",
        "/accounts/password/reset/",
        f"/join/{'A' * 8}",
        "/tablet",
    ):
        found[path] = problems(phone, path)
    phone.open(f"/pair?code={code}")
    phone.press("Pair this device")
    for path in ("/tablet", f"/tablet?member={member}"):
        found[path] = problems(phone, path)
    assert {path: what for path, what in found.items() if what} == {}


RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
# Targets of at least 44 px for gloved hands; links within a sentence are exempt (WCAG 2.2, 2.5.8).
SMALL = """() => [...document.querySelectorAll('main a[href], main button, main summary')]
  .filter((one) => one.offsetParent && !one.closest('p:not(.actions)'))
  .filter((one) => one.getBoundingClientRect().height < 44)
  .map((one) => one.outerHTML.slice(0, 120))"""


def problems(phone: Phone, path: str) -> list[str]:
    """What axe-core finds on a page, and what is too small to press, in light and in dark."""
    told = []
    # As tall as the page: what the bar at the bottom covers for the moment can be scrolled up from under it.
    phone.page.set_viewport_size({"width": PHONE["width"], "height": 3000})
    for scheme in ("light", "dark"):
        phone.page.emulate_media(color_scheme=scheme)
        phone.open(path)
        violations = Axe().run(phone.page, options=RULES).response["violations"]
        told += [f"{scheme} {v['id']}: {v['nodes'][0]['html'][:160]}" for v in violations]
    return told + list(phone.page.evaluate(SMALL))

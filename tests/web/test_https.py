"""Over https on a name that is not localhost, where cookies carry the __Host- prefix and other rules hold."""

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from deploy.certificates import certificates_for
from tests.factories.people import PASSWORD, make_kennel
from tests.factories.records import make_nest
from tests.web.conftest import PHONE, Phone, Server, free_port
from tests.web.test_weigh_in import type_weight, weights_of

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]

NAME = "hollin.test"  # RFC 6761 keeps .test for this


@pytest.fixture
def secure_phone(database: str, db: None, tmp_path: Path) -> Iterator[Phone]:
    """A phone that finds the server by its name and takes its certificate."""
    certificates = certificates_for(NAME, tmp_path / "certificates", datetime.now(UTC))
    server = Server(free_port(), tmp_path / "granian.log", NAME, certificates)
    server.start()
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    arguments = ["--no-sandbox", "--ignore-certificate-errors", f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "yes"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=arguments)
        context = browser.new_context(viewport=PHONE, ignore_https_errors=True)
        yield Phone(context, context.new_page(), server, [])
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
    server.stop()


def test_a_weight_entered_without_network_arrives_over_https_too(secure_phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss", "rust"))
    phone = secure_phone
    phone.sign_in(place.keeper)
    cookies = {cookie["name"]: cookie for cookie in phone.context.cookies()}
    assert {"__Host-session", "__Host-csrf"} <= set(cookies)
    assert all(cookies[name]["secure"] for name in ("__Host-session", "__Host-csrf"))
    path = f"litters/{nest.litter}/weigh"
    phone.open(place, path)
    phone.wait_for_worker()
    phone.wait_kept(f"/kennels/{place.here.uid}/{path}")
    phone.go_offline()
    phone.page.reload()
    phone.page.wait_for_selector("#weigh-form[data-ready]")
    type_weight(phone, "412")
    phone.wait_states("waiting")
    assert weights_of(place) == []
    phone.go_online()
    phone.wait_states("sent")
    assert [float(weighing.weight_g) for weighing in weights_of(place)] == [412]


def test_a_carer_signs_in_with_a_passkey_on_another_name_and_records_a_weight(secure_phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    phone, page = secure_phone, secure_phone.page
    wire = phone.context.new_cdp_session(page)
    wire.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    wire.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    phone.sign_in(place.keeper)
    page.goto(f"{phone.server.url}/account")
    page.get_by_role("link", name="Passkeys").click()
    page.get_by_role("link", name="Add a passkey").click()
    page.wait_for_url("**/accounts/reauthenticate/**")
    page.fill("[name=password]", PASSWORD)
    page.get_by_role("button", name="Confirm", exact=True).click()
    page.fill("[name=name]", "Phone of the night")
    page.get_by_role("button", name="Add a passkey", exact=True).click()
    page.wait_for_url("**/accounts/2fa/recovery-codes/")
    phone.context.clear_cookies()
    page.goto(f"{phone.server.url}/accounts/login/")
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.wait_for_url(lambda url: "/accounts/" not in url)
    phone.open(place, f"litters/{nest.litter}/weigh")
    phone.page.wait_for_selector("#weigh-form[data-ready]")
    type_weight(phone, "398")
    phone.wait_states("sent")
    assert [float(weighing.weight_g) for weighing in weights_of(place)] == [398]

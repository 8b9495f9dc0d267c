"""The shared tablet in the browser: pair, tap a name, type the PIN, act, step back."""

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from kennel.people.choices import Role
from kennel.people.models import Carer, Device, Membership, TabletTurn
from tests.factories.people import Place, add_member, make_kennel
from tests.kennel.people.clients import BACKEND, CarerClient, below, browser, make_device_by_form

pytestmark = pytest.mark.usefixtures("db")
PIN = "40718"


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def keeper(place: Place) -> Client:
    return browser(place.keeper)


@pytest.fixture
def tablet(place: Place, keeper: Client) -> Client:
    """A browser that is the shared tablet."""
    _, code = make_device_by_form(place, keeper, name="Tablet at the box", kind="tablet")
    http = browser()
    paired = http.post("/pair", {"code": code})
    assert paired["Location"] == "/tablet"
    cookie = http.cookies["tablet"]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Strict")
    assert "kn_dev_" not in paired.content.decode()
    return http


def set_pin(place: Place, carer: Carer, pin: str = PIN) -> None:
    answer = browser(carer).post(below(place, "pin"), {"pin": pin, "again": pin})
    assert answer.status_code == 302, answer.content.decode()


def step_up(tablet: Client, carer: Carer, pin: str = PIN) -> Any:
    member = Membership.objects.get(carer=carer, ended_at=None)
    return tablet.post("/tablet", {"member": member.uid, "pin": pin})


def test_a_pin_is_typed_twice_and_refused_in_words(place: Place, keeper: Client) -> None:
    path = below(place, "pin")
    assert "not the same" in keeper.post(path, {"pin": PIN, "again": "40719"}).content.decode()
    assert "4 to 8 digits" in keeper.post(path, {"pin": "12ab", "again": "12ab"}).content.decode()
    assert "try this one first" in keeper.post(path, {"pin": "1234", "again": "1234"}).content.decode()
    assert Membership.objects.get().pin_hash == ""
    set_pin(place, place.keeper)
    assert Membership.objects.get().pin_hash != ""
    keeper.post(path, {"action": "remove"})
    assert Membership.objects.get().pin_hash == ""


def test_at_the_tablet_a_member_steps_up_acts_and_steps_back(place: Place, tablet: Client) -> None:
    idris, oona = add_member(place, Role.CARER), add_member(place, Role.CARER)
    set_pin(place, oona)
    names = tablet.get("/tablet").content.decode()
    assert (oona.name in names, idris.name in names) == (True, False)
    member = Membership.objects.get(carer=oona)
    assert 'type="password"' in tablet.get(f"/tablet?member={member.uid}").content.decode()
    assert "does not fit" in step_up(tablet, oona, "11112").content.decode()
    assert step_up(tablet, oona)["Location"] == f"/kennels/{place.here.uid}"
    api = f"/api/v1/kennels/{place.here.uid}/dogs"
    made = tablet.post(api, b'{"name": "Sorrel", "sex": "female"}', content_type="application/json").json()
    assert (made["recorded_by"], made["recorded_device"]) == (oona.name, "Tablet at the box")
    assert oona.name in tablet.get("/tablet").content.decode()
    tablet.post("/tablet", {"action": "back"})
    assert tablet.get(api).status_code == 401
    assert TabletTurn.objects.count() == 0


def test_a_pin_opens_neither_the_account_nor_the_keepers_pages(place: Place, tablet: Client) -> None:
    set_pin(place, place.keeper)
    step_up(tablet, place.keeper)
    assert tablet.get(below(place, "members")).status_code == 200
    for path in ("/account", "/account/sessions", below(place, "invite"), below(place, "settings")):
        assert tablet.get(path).status_code == 403, path
    for path in ("/accounts/2fa/", "/accounts/password/change/", "/accounts/email/"):
        assert tablet.get(path)["Location"] == "/tablet", path
    own = Membership.objects.get(carer=place.keeper)
    leave = {"action": "end", "version": own.version}
    assert tablet.post(below(place, f"members/{own.uid}"), leave).status_code == 403
    assert tablet.post(below(place, "pin"), {"pin": "83016", "again": "83016"}).status_code == 403
    code = CarerClient(place, place.keeper).post("invitations", {"role": "carer"}).json()["code"]
    assert tablet.post(f"/join/{code}")["Location"].startswith("/accounts/login/")
    assert tablet.get("/kennels").content.decode().count('class="card"') == 1


@pytest.mark.parametrize("what", ["time is over", "tablet revoked", "new PIN"])
def test_a_turn_in_the_browser_ends_with_what_it_stands_on(place: Place, tablet: Client, what: str) -> None:
    set_pin(place, place.keeper)
    step_up(tablet, place.keeper)
    assert tablet.get(below(place, "members")).status_code == 200
    if what == "time is over":
        TabletTurn.objects.update(expires_at=timezone.now())
    elif what == "tablet revoked":
        Device.objects.update(revoked_at=timezone.now())
    else:
        set_pin(place, place.keeper, "83016")
    assert tablet.get(below(place, "members"))["Location"] == "/tablet"
    assert tablet.get(below(place, "members"))["Location"].startswith("/accounts/login/")
    assert tablet.get("/tablet").status_code == (404 if what == "tablet revoked" else 200)


def test_stepping_up_takes_the_place_of_whoever_was_signed_in(place: Place, tablet: Client) -> None:
    oona = add_member(place, Role.READER)
    set_pin(place, oona)
    tablet.force_login(place.keeper, backend=BACKEND)
    assert tablet.get("/account").status_code == 200
    step_up(tablet, oona)
    assert tablet.get("/account").status_code == 403
    assert tablet.get(below(place, "settings")).status_code == 403


def test_the_tablet_page_is_nothing_to_other_browsers(place: Place, keeper: Client) -> None:
    assert keeper.get("/tablet").status_code == 404
    forged = browser()
    forged.cookies["tablet"] = "kn_dev_abc"
    assert forged.get("/tablet").status_code == 404

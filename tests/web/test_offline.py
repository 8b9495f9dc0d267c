"""Entries without network: kept, counted, sent once, never under another name, gone with the membership."""

import json
import re

import psycopg
import pytest
from django.utils import timezone
from playwright.sync_api import Route

from kennel.people.choices import Role
from kennel.people.models import Membership
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, weigh
from tests.web.conftest import Phone
from tests.web.test_weigh_in import type_weight, weights_of

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def nest(place: Place) -> Nest:
    return make_nest(place)


def open_weigh_in(phone: Phone, place: Place, nest: Nest) -> None:
    """The weigh-in page, its copy on the device."""
    phone.open(place, f"litters/{nest.litter}/weigh")
    phone.page.wait_for_selector("#weigh-form[data-ready]", state="attached")
    phone.wait_for_worker()
    phone.wait_kept(f"/kennels/{place.here.uid}/litters/{nest.litter}/weigh")


def test_weighed_without_network_kept_over_a_reload_and_sent_when_it_is_back(
    phone: Phone, place: Place, nest: Nest
) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    phone.go_offline()
    type_weight(phone, "412")
    phone.wait_unsent("1 waiting to send")
    phone.page.reload()
    phone.page.wait_for_selector("#weigh-form[data-ready]", state="attached")
    phone.wait_unsent("1 waiting to send")
    phone.shows("#network", "This page is as it was today")
    phone.shows("[data-pup]", "waiting to send")
    phone.shows("#weigh-who", "Rust")
    type_weight(phone, "405")
    phone.wait_unsent("2 waiting to send")
    assert weights_of(place) == []
    phone.go_online()
    phone.wait_unsent("All sent")
    assert [(w.pup.band, float(w.weight_g)) for w in weights_of(place)] == [("moss", 412), ("rust", 405)]


def test_a_page_that_was_only_linked_opens_without_network(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    phone.wait_for_worker()
    phone.wait_kept(f"/kennels/{place.here.uid}/litters/{nest.litter}/weigh")
    phone.go_offline()
    phone.open(place, f"litters/{nest.litter}/weigh")
    phone.page.wait_for_selector("#weigh-form[data-ready]", state="attached")
    type_weight(phone, "412")
    phone.wait_unsent("1 waiting to send")
    phone.page.goto(f"{phone.server.url}/kennels/{place.here.uid}/dogs/new")
    phone.shows("h1", "No connection")
    phone.page.click("text=Entries on this device")
    phone.page.wait_for_selector("#outbox [data-state=waiting]")
    phone.shows("#outbox", "Weight of Moss: 412 g")


def test_a_lost_answer_makes_no_second_record(phone: Phone, place: Place, nest: Nest) -> None:
    """The request arrives, the answer is cut off: the same bytes go again and end as a replay."""
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    sent: list[str | None] = []

    def cut(route: Route) -> None:
        sent.append(route.request.post_data)
        if len(sent) == 1:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    phone.page.route("**/batch", cut)
    type_weight(phone, "412")
    phone.wait_states("sent")
    assert len(sent) >= 2
    assert sent[0] == sent[1]
    assert len(weights_of(place)) == 1


def test_a_busy_server_is_waited_for_as_long_as_it_says(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    answers: list[float] = []

    def busy(route: Route) -> None:
        answers.append(timezone.now().timestamp())
        if len(answers) == 1:
            route.fulfill(
                status=503,
                headers={"Retry-After": "3", "Content-Type": "application/problem+json"},
                body=json.dumps({"type": "/problems/unavailable", "retry": "same"}),
            )
        else:
            route.continue_()

    phone.page.route("**/batch", busy)
    type_weight(phone, "412")
    phone.until("document.getElementById('network').textContent.includes('busy')")
    phone.page.evaluate(
        "window.dispatchEvent(new Event('online'))"
    )  # impatience does not shorten what was told
    phone.wait_unsent("All sent")
    assert answers[1] - answers[0] >= 2.9
    assert len(weights_of(place)) == 1


def test_a_strangers_answer_in_between_is_no_answer(phone: Phone, place: Place, nest: Nest) -> None:
    """The sign-in page of a café answers 200 and 404 with HTML: nothing counts as sent, nothing is wiped."""
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    pages = iter([200, 404])

    def stranger(route: Route) -> None:
        status = next(pages, None)
        if status is None:
            route.continue_()
        else:
            route.fulfill(status=status, content_type="text/html", body="<h1>Welcome to our network</h1>")

    phone.page.route("**/batch", stranger)
    type_weight(phone, "412")
    phone.wait_states("sent")
    assert len(weights_of(place)) == 1


def test_one_bad_entry_in_a_full_queue_blocks_none(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    phone.go_offline()
    phone.page.evaluate(
        """async (pup) => {
            const entries = await import('/static/web/entries.js');
            for (let n = 0; n < 60; n += 1) {
                const data = { pup, entered_value: n === 7 ? '-1' : String(400 + n), entered_unit: 'g',
                               occurred_at: new Date(Date.now() - (60 - n) * 3600000).toISOString() };
                await entries.add({ type: 'weighing', data, label: `weight ${n}` });
            }
        }""",
        nest.pups["moss"],
    )
    phone.wait_unsent("60 waiting to send")
    phone.go_online()
    phone.wait_unsent("1 needs attention")
    assert len(weights_of(place)) == 59
    [parked] = [entry for entry in phone.entries() if entry["state"] == "attention"]
    assert parked["label"] == "weight 7"


def test_entries_of_a_carer_are_never_sent_under_anothers_name(
    phone: Phone, place: Place, nest: Nest
) -> None:
    idris = add_member(place, Role.CARER)
    phone.sign_in(idris)
    open_weigh_in(phone, place, nest)
    phone.go_offline()
    type_weight(phone, "412")
    phone.wait_unsent("1 waiting to send")
    phone.context.clear_cookies()
    phone.go_online()
    phone.until("document.getElementById('network').textContent.includes('sign in again')")
    phone.sign_in(place.keeper)
    phone.wait_unsent("1 of others")
    phone.page.click("#unsent")
    phone.page.wait_for_selector("#outbox li")
    phone.shows("#outbox", f"Waits until {idris.name} signs in here")
    assert weights_of(place) == []
    phone.context.clear_cookies()
    phone.sign_in(idris)
    phone.wait_unsent("All sent")
    [weighing] = weights_of(place)
    assert weighing.recorded_by_id == idris.pk


def test_signing_out_wipes_the_copies_and_says_first_what_is_unsent(
    phone: Phone, place: Place, nest: Nest
) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    phone.page.route("**/batch", lambda route: route.abort())
    type_weight(phone, "412")
    phone.wait_unsent("1 waiting to send")
    phone.open(place, "menu")
    phone.page.get_by_role("button", name="Sign out").click()
    phone.page.wait_for_selector("main [role=alert]")
    phone.shows("main", "1 of your entries are not sent yet")
    phone.page.get_by_role("button", name="Sign out").click()
    phone.page.wait_for_url(lambda url: "/accounts/login/" in url)
    phone.wait_ready()
    phone.until("caches.open('pages').then((c) => c.keys()).then((keys) => keys.length === 0)")
    assert [entry["state"] for entry in phone.entries()] in (["waiting"], ["sending"])


def test_a_device_without_space_for_copies_shows_every_page(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    phone.wait_for_worker()
    [worker] = phone.context.service_workers
    worker.evaluate(
        "() => { Cache.prototype.put = () => Promise.reject(new DOMException('', 'QuotaExceededError')); }"
    )
    weigh(place, nest.pups["moss"], 433, hours_ago=4)
    phone.open(place, f"litters/{nest.litter}/weigh")
    phone.shows("[data-pup]", "433 g")
    assert phone.page.inner_text("#network") == ""


def test_a_copy_that_was_still_under_way_when_copies_were_forgotten_is_not_kept(
    phone: Phone, place: Place, nest: Nest
) -> None:
    """Signed out on a slow line: the page of the last carer arrives after the wiping."""
    phone.sign_in(place.keeper)
    phone.wait_for_worker()
    path = f"/kennels/{place.here.uid}/litters/{nest.litter}/weigh"
    phone.wait_kept(path)
    [worker] = phone.context.service_workers
    worker.evaluate(
        """async (path) => {
            await (await caches.open("pages")).delete(path);
            const real = self.fetch.bind(self);
            const released = new Promise((resolve) => { self.release = resolve; });
            self.arrived = false;
            self.fetch = async (...given) => {
                const answer = await real(...given);
                if (given[0] !== path) return answer;
                self.arrived = true;
                await released;
                return answer;
            };
        }""",
        path,
    )
    send = "(message) => navigator.serviceWorker.controller.postMessage(message)"
    phone.page.evaluate(send, {"keep": [path]})
    while not worker.evaluate("() => self.arrived"):
        phone.page.wait_for_timeout(20)
    phone.page.evaluate(send, {"forget": "all"})
    phone.until("caches.open('pages').then((c) => c.keys()).then((keys) => keys.length === 0)")
    worker.evaluate("() => { self.release(); }")
    other = f"/kennels/{place.here.uid}/litters/{nest.litter}"
    phone.page.evaluate(send, {"keep": [other]})
    phone.wait_kept(other)
    kept = "caches.open('pages').then((c) => c.keys()).then((all) => all.map((one) => new URL(one.url).pathname))"
    assert phone.page.evaluate(kept) == [other]


def test_losing_the_membership_wipes_the_kennel_from_the_device(
    phone: Phone, place: Place, nest: Nest
) -> None:
    idris = add_member(place, Role.CARER)
    phone.sign_in(idris)
    open_weigh_in(phone, place, nest)
    type_weight(phone, "412")
    phone.wait_states("sent")
    phone.go_offline()
    type_weight(phone, "405")
    phone.wait_unsent("1 waiting to send")
    Membership.objects.filter(carer=idris).update(ended_at=timezone.now())
    phone.go_online()
    phone.page.wait_for_selector("text=You no longer belong to this kennel")
    phone.shows("body", "1 unsent entries")
    phone.wait_states()
    phone.until("caches.open('pages').then((c) => c.keys()).then((keys) => keys.length === 0)")
    assert len(weights_of(place)) == 1


def test_what_a_restored_server_lost_is_sent_again_from_the_devices_of_the_last_14_days(
    phone: Phone, place: Place, nest: Nest, owner: psycopg.Connection
) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    type_weight(phone, "412")
    phone.wait_states("sent")
    # What a restore from an older backup does: rows are gone, the epoch is a new one.
    owner.execute("DELETE FROM litters_weighing")
    owner.execute("ALTER TABLE records_journal DISABLE TRIGGER USER")
    owner.execute("DELETE FROM records_journal WHERE type = 'weighing'")
    owner.execute("ALTER TABLE records_journal ENABLE TRIGGER USER")
    owner.execute("UPDATE records_counter SET epoch = epoch + 1")
    assert weights_of(place) == []
    phone.page.reload()
    phone.wait_ready()
    for _ in range(100):
        if weights_of(place):
            break
        phone.page.wait_for_timeout(100)
    assert [float(w.weight_g) for w in weights_of(place)] == [412]


def test_a_device_whose_clock_is_wrong_says_so(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    told: list[str] = []
    phone.page.on(
        "request",
        lambda request: (
            told.append(request.headers["device-time"]) if request.url.endswith("/batch") else None
        ),
    )
    type_weight(phone, "412")
    phone.wait_states("sent")
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", told[0])


def test_the_copy_of_a_page_is_newer_after_each_visit(phone: Phone, place: Place, nest: Nest) -> None:
    phone.sign_in(place.keeper)
    open_weigh_in(phone, place, nest)
    weigh(place, nest.pups["moss"], 433, hours_ago=4)
    phone.page.reload()
    phone.page.wait_for_selector("#weigh-form[data-ready]", state="attached")
    phone.until(
        "async (path) => (await (await (await caches.open('pages')).match(path)).text()).includes('433')",
        f"/kennels/{place.here.uid}/litters/{nest.litter}/weigh",
    )
    phone.go_offline()
    phone.page.reload()
    phone.page.wait_for_selector("#weigh-form[data-ready]", state="attached")
    phone.shows("[data-pup]", "433 g")

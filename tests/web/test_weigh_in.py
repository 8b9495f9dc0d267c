"""The weigh-in on a phone."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kennel.people.choices import Role
from kennel.records import door
from litters.models import Weighing
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import make_nest, weigh
from tests.web.conftest import MakePhone, Phone

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]


def weights_of(place: Place) -> list[Weighing]:
    """Weighings of the kennel that count, in order of arrival."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(Weighing.objects.filter(deleted_at=None).select_related("pup").order_by("id"))


def type_weight(phone: Phone, text: str) -> None:
    """Type a weight and press the large button."""
    phone.page.fill("[name=entered_value]", text)
    phone.page.click("#weigh-save")


def test_a_whole_litter_is_weighed_without_touching_anything_but_numbers_and_one_button(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place)
    for pup in nest.pups.values():
        weigh(place, pup, 400, hours_ago=12)
    phone.sign_in(place.keeper)
    phone.page.get_by_role("link", name="Weigh Sorrel's", exact=True).click()
    phone.page.wait_for_selector("#weigh-form[data-ready]")
    for band, grams in (("Moss", "412"), ("Rust", "405.5"), ("Teal", "398")):
        phone.shows("#weigh-who", band)
        type_weight(phone, grams)
        phone.until("(t) => document.getElementById('weigh-kept').textContent.includes(t)", grams)
    phone.page.wait_for_selector("#weigh-done:visible")
    phone.wait_states("sent", "sent", "sent")
    phone.wait_unsent("All sent")
    assert [(w.pup.band, float(w.weight_g)) for w in weights_of(place)[3:]] == [
        ("moss", 412),
        ("rust", 405.5),
        ("teal", 398),
    ]
    expect(phone.page.locator("[data-pup][data-state=sent]")).to_have_count(3)
    phone.page.reload()
    phone.wait_ready()
    expect(phone.page.get_by_text("All 3 are weighed.")).to_be_visible()
    phone.shows("[data-pup]", "saved")


def test_the_change_since_the_last_weighing_is_said_at_once(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    weigh(place, nest.pups["moss"], 412, hours_ago=12)
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    type_weight(phone, "400")
    phone.until("document.getElementById('weigh-kept').textContent.includes('−12 g since')")


def test_an_unlikely_weight_needs_a_second_press(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    weigh(place, nest.pups["moss"], 412, hours_ago=12)
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    type_weight(phone, "4120")
    phone.shows("#weigh-look", "far from what Moss weighed last")
    assert phone.entries() == []
    phone.page.click("#weigh-save")
    phone.page.wait_for_selector("#weigh-done:visible")
    phone.wait_states("sent")
    assert [float(w.weight_g) for w in weights_of(place)] == [412, 4120]


def test_a_weight_can_be_taken_back_after_it_was_sent(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss", "rust"))
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    type_weight(phone, "412")
    phone.wait_states("sent")
    assert len(weights_of(place)) == 1
    phone.page.click("text=Take it back")
    phone.until("document.getElementById('weigh-who').textContent === 'Moss'")
    phone.until(
        "import('/static/web/store.js').then((s) => s.allEntries()).then((all) => Boolean(all[0].deleted_at))"
    )
    assert weights_of(place) == []


def test_a_weight_told_later_keeps_the_time_in_the_kennels_zone(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    phone.page.click("summary")
    then = (timezone.now() - timedelta(hours=5)).replace(second=0, microsecond=0)
    wall = then.astimezone(ZoneInfo("Europe/London"))  # the phone itself is set to New York
    phone.page.fill("[name=occurred_at]", wall.strftime("%Y-%m-%dT%H:%M"))
    type_weight(phone, "412")
    phone.wait_states("sent")
    assert weights_of(place)[0].occurred_at == then


def test_the_carers_unit_is_chosen_and_ounces_arrive_as_typed(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    place.keeper.mass_unit = "oz"
    place.keeper.save(update_fields=["mass_unit"])
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    assert phone.page.input_value("[name=entered_unit]") == "oz"
    type_weight(phone, "14,53")
    phone.wait_states("sent")
    weighing = weights_of(place)[0]
    # 14.53 oz x 28.349523125 g (NIST Special Publication 811, appendix B.8) = 411.92 g
    assert (str(weighing.entered_value), weighing.entered_unit, str(weighing.weight_g)) == (
        "14.530",
        "oz",
        "411.92",
    )


def test_a_refused_weight_is_kept_with_its_reason_and_does_not_block_the_next(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss", "rust"))
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/weigh")
    type_weight(phone, "200000")
    phone.page.click("#weigh-save")
    phone.until("document.getElementById('weigh-who').textContent === 'Rust'")
    type_weight(phone, "405")
    phone.wait_states("attention", "sent")
    phone.wait_unsent("1 needs attention")
    assert [w.pup.band for w in weights_of(place)] == ["rust"]
    phone.page.click("#unsent")
    phone.page.wait_for_selector("#outbox [data-state=attention]")
    phone.shows("#outbox", "Weight of Moss: 200000 g")
    phone.shows("#outbox", "less than or equal to 120000")
    phone.page.click("text=Remove from this device")
    phone.page.click("text=It is stored nowhere else. Remove?")
    phone.wait_states("sent")
    phone.wait_unsent("All sent")


def test_a_grown_dog_is_weighed_by_the_plain_entry_form(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss",))
    phone.sign_in(place.keeper)
    phone.open(place, f"dogs/{nest.dam}/weigh")
    assert phone.page.input_value("[name=entered_unit]") == "kg"
    phone.page.fill("[name=entered_value]", "19.4")
    phone.page.click("main button[type=submit]")
    phone.page.wait_for_selector("[data-entry-state][data-state=sent]")
    weighing = weights_of(place)[0]
    assert (float(weighing.weight_g), weighing.pup) == (19400, None)


def test_the_weigh_in_works_with_scripts_switched_off(make_phone: MakePhone) -> None:
    place = make_kennel()
    nest = make_nest(place, ("moss", "rust"))
    phone = make_phone(scripts=False)
    page = phone.page
    page.goto(f"{phone.server.url}/accounts/login/")
    page.fill("[name=login]", place.keeper.email)
    page.fill("[name=password]", "wool-band-4711")
    page.click("main button[type=submit] >> nth=0")
    page.wait_for_url(lambda url: "/accounts/" not in url)
    page.goto(f"{phone.server.url}/kennels/{place.here.uid}/litters/{nest.litter}/weigh")
    page.fill("[name=entered_value]", "412")
    page.click("#weigh-save")
    phone.shows("main", "Saved: Moss 412 g.")
    phone.shows("#weigh-who", "Rust")
    assert [w.pup.band for w in weights_of(place)] == ["moss"]


def test_a_reader_is_not_offered_the_weigh_in(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place)
    phone.sign_in(add_member(place, Role.READER))
    assert "Moss" in phone.page.inner_text("main")
    assert phone.page.get_by_role("link", name="Weigh", exact=True).count() == 0
    assert phone.page.get_by_role("link", name="Weigh Sorrel's", exact=True).count() == 0
    answer = phone.page.goto(f"{phone.server.url}/kennels/{place.here.uid}/litters/{nest.litter}/weigh")
    assert answer is not None
    assert answer.status == 403

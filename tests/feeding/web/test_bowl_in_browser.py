"""The bowl on a phone without network: the meal is kept on the device and arrives once."""

import pytest
from django.utils import timezone

from feeding.models import Meal
from kennel.records import door
from tests.factories.people import Place, make_kennel
from tests.feeding.world import make_nest
from tests.web.conftest import Phone, browser, make_phone, phone, server

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]
__all__ = ["browser", "make_phone", "phone", "server"]  # fixtures of the browser tests


def meals_of(place: Place) -> list[Meal]:
    """Meals of the kennel in order of arrival."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(Meal.objects.order_by("id"))


def test_a_meal_is_recorded_without_network_and_arrives_once(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=60, pups=2)
    phone.sign_in(place.keeper)
    phone.open(place, f"litters/{nest.litter}/bowl")
    phone.wait_ready()
    phone.page.wait_for_selector("#bowl-form[data-ready]")
    phone.wait_for_worker()
    phone.wait_kept(f"/kennels/{place.here.uid}/litters/{nest.litter}/bowl")
    phone.go_offline()
    phone.page.reload()
    phone.page.wait_for_selector("#bowl-form[data-ready]")
    phone.page.fill("[name=dry_g]", "133")
    phone.page.fill("[name=left_wet_g]", "12,5")
    phone.page.check(f"#absent-{nest.pups['rust']}")
    phone.page.click("text=Save the meal")
    phone.until("() => document.querySelector('[data-entry-state]').textContent.includes('waiting to send')")
    assert meals_of(place) == []
    phone.go_online()
    phone.wait_states("sent")
    found = meals_of(place)
    assert [(float(m.dry_g), float(m.left_wet_g or 0), m.absent) for m in found] == [
        (133, 12.5, [nest.pups["rust"]])
    ]

"""The worming day on a phone without network: each ticked pup's treatment is kept on the device and arrives once."""

import pytest
from django.utils import timezone

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from health.models import Treatment
from kennel.records import door
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_nest, make_record, weigh
from tests.web.conftest import Phone, browser, make_phone, phone, server

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]
__all__ = ["browser", "make_phone", "phone", "server"]  # fixtures of the browser tests


def given_in(place: Place) -> list[Treatment]:
    """Treatments of the kennel in order of arrival."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(Treatment.objects.select_related("pup").order_by("id"))


def test_a_worming_day_without_network_arrives_once_for_each_pup_that_was_ticked(phone: Phone) -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=28)
    for pup in nest.pups.values():
        weigh(place, pup, 1000, hours_ago=2)
    medicine = make_record(place, "medicine", **body_of(PUBLISHED_LABELS["pyrantel_us_suspension"]))
    path = f"litters/{nest.litter}/worming-day/{medicine}"
    phone.sign_in(place.keeper)
    phone.open(place, path)
    phone.page.wait_for_selector("#worming-form[data-ready]")
    phone.wait_for_worker()
    phone.wait_kept(f"/kennels/{place.here.uid}/{path}")
    phone.go_offline()
    phone.page.reload()
    phone.page.wait_for_selector("#worming-form[data-ready]")
    phone.page.click("text=Save what was given")
    phone.page.wait_for_selector("[data-nobody]:visible")
    phone.page.fill("[name=lot]", "L 4711")
    phone.page.check(f"#give-{nest.pups['moss']}")
    phone.page.check(f"#give-{nest.pups['teal']}")
    phone.page.fill(f"#amount-{nest.pups['teal']}", "2,5")
    phone.page.select_option(f"#outcome-{nest.pups['teal']}", "spat_out")
    phone.page.click("text=Save what was given")
    phone.wait_states("waiting", "waiting")
    phone.until(
        "([pup]) => document.querySelector(`[data-pup='${pup}'] [data-entry-state]`).textContent"
        ".includes('waiting to send')",
        [nest.pups["teal"]],
    )
    assert given_in(place) == []
    phone.go_online()
    phone.wait_states("sent", "sent")
    # 21 CFR 520.2042: 4.54 mg/lb x 1 kg / 0.45359237 kg/lb = 10.009 mg; at 4.54 mg/mL 2.20 mL (2.2046 unrounded).
    assert [(t.pup.band, float(t.amount or 0), t.outcome, t.lot) for t in given_in(place)] == [
        ("moss", 2.2, "given", "L 4711"),
        ("teal", 2.5, "spat_out", "L 4711"),
    ]

"""The pages of pregnancy, whelping and warmth: WCAG 2.2 AA by axe-core, narrow phones, and entries without network."""

from datetime import timedelta
from typing import Literal

import pytest
from django.utils import timezone

from kennel.records import door
from litters.models import Temperature
from tests.factories.people import Place, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh
from tests.web.conftest import MakePhone, Phone
from tests.web.test_accessibility import small_targets, violations

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]


def world() -> tuple[Place, Nest, dict[str, str]]:
    """An expected litter with evidence and a whelping log, and a young litter with a pup that loses weight."""
    place = make_kennel()
    nest = make_nest(place)
    for band, first, last in (("moss", 400, 436), ("rust", 400, 372), ("teal", 400, 434)):
        weigh(place, nest.pups[band], first, hours_ago=25)
        weigh(place, nest.pups[band], last, hours_ago=1)
    dam = make_record(place, "dog", name="Bramble", sex="female", adult_weight_kg=19)
    litter = make_record(place, "litter", name="Bramble's", dam=dam)
    mated_at = (timezone.now() - timedelta(days=62)).isoformat()
    make_record(place, "mating", dam=dam, occurred_at=mated_at)
    for minutes, kind in ((40, "stage_one_began"), (32, "straining_began")):
        at = (timezone.now() - timedelta(minutes=minutes)).isoformat()
        make_record(place, "whelping-entry", litter=litter, kind=kind, occurred_at=at)
    paths = {
        "expected": f"litters/{litter}",
        "growing": f"litters/{nest.litter}",
        "whelping": f"litters/{litter}/whelping",
        "vet-card": f"litters/{litter}/vet-card",
        "temperature": f"litters/{nest.litter}/temperature",
        "climate": f"litters/{nest.litter}/climate",
        "dog-temperature": f"dogs/{dam}/temperature",
        "season": f"dogs/{dam}/season",
        "progesterone": f"dogs/{dam}/progesterone",
        "mating": f"dogs/{dam}/mating",
    }
    return place, nest, paths


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_the_guidelines(make_phone: MakePhone, scheme: Literal["light", "dark"]) -> None:
    place, _, paths = world()
    phone = make_phone(scheme)
    phone.sign_in(place.keeper)
    broken = {}
    for name, path in paths.items():
        phone.open(place, path)
        broken[name] = violations(phone) + small_targets(phone)
    assert {name: found for name, found in broken.items() if found} == {}


def test_nothing_runs_off_the_side_of_a_narrow_phone(make_phone: MakePhone) -> None:
    place, _, paths = world()
    phone = make_phone("light", {"width": 320, "height": 640})
    phone.sign_in(place.keeper)
    wide = {}
    for name, path in paths.items():
        phone.open(place, path)
        over = phone.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        if over > 0:
            wide[name] = over
    assert wide == {}


def test_a_temperature_typed_without_network_is_kept_and_sent_later(phone: Phone) -> None:
    place, nest, paths = world()
    phone.sign_in(place.keeper)
    phone.open(place, paths["temperature"])
    phone.page.context.set_offline(True)
    phone.page.select_option("[name=pup]", nest.pups["rust"])
    phone.page.fill("[name=entered_value]", "34.8")
    phone.page.click("main button[type=submit]")
    state = phone.page.locator("[data-entry-state]")
    state.wait_for(state="visible")
    phone.shows("[data-entry-state]", "Kept on this device")
    phone.page.context.set_offline(False)
    phone.page.wait_for_selector("[data-entry-state][data-state=sent]", timeout=20_000)
    with door.read(place.here, place.actor, timezone.now()):
        kept = list(Temperature.objects.all())
    assert [(float(one.temp_c), [w["code"] for w in one.warnings]) for one in kept] == [
        (34.8, ["pup_temperature"])
    ]

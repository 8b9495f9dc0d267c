"""WCAG 2.2 AA by axe-core on every page, in light and dark; targets; keyboard."""

from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe

from kennel.people.choices import Role
from kennel.records.door import Actor
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh
from tests.web.conftest import MakePhone, Phone

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
LEAST_TARGET_PX = 44


def world() -> tuple[Place, Nest, dict[str, str]]:
    """A kennel with everything the pages can show, and the paths of all of them."""
    place = make_kennel()
    idris = add_member(place, Role.CARER)
    nest = make_nest(place)
    moss = nest.pups["moss"]
    first = weigh(place, moss, 412, hours_ago=12)
    weigh(place, moss, 413, hours_ago=11.9, by=Actor(role=Role.CARER, carer_id=idris.pk, name=idris.name))
    make_record(
        place, "litter", name="Bramble's", dam=make_record(place, "dog", name="Bramble", sex="female")
    )
    rows = [
        {"age_days": day, "power": 1, "median_kg": kg, "spread": 0.1}
        for day, kg in ((84, 6), (91, 60), (168, 14))
    ]
    given = {"supplied_by": "Dr Reed", "supplied_on": "2026-01-05", "source": "a sheet"}
    table = make_record(place, "growth-table", name="All our dogs", rows=rows, **given)
    older = make_nest(place, days_old=120, name="Teasel's")
    for hours_ago, grams in ((24 * 20, 7600), (24, 7800)):
        weigh(place, older.pups["moss"], grams, hours_ago=hours_ago)
    paths = {
        "home": "",
        "menu": "menu",
        "dogs": "dogs",
        "dog": f"dogs/{nest.dam}",
        "dog-new": "dogs/new",
        "dog-weigh": f"dogs/{nest.dam}/weigh",
        "litters": "litters",
        "litter": f"litters/{nest.litter}",
        "litter-new": "litters/new",
        "litter-change": f"litters/{nest.litter}/change",
        "pup": f"pups/{moss}",
        "pup-new": f"litters/{nest.litter}/pups/new",
        "pup-death": f"pups/{moss}/death",
        "weigh": "weigh",
        "weigh-in": f"litters/{nest.litter}/weigh",
        "weighing-correct": f"weighings/{first}/correct",
        "weighing-remove": f"weighings/{first}/remove",
        "litter-health": f"litters/{nest.litter}/health",
        "dog-health": f"dogs/{nest.dam}/health",
        "pup-health": f"pups/{moss}/health",
        "figures": "figures",
        "growth-tables": "growth-tables",
        "growth-table": f"growth-tables/{table}",
        "growth-table-new": "growth-tables/new",
        "growth-table-change": f"growth-tables/{table}/change",
        "pup-in-growth-table": f"pups/{older.pups['moss']}",
        "figure-agree": "figures/growth/milk_from_c.from_day_0",
    }
    return place, nest, paths


def violations(phone: Phone) -> list[str]:
    """What axe-core finds, in words.  At the end of the page the bar at the thumb covers nothing."""
    phone.page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    found = Axe().run(phone.page, options=RULES)
    return [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found.response["violations"]]


CONTROLS = "a[href], button, input:not([type=hidden]), select, textarea, summary"
IN_A_SENTENCE = "p:not(.actions):not(.vet p), dd"


def small_targets(phone: Phone) -> list[str]:
    """Controls smaller than a gloved finger; links inside a sentence are exempt (WCAG 2.2, 2.5.8)."""
    found: list[str] = phone.page.evaluate(
        """([controls, inSentence, least]) => [...document.querySelectorAll(controls)]
            .filter((e) => e.offsetParent !== null && !e.closest(inSentence) && !e.matches('.skip'))
            .filter((e) => {
                const box = (e.type === 'checkbox' ? e.closest('label') : e).getBoundingClientRect();
                return box.height > 0 && box.height < least - 0.5;
            }).map((e) => e.outerHTML.slice(0, 120))""",
        [CONTROLS, IN_A_SENTENCE, LEAST_TARGET_PX],
    )
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_the_guidelines(make_phone: MakePhone, scheme: Literal["light", "dark"]) -> None:
    place, _, paths = world()
    phone = make_phone(scheme)
    phone.page.goto(f"{phone.server.url}/accounts/login/")
    broken = {"sign-in": violations(phone)}
    phone.sign_in(place.keeper)
    for name, path in paths.items():
        phone.open(place, path)
        broken[name] = violations(phone) + small_targets(phone)
    for path in ("/kennels", "/kennels/new", "/offline", "/outbox", "/no-such-page"):
        phone.page.goto(phone.server.url + path)
        phone.wait_ready()
        broken[path] = violations(phone) + small_targets(phone)
    assert {name: found for name, found in broken.items() if found} == {}


def test_forms_that_were_refused_break_no_guideline_either(phone: Phone) -> None:
    place, _, paths = world()
    phone.sign_in(place.keeper)
    phone.open(place, paths["dog-new"])
    phone.page.click("main button[type=submit]")
    phone.page.wait_for_selector(".refused")
    assert violations(phone) == []
    assert phone.page.get_attribute("[name=name]", "aria-invalid") == "true"
    described = phone.page.get_attribute("[name=name]", "aria-describedby") or ""
    assert "Please fill this in" in phone.page.inner_text(f"#{described.split()[-1]}")


def test_a_wide_screen_shows_the_menu_in_words_and_breaks_nothing(make_phone: MakePhone) -> None:
    place, _, _ = world()
    phone = make_phone("light", {"width": 1280, "height": 800})
    phone.sign_in(place.keeper)
    assert phone.page.locator("nav.wide").is_visible()
    assert not phone.page.locator("nav.thumb").is_visible()
    assert violations(phone) == []


def test_nothing_runs_off_the_side_of_a_narrow_phone_or_at_twice_the_text_size(make_phone: MakePhone) -> None:
    place, _, paths = world()
    phone = make_phone("light", {"width": 320, "height": 640})
    phone.sign_in(place.keeper)
    wide = {}
    for name, path in paths.items():
        phone.open(place, path)
        # WCAG 2.2: 1.4.10 (320 px without scrolling sideways), 1.4.4 (text at 200 %).
        for width, size in ((320, "112.5%"), (640, "225%")):
            phone.page.set_viewport_size({"width": width, "height": 640})
            phone.page.evaluate("(size) => { document.documentElement.style.fontSize = size; }", size)
            over = phone.page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            if over > 0:
                wide[name, size] = over
    assert wide == {}


def test_a_weight_is_entered_with_the_keyboard_alone(phone: Phone) -> None:
    place, _, paths = world()
    phone.sign_in(place.keeper)
    phone.open(place, paths["weigh-in"])
    phone.page.wait_for_selector("#weigh-form[data-ready]")
    phone.page.keyboard.press("Tab")
    assert phone.page.evaluate("document.activeElement.className") == "skip"
    phone.page.keyboard.press("Enter")
    seen = []
    for _ in range(12):
        phone.page.keyboard.press("Tab")
        seen.append(phone.page.evaluate("document.activeElement.name ?? document.activeElement.id"))
        outline = phone.page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", seen
        if seen[-1] == "entered_value":
            break
    who = phone.page.inner_text("#weigh-who")
    phone.page.keyboard.type("420")
    phone.page.keyboard.press("Enter")
    phone.until("(who) => document.getElementById('weigh-who').textContent !== who", who)
    phone.until("document.activeElement.name === 'entered_value'")
    phone.wait_states("sent")

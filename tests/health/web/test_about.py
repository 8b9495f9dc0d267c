"""From a litter, a dam or a pup to its health, and from a litter to feeding and the import of its weights."""

import pytest
from django.utils import timezone

from kennel.people.choices import Role
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record
from tests.web.pages import Pages, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def nest(place: Place) -> Nest:
    return make_nest(place, days_old=28)


def ways(pages: Pages, path: str) -> str:
    """The part of a page that leads on, without the menu."""
    html = pages.get(path).content.decode()
    return html.split('<nav class="ways"')[1].split("</nav>")[0]


def follow(pages: Pages, path: str, text: str) -> str:
    """The words of the page behind the one link with this text."""
    html = ways(pages, path)
    parts = html.split(f">{text}</a>")
    assert len(parts) == 2, f"{len(parts) - 1} links say {text}"
    address = parts[0].rsplit('href="', 1)[1].split('"')[0]
    answer = pages.get(address)
    assert answer.status_code == 200, address
    return words(answer)


def fill(place: Place, nest: Nest) -> None:
    """Something of everything for moss, the dam and the litter."""
    now = timezone.now().isoformat()
    medicine = make_record(place, "medicine", name="Wormer", active="pyrantel", form="liquid")
    calcium = make_record(place, "medicine", name="Calcium", active="calcium", form="liquid", purpose="other")
    moss = nest.pups["moss"]
    make_record(place, "treatment", pup=moss, medicine=medicine, occurred_at=now, lot="L 4711")
    make_record(place, "treatment", dog=nest.dam, medicine=calcium, occurred_at=now)
    make_record(
        place, "health-event", litter=nest.litter, kind="test", result="no eggs found", occurred_at=now
    )
    make_record(place, "watch", pup=moss, level="watch", reasons=["gains too little"], opened_at=now)
    make_record(place, "treatment-plan", litter=nest.litter, scheme="capc", name="Worming of the litter")
    make_record(place, "treatment-plan", dog=nest.dam, scheme="kennel_monthly", name="Worming of the dam")


def test_a_litter_leads_to_what_concerns_its_pups_and_a_pup_to_its_own(place: Place, nest: Nest) -> None:
    fill(place, nest)
    pages = Pages(place)
    shown = follow(pages, f"litters/{nest.litter}", "Health")
    for words_of in (
        "moss: Wormer",
        "L 4711",
        "no eggs found",
        "gains too little",
        "Worming of the litter",
        "Worming day",
    ):
        assert words_of in shown, words_of
    assert "Calcium" not in shown
    moss = follow(pages, f"pups/{nest.pups['moss']}", "Health")
    assert "Wormer" in moss
    assert "no eggs found" in moss
    rust = follow(pages, f"pups/{nest.pups['rust']}", "Health")
    assert "Wormer" not in rust
    assert "gains too little" not in rust


def test_a_dam_leads_to_her_own_treatments(place: Place, nest: Nest) -> None:
    fill(place, nest)
    shown = follow(Pages(place), f"dogs/{nest.dam}", "Treatments and health")
    assert "Sorrel: Calcium" in shown
    assert "Worming of the dam" in shown
    assert "Wormer" not in shown


def test_a_litter_leads_to_its_feeding_and_to_the_import_with_itself_chosen(place: Place, nest: Nest) -> None:
    make_nest(place, days_old=4, name="Bramble's")
    pages = Pages(place)
    assert "Feeding Sorrel's" in follow(pages, f"litters/{nest.litter}", "Feeding")
    html = pages.get(f"import-weights?litter={nest.litter}").content.decode()
    assert f'value="{nest.litter}" selected' in html
    assert "Weights from a file" in follow(pages, f"litters/{nest.litter}", "Import weights")
    assert "Bottle" in pages.get(f"pups/{nest.pups['moss']}").content.decode()


def test_a_reader_is_led_only_where_a_reader_may_look(place: Place, nest: Nest) -> None:
    pages = Pages(place, add_member(place, Role.READER))
    assert "Import weights" not in ways(pages, f"litters/{nest.litter}")
    assert "Worming day" not in follow(pages, f"litters/{nest.litter}", "Health")


def test_the_health_of_another_kennels_animals_is_not_found(place: Place, nest: Nest) -> None:
    other = Pages(make_kennel())
    for path in (
        f"litters/{nest.litter}/health",
        f"dogs/{nest.dam}/health",
        f"pups/{nest.pups['moss']}/health",
    ):
        assert other.get(path).status_code == 404

"""Entering a growth table on a page, and reading a pup against it on its own page."""

from datetime import timedelta

import pytest

from kennel.people.choices import Role
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record
from tests.web.pages import Pages, form_values, words

pytestmark = pytest.mark.usefixtures("db")

GIVEN = {"name": "All our dogs", "supplied_by": "Dr Reed", "source": "the vet's own sheet"}
LINES = "week L M S\n12 1 6 0.1\n24 1 14 0.1"


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def pages(place: Place) -> Pages:
    return Pages(place)


def weigh_at(place: Place, nest: Nest, day: float, grams: float) -> None:
    at = (nest.born_at("moss") + timedelta(days=day)).isoformat()
    make_record(place, "weighing", pup=nest.pups["moss"], weight_g=grams, occurred_at=at)


def test_a_pasted_table_is_stored_and_shown_and_pups_are_read_against_it(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=120)
    weigh_at(place, nest, 90, 6500)
    weigh_at(place, nest, 118, 6800)
    before = words(pages.get(f"pups/{nest.pups['moss']}"))
    assert "No growth table is stored" in before
    saved = pages.fill("growth-tables/new", **GIVEN, rows_text=LINES)
    assert saved.status_code == 302, words(saved)
    table = words(pages.get(saved.url))
    for said in ("All our dogs", "both sexes, any adult weight", "Dr Reed", "84", "168", "14"):
        assert said in table
    assert "day 84 to day 168" in words(pages.get("growth-tables"))
    pup = words(pages.get(f"pups/{nest.pups['moss']}"))
    assert "centile lines crossed downwards since day 90" in pup
    assert "show the vet" in pup
    assert "it is no target" in pup


def test_a_pup_under_twelve_weeks_is_not_compared(place: Place, pages: Pages) -> None:
    pages.fill("growth-tables/new", **GIVEN, rows_text=LINES)
    nest = make_nest(place, days_old=80)
    assert "In growth tables" not in words(pages.get(f"pups/{nest.pups['moss']}"))


def test_lines_that_cannot_be_read_are_named_and_what_was_typed_stays(place: Place, pages: Pages) -> None:
    refused = pages.fill(
        "growth-tables/new", name="", supplied_by="Dr Reed", source="x", rows_text="12 1 6\n24 1 14 0.1"
    )
    assert refused.status_code == 422
    said = words(refused)
    assert "Line 1: four numbers are expected, not 3." in said
    assert "Please fill this in." in said
    assert "24 1 14 0.1" in refused.content.decode()
    early = pages.fill("growth-tables/new", **GIVEN, rows_text="8 1 3 0.1\n24 1 14 0.1")
    assert early.status_code == 422
    assert "Row 1, age: Input should be greater than or equal to 84" in words(early)
    falling = pages.fill("growth-tables/new", **GIVEN, rows_text="24 1 14 0.1\n12 1 6 0.1")
    assert "rising age" in words(falling)
    assert DeviceClient(place).get("growth-tables").json()["results"] == []


def test_a_row_that_looks_mistyped_is_asked_about(pages: Pages) -> None:
    lines = "12 1 6 0.1\n13 1 66 0.1\n24 1 14 0.1"
    saved = pages.fill("growth-tables/new", **GIVEN, rows_text=lines)
    assert "from 6 kg on day 84 to 66 kg on day 91" in words(pages.get(saved.url))
    assert "looks mistyped" in words(pages.get("growth-tables"))


def test_a_mistyped_row_is_corrected_on_the_page_and_nothing_of_others_is_overwritten(
    place: Place, pages: Pages
) -> None:
    saved = pages.fill("growth-tables/new", **GIVEN, rows_text="12 1 6 0.1\n13 1 66 0.1\n24 1 14 0.1")
    change = f"{saved.url}/change"
    opened = form_values(pages.get(change).content.decode())
    assert opened["rows_text"].split("\n") == ["84 1 6 0.1", "91 1 66 0.1", "168 1 14 0.1"]
    refused = pages.post(change, opened | {"rows_text": "84 1 6"})
    assert refused.status_code == 422
    assert "Line 1: four numbers are expected, not 3." in words(refused)
    mended = pages.post(change, opened | {"rows_text": opened["rows_text"].replace("66", "6.6")})
    assert mended.status_code == 302
    uid = saved.url.rsplit("/", 1)[1]
    client = DeviceClient(place)
    table = client.get(f"growth-tables/{uid}").json()
    assert [row["median_kg"] for row in table["rows"]] == [6, 6.6, 14]
    assert table["version"] == 2
    # Somebody still has the old page open: the mended row stays, and both are shown.
    late = pages.post(change, opened | {"rows_text": opened["rows_text"].replace("14", "15")})
    assert late.status_code == 422
    assert "Lines, as they stand now: 84 1 6 0.1; 91 1 6.6 0.1; 168 1 14 0.1" in words(late)
    assert client.get(f"growth-tables/{uid}").json()["rows"] == table["rows"]
    # Who did not touch the lines does not turn them back.
    late = pages.post(change, opened | {"name": "Ours"})
    assert late.status_code == 422
    again = form_values(late.content.decode())
    assert "91 1 6.6 0.1" in again["rows_text"]
    assert pages.post(change, again).status_code == 302
    renamed = client.get(f"growth-tables/{uid}").json()
    assert (renamed["name"], renamed["rows"]) == ("Ours", table["rows"])


def test_a_removed_table_is_not_read_and_comes_back(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=120)
    weigh_at(place, nest, 90, 6000)
    saved = pages.fill("growth-tables/new", **GIVEN, rows_text=LINES)
    assert pages.fill(saved.url).status_code == 302
    assert "This table was removed" in words(pages.get(saved.url))
    assert "On the" not in words(pages.get(f"pups/{nest.pups['moss']}"))
    assert pages.fill(saved.url, restore="yes").status_code == 302
    assert "On the" in words(pages.get(f"pups/{nest.pups['moss']}"))
    assert pages.post(saved.url, {"version": "1"}).status_code == 409


def test_a_carer_looks_and_does_not_enter(place: Place, pages: Pages) -> None:
    saved = pages.fill("growth-tables/new", **GIVEN, rows_text=LINES)
    carer = Pages(place, add_member(place, Role.CARER))
    assert carer.get("growth-tables").status_code == 200
    assert "Remove this table" not in words(carer.get(saved.url))
    assert carer.get("growth-tables/new").status_code == 403
    assert carer.post(saved.url, {"version": "1"}).status_code == 403
    assert carer.get(f"{saved.url}/change").status_code == 403
    assert Pages(make_kennel()).get(saved.url).status_code == 404

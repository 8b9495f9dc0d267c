"""The page that imports weights, without scripts: choose, look, store."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from kennel.people.choices import Role
from kennel.records import door
from litters.models import Weighing
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import make_nest
from tests.web.pages import Pages, form_values, words

pytestmark = pytest.mark.usefixtures("db")
GRID = b"Day;moss (oz);rust (oz);violet (oz)\n1;14,5;13;12\n2;15,25;;12\n"


def upload(pages: Pages, litter: str, content: bytes, **more: str) -> Any:
    data = {"litter": litter, "unit": "", "file": SimpleUploadedFile("weights.csv", content)} | more
    return pages.post("import-weights", data)


def stored(place: Place) -> list[Weighing]:
    with door.read(place.here, place.actor, place.keeper.joined_at):
        return list(Weighing.objects.order_by("id"))


def test_a_file_is_looked_at_first_then_stored_and_a_second_time_nothing_is_new() -> None:
    place = make_kennel()
    pages, nest = Pages(place), make_nest(place)
    assert "Import weights" in words(pages.get("menu"))
    seen = upload(pages, nest.litter, GRID)
    assert seen.status_code == 200
    text = words(seen)
    assert "Store 3 weights" in text
    assert "No pup of this litter is called “violet”" in text
    assert stored(place) == []
    kept = pages.post("import-weights", form_values(seen.content.decode()) | {"confirm": "yes"})
    assert kept.status_code == 200
    assert sorted(str(weighing.weight_g) for weighing in stored(place)) == ["368.54", "411.07", "432.33"]
    again = words(upload(pages, nest.litter, GRID))
    assert "Here already 3" in again
    assert "Store 3 weights" not in again


def test_a_file_without_refusals_leads_back_to_the_litter() -> None:
    place = make_kennel()
    pages, nest = Pages(place), make_nest(place)
    seen = upload(pages, nest.litter, b"Day,moss,rust\n1,400,410\n", unit="g")
    kept = pages.post("import-weights", form_values(seen.content.decode()) | {"confirm": "yes"})
    assert kept.status_code == 302
    assert kept.headers["Location"].endswith(f"/litters/{nest.litter}")
    assert "Stored: 2 weights." in words(pages.get(kept.headers["Location"]))


@pytest.mark.parametrize("content", [b"hello", b"", b"PK\x03\x04nothing", b"Day,moss\n" + b"1,400\n" * 5000])
def test_a_file_that_cannot_be_read_is_said_on_the_form(content: bytes) -> None:
    place = make_kennel()
    pages, nest = Pages(place), make_nest(place)
    answer = upload(pages, nest.litter, content)
    assert answer.status_code == 422
    assert 'class="refused"' in answer.content.decode()
    assert stored(place) == []


def test_words_of_a_file_are_shown_as_text() -> None:
    place = make_kennel()
    pages, nest = Pages(place), make_nest(place)
    html = upload(pages, nest.litter, b"Day,moss,<script>alert(1)</script>\n1,400 g,410 g\n").content.decode()
    assert "<script>alert(1)" not in html
    assert "&lt;script&gt;alert(1)" in html


def test_readers_other_kennels_and_strangers_stay_outside() -> None:
    place, other = make_kennel(), make_kennel("Fenside")
    nest = make_nest(place)
    reader = Pages(place, add_member(place, Role.READER))
    assert reader.get("import-weights").status_code == 403
    assert upload(reader, nest.litter, GRID).status_code == 403
    assert upload(Pages(other), nest.litter, GRID).status_code == 404
    assert upload(Pages(place, other.keeper), nest.litter, GRID).status_code == 404
    assert stored(place) == []

"""Pages before and during whelping, and what a litter's page says of growth; without scripts."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from kennel.records import door
from litters.models import BoxClimate, Mating, Season, Temperature, WhelpingEntry
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_nest, make_record, weigh
from tests.web.pages import Pages, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel(zone="UTC")


@pytest.fixture
def pages(place: Place) -> Pages:
    return Pages(place)


def stored(place: Place, model: Any) -> list[Any]:
    with door.read(place.here, place.actor, timezone.now()):
        return list(model.objects.order_by("id"))


def test_an_expected_litter_shows_its_window_and_what_to_do_when(place: Place, pages: Pages) -> None:
    dam = make_record(place, "dog", name="Bramble", sex="female", adult_weight_kg=19)
    litter = make_record(place, "litter", name="Bramble's", dam=dam)
    assert "Nothing on record dates this pregnancy yet" in words(pages.get(f"litters/{litter}"))
    mated_at = timezone.now() - timedelta(days=30)
    make_record(place, "mating", dam=dam, occurred_at=mated_at.isoformat())
    told = words(pages.get(f"litters/{litter}"))
    # 58 to 72 days from the first mating, likeliest 63 (Merck Veterinary Manual).
    for days in (58, 63, 72):
        due = (mated_at + timedelta(days=days)).date()
        assert f"{due.day} {due:%b}" in told
    assert "X-ray to count the pups" in told
    assert "A vet's instruction goes before it" in told


def test_a_litters_page_names_the_pup_to_keep_an_eye_on_and_why(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=4)
    for band, first, last in (("moss", 400, 436), ("rust", 400, 372), ("teal", 400, 434)):
        weigh(place, nest.pups[band], first, hours_ago=25)
        weigh(place, nest.pups[band], last, hours_ago=1)
    told = words(pages.get(f"litters/{nest.litter}"))
    panel = told[told.index("Keep an eye on") : told.index("Where to look first")]
    assert "Rust – act today" in panel
    assert "Moss" not in panel
    assert "does not find what ails them" in told


def test_the_log_of_a_whelping_is_entered_line_by_line_and_raises_its_flags(
    place: Place, pages: Pages
) -> None:
    dam = make_record(place, "dog", name="Bramble", sex="female", adult_weight_kg=19)
    litter = make_record(place, "litter", name="Bramble's", dam=dam)
    began = (timezone.now() - timedelta(minutes=35)).strftime("%Y-%m-%dT%H:%M")
    path = f"litters/{litter}/whelping"
    saved = pages.fill(path, kind="straining_began", occurred_at=began, strength="strong")
    assert saved.status_code == 302
    assert [line.kind for line in stored(place, WhelpingEntry)] == ["straining_began"]
    told = words(pages.get(path))
    # 30 min of strong straining without a pup: go now (Jutkowitz 2005, as quoted).
    assert "Go to the vet now: strong straining" in told
    card = words(pages.get(f"litters/{litter}/vet-card"))
    assert "Emergency: strong straining" in card
    assert "19 kilos" in card
    broken = pages.fill(path, kind="apgar")
    assert broken.status_code == 422
    assert len(stored(place, WhelpingEntry)) == 1


def test_temperatures_and_box_climate_are_entered_with_the_caution_beside_them(
    place: Place, pages: Pages
) -> None:
    nest = make_nest(place)
    path = f"litters/{nest.litter}/temperature"
    assert "no milk while it is under 35" in words(pages.get(path))
    assert pages.fill(path, pup=nest.pups["moss"], entered_value="35,8").status_code == 302
    assert (
        pages.fill(f"dogs/{nest.dam}/temperature", entered_value="101.5", entered_unit="F").status_code == 302
    )
    # (101.5 - 32) x 5/9 = 38.61 (NIST Special Publication 811, appendix B.8).
    assert [float(one.temp_c) for one in stored(place, Temperature)] == [35.8, 38.61]
    assert (
        pages.fill(f"litters/{nest.litter}/climate", surface_c="30.5", humidity_pct="58").status_code == 302
    )
    assert [float(one.surface_c) for one in stored(place, BoxClimate)] == [30.5]
    assert pages.fill(f"litters/{nest.litter}/climate").status_code == 422


def test_forms_that_are_needed_at_night_work_without_network(place: Place, pages: Pages) -> None:
    nest = make_nest(place)
    for path, type_name in (
        (f"litters/{nest.litter}/temperature", "temperature"),
        (f"litters/{nest.litter}/climate", "box-climate"),
        (f"litters/{nest.litter}/whelping", "whelping-entry"),
        (f"dogs/{nest.dam}/temperature", "temperature"),
    ):
        page = pages.get(path)
        assert page["Offline-Copy"] == "yes"
        assert f'data-offline-type="{type_name}"' in page.content.decode()


def test_a_close_mating_is_asked_about_before_it_is_saved(place: Place, pages: Pages) -> None:
    sire = make_record(place, "dog", name="Marram", sex="male")
    dam = make_record(place, "dog", name="Bramble", sex="female")
    son = make_record(place, "dog", name="Dune", sex="male", sire=sire, dam=dam)
    asked = pages.fill(f"dogs/{dam}/mating", sire=son)
    assert asked.status_code == 422
    # Parent and offspring: F = 0.25 (Wright 1922, Am Nat 56:330-338).
    assert "F 0.25" in words(asked)
    assert stored(place, Mating) == []
    assert pages.fill(f"dogs/{dam}/mating?sure=yes", sire=son).status_code == 302
    assert [one.warnings[0]["code"] for one in stored(place, Mating)] == ["close_relatives"]
    assert pages.fill(f"dogs/{dam}/mating", sire=sire).status_code == 302


def test_a_season_is_entered_and_other_kennels_find_nothing(place: Place, pages: Pages) -> None:
    dam = make_record(place, "dog", name="Bramble", sex="female")
    assert pages.fill(f"dogs/{dam}/season", began_on="2026-01-25").status_code == 302
    assert [str(one.began_on) for one in stored(place, Season)] == ["2026-01-25"]
    assert pages.fill(f"dogs/{dam}/season", began_on="2026-01-25", ended_on="2026-01-20").status_code == 422
    nest = make_nest(place)
    stranger = Pages(make_kennel("Elsewhere"))
    for below in (f"litters/{nest.litter}/whelping", f"litters/{nest.litter}/vet-card", f"dogs/{dam}/mating"):
        assert stranger.get(below).status_code == 404

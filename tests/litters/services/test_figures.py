"""Figures a kennel may replace: all of them are listed with where they come from, tables line by line."""

from typing import Any

import pytest
from django.utils import timezone

from kennel.people.choices import Role
from litters.choices import FigureArea
from litters.domain.gestation_figures import COMMON_PRACTICE, FROM_MEMORY, OURS, QUOTED, VERIFIED
from litters.domain.watch_limits import Limits
from litters.services.figure_list import NOTES
from litters.services.figures import growth_limits, known_keys
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import make_nest, make_record, weigh
from tests.web.pages import Pages, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def agree(place: Place, key: str, value: float, area: str = "growth") -> str:
    """A figure agreed with the vet."""
    given = {"area": area, "key": key, "value": value, "agreed_with": "Dr Reed", "agreed_on": "2026-01-05"}
    return make_record(place, "agreed-figure", **given)


def listed(place: Place) -> dict[str, dict[str, Any]]:
    """The list, by key."""
    answer = DeviceClient(place).get("figures")
    assert answer.status_code == 200, answer.content
    assert "vet" in answer.json()["caution"]
    return {one["key"]: one for one in answer.json()["results"]}


def test_every_figure_that_can_be_agreed_is_listed_with_its_source_and_status() -> None:
    for area in FigureArea:
        assert set(NOTES[area]) == known_keys(area), area
        for key, note in NOTES[area].items():
            assert note.status in {VERIFIED, QUOTED, FROM_MEMORY, COMMON_PRACTICE, OURS, "derived"}, key
            assert note.about, key
            # Whoever says a text was read names the text.
            assert note.source != "none" or note.status in {COMMON_PRACTICE, OURS}, key


def test_the_defaults_are_the_published_ones_and_no_limit_is_out_of_reach(place: Place) -> None:
    found = listed(place)
    # A veterinary reproduction page: 35, 36 and 37 C; the handbook's rhythm: 12 h, daily to day 14, every third day.
    lines = [found[f"milk_from_c.from_day_{day}"]["value"] for day in (0, 7, 21)]
    assert lines == [35, 36, 37]
    assert [found[f"weighing_every_h.until_{hours}_h"]["value"] for hours in (12, 336, 720)] == [12, 24, 72]
    assert found["apgar_total"]["status"] == "from memory, unverified"
    assert "34.4" in found["milk_from_c.from_day_0"]["other_sources"]
    assert all(one["agreed_with"] is None for one in found.values())
    numbers = {name for name, value in vars(Limits()).items() if isinstance(value, int | float)}
    assert numbers <= set(found)


def test_a_score_is_whole_whatever_was_agreed(place: Place) -> None:
    agree(place, "apgar_total", 4)
    assert (listed(place)["apgar_total"]["value"], listed(place)["apgar_total"]["published"]) == (4, 6)
    assert isinstance(growth_limits({}).apgar_total, int)


def cold_warnings(place: Place, pup: str) -> set[str]:
    """Codes of the advice beside a temperature of 34.8 C."""
    uid = make_record(place, "temperature", pup=pup, temp_c=34.8, occurred_at=timezone.now())
    kept = DeviceClient(place).get(f"temperatures/{uid}").json()["warnings"]
    return {one["code"] for one in kept}


def test_a_line_of_the_temperature_table_agreed_with_the_vet_is_the_one_that_warns(place: Place) -> None:
    other = make_kennel()
    moss = make_nest(place, days_old=2).pups["moss"]
    elsewhere = make_nest(other, days_old=2).pups["moss"]
    before = cold_warnings(place, moss)
    assert before
    agree(place, "milk_from_c.from_day_0", 34.4)
    agree(place, "too_cold_c", 34.0)
    assert cold_warnings(place, moss) == set()
    assert cold_warnings(other, elsewhere) == before
    shown = listed(place)["milk_from_c.from_day_0"]
    assert (shown["published"], shown["value"], shown["agreed_with"]) == (35, 34.4, "Dr Reed")
    # The line of another age stays.
    assert listed(place)["milk_from_c.from_day_7"]["value"] == 36


def test_a_rhythm_of_weighing_agreed_with_the_vet_is_the_one_asked_for(place: Place) -> None:
    nest = make_nest(place, days_old=4)
    weigh(place, nest.pups["moss"], 400, hours_ago=2)

    def every_h() -> float:
        pups = DeviceClient(place).get(f"litters/{nest.litter}/growth").json()["pups"]
        found: float = next(one["weigh_every_h"] for one in pups if one["pup"] == nest.pups["moss"])
        return found

    assert every_h() == 24
    agree(place, "weighing_every_h.until_336_h", 8)
    assert every_h() == 8


@pytest.mark.parametrize(
    ("key", "value"),
    [("milk_from_c.from_day_0", 10), ("weighing_every_h.until_336_h", 0), ("milk_from_c.from_day_3", 35)],
)
def test_a_figure_that_cannot_be_or_that_no_table_has_is_refused(
    place: Place, key: str, value: float
) -> None:
    given = {"area": "growth", "agreed_with": "Dr Reed", "agreed_on": "2026-01-05"}
    answer = DeviceClient(place, carer=place.keeper).post(
        "agreed-figures", given | {"key": key, "value": value}
    )
    assert answer.status_code == 422


def test_the_page_shows_each_figure_and_the_keeper_agrees_another(place: Place) -> None:
    pages = Pages(place)
    shown = words(pages.get("figures"))
    assert "from memory, unverified" in shown
    assert "No milk by bottle or tube below this, days 0 to 6: 35 C" in shown
    path = "figures/growth/milk_from_c.from_day_0"
    assert "34.4 C or less" in words(pages.get(path))
    saved = pages.fill(path, value="34.4", agreed_with="Dr Reed")
    assert saved.status_code == 302, words(saved)
    after = words(pages.get("figures"))
    assert "days 0 to 6: 34.4 C agreed with Dr Reed" in after
    assert pages.get("figures/growth/no_such").status_code == 404
    carer = Pages(place, add_member(place, Role.CARER))
    assert "34.4 C agreed" in words(carer.get("figures"))
    assert carer.get(path).status_code == 403

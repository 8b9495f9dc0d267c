"""The pages of dogs, litters, pups and weights, without scripts: every form works by itself."""

import re
from typing import Any

import pytest

from kennel.people.choices import Role
from kennel.records import door
from kennel.records.door import Actor
from litters.models import Dog, Litter, Pup, Weighing
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel
from tests.factories.records import Nest, make_nest, make_record, weigh
from tests.web.pages import Pages, form_values, words

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


@pytest.fixture
def pages(place: Place) -> Pages:
    return Pages(place)


@pytest.fixture
def nest(place: Place) -> Nest:
    return make_nest(place)


def stored(place: Place, model: Any, **only: object) -> list[Any]:
    """Rows of a model in the kennel."""
    with door.read(place.here, place.actor, place.keeper.joined_at):
        return list(model.objects.filter(**only).order_by("id"))


def test_from_nothing_to_a_weighed_pup(place: Place, pages: Pages) -> None:
    assert "Add the dam first" in words(pages.get())
    dam = pages.fill("dogs/new", name="Bramble", sex="female", adult_weight_kg="19", lives_here="yes")
    assert dam.status_code == 302
    bramble = stored(place, Dog)[0]
    litter = pages.fill("litters/new", dam=str(bramble.uid), name="Bramble's", whelped_at="2026-03-01T03:10")
    assert litter.status_code == 302
    made = stored(place, Litter)[0]
    assert made.whelped_at.isoformat() == "2026-03-01T03:10:00+00:00"
    pup = pages.fill(
        f"litters/{made.uid}/pups/new",
        band="moss",
        sex="male",
        born_at="2026-03-01T03:20",
        entered_value="412",
    )
    assert pup.status_code == 302
    weighing = stored(place, Weighing)[0]
    assert (weighing.weight_g, weighing.is_birth_weight) == (412, True)
    assert weighing.occurred_at.isoformat() == "2026-03-01T03:20:00+00:00"
    told = words(pages.get(f"pups/{stored(place, Pup)[0].uid}"))
    assert "412 g" in told
    assert "birth weight" in told
    assert place.keeper.name in told


def test_what_is_wrong_stands_beside_its_field_and_nothing_is_stored(place: Place, pages: Pages) -> None:
    answer = pages.fill("dogs/new", name="", sex="female", adult_weight_kg="heavy")
    assert answer.status_code == 422
    html = answer.content.decode()
    name_field = html[html.index('for="field-name"') : html.index('for="field-sex"')]
    assert "Please fill this in." in name_field
    assert 'aria-invalid="true"' in name_field
    assert "Please write a number" in html[html.index('for="field-adult_weight_kg"') :]
    assert 'value="heavy"' in html
    assert stored(place, Dog) == []


def test_pressing_twice_makes_one_record(place: Place, pages: Pages) -> None:
    sent = form_values(pages.get("dogs/new").content.decode()) | {"name": "Sorrel", "sex": "female"}
    first, second = pages.post("dogs/new", sent), pages.post("dogs/new", sent)
    assert first["Location"] == second["Location"]
    assert len(stored(place, Dog)) == 1
    changed = pages.post("dogs/new", sent | {"name": "Teasel"})
    assert changed.status_code == 422
    assert "was sent before, with other values" in words(changed)
    assert len(stored(place, Dog)) == 1


def test_a_change_made_meanwhile_is_shown_and_not_overwritten(place: Place, pages: Pages) -> None:
    uid = make_record(place, "dog", name="Teasel", sex="female", colour="liver")
    mine = form_values(pages.get(f"dogs/{uid}/change").content.decode())
    assert pages.fill(f"dogs/{uid}/change", colour="roan").status_code == 302
    answer = pages.post(f"dogs/{uid}/change", mine | {"breed": "spaniel"})
    assert answer.status_code == 422
    told = words(answer)
    assert "Somebody changed this while you were writing" in told
    assert "Colour: liver → roan" in told
    again = form_values(answer.content.decode())
    assert (again["colour"], again["breed"]) == ("roan", "spaniel")
    assert pages.post(f"dogs/{uid}/change", again).status_code == 302
    dog = stored(place, Dog)[0]
    assert (dog.colour, dog.breed) == ("roan", "spaniel")


def test_saving_a_form_untouched_changes_nothing(place: Place, pages: Pages, nest: Nest) -> None:
    for path in (
        f"dogs/{nest.dam}/change",
        f"litters/{nest.litter}/change",
        f"pups/{nest.pups['moss']}/change",
    ):
        assert pages.fill(path).status_code == 302
    versions = [row.version for model in (Dog, Litter, Pup) for row in stored(place, model)]
    assert set(versions) == {1}


def test_the_weigh_in_goes_from_pup_to_pup_until_all_are_weighed(
    place: Place, pages: Pages, nest: Nest
) -> None:
    path = f"litters/{nest.litter}/weigh"
    for pup in nest.pups.values():
        weigh(place, pup, 400, hours_ago=12)
    seen = []
    for grams in (410, 420, 430):
        page = pages.get(path).content.decode()
        seen.append(re.search(r'id="weigh-who">(.*?)<', page)[1])  # type: ignore[index]
        assert pages.post(path, form_values(page) | {"entered_value": str(grams)}).status_code == 302
    assert seen == ["Moss", "Rust", "Teal"]
    assert "All 3 are weighed." in words(pages.get(path))
    assert [w.weight_g for w in stored(place, Weighing)][3:] == [410, 420, 430]


def test_an_unlikely_weight_is_asked_about_and_may_still_be_saved(
    place: Place, pages: Pages, nest: Nest
) -> None:
    path = f"litters/{nest.litter}/weigh"
    weigh(place, nest.pups["moss"], 400, hours_ago=12)
    typed = form_values(pages.get(path).content.decode()) | {"entered_value": "4120"}
    asked = pages.post(path, typed)
    assert asked.status_code == 422
    assert "far from what Moss weighed last" in words(asked)
    assert len(stored(place, Weighing)) == 1
    assert pages.post(path, form_values(asked.content.decode()) | {"sure": "yes"}).status_code == 302
    assert stored(place, Weighing)[1].weight_g == 4120


def test_a_weight_in_ounces_keeps_what_was_typed(place: Place, nest: Nest) -> None:
    place.keeper.mass_unit = "oz"
    place.keeper.save(update_fields=["mass_unit"])
    pages = Pages(place)
    path = f"litters/{nest.litter}/weigh"
    page = form_values(pages.get(path).content.decode())
    assert page["entered_unit"] == "oz"
    assert pages.post(path, page | {"entered_value": "14,53"}).status_code == 302
    weighing = stored(place, Weighing)[0]
    assert (weighing.entered_value, weighing.entered_unit) == (14.53, "oz") or str(
        weighing.entered_value
    ) == "14.530"
    # 14.53 oz x 28.349523125 g (NIST Special Publication 811, appendix B.8) = 411.92 g
    assert str(weighing.weight_g) == "411.92"
    assert "14.53 oz" in words(pages.get(f"pups/{nest.pups['moss']}"))


def test_a_correction_shows_both_values_who_and_why(place: Place, nest: Nest) -> None:
    idris = add_member(place, Role.CARER)
    uid = weigh(place, nest.pups["moss"], 412, hours_ago=1)
    pages = Pages(place, idris)
    without = pages.fill(f"weighings/{uid}/correct", entered_value="421")
    assert without.status_code == 422
    assert "Please say why" in words(without)
    done = pages.fill(f"weighings/{uid}/correct", entered_value="421", reason="misread the scale")
    assert done.status_code == 302
    told = words(pages.get(f"pups/{nest.pups['moss']}"))
    assert "corrected" in told
    assert re.search(r"was 412 g → is 421 g", told)
    assert f"by {idris.name}" in told
    assert "misread the scale" in told
    assert str(stored(place, Weighing)[0].weight_g) == "421.00"


def test_a_weight_moves_to_the_pup_whose_band_it_was(place: Place, pages: Pages, nest: Nest) -> None:
    uid = weigh(place, nest.pups["moss"], 412, hours_ago=1)
    done = pages.fill(f"weighings/{uid}/correct", pup=nest.pups["rust"], reason="bands were swapped")
    assert done["Location"].endswith(nest.pups["rust"])
    assert "moved to another animal" in words(pages.get(f"pups/{nest.pups['rust']}"))
    assert "Not weighed yet" in words(pages.get(f"pups/{nest.pups['moss']}"))


def test_a_weighing_is_removed_and_brought_back(place: Place, pages: Pages, nest: Nest) -> None:
    uid = weigh(place, nest.pups["moss"], 412, hours_ago=1)
    assert pages.fill(f"weighings/{uid}/remove", reason="entered twice").status_code == 302
    assert "Not weighed yet" in words(pages.get(f"pups/{nest.pups['moss']}"))
    assert "Bring it back" in words(pages.get(f"weighings/{uid}/remove"))
    assert pages.fill(f"weighings/{uid}/remove", restore="yes").status_code == 302
    assert "412 g" in words(pages.get(f"pups/{nest.pups['moss']}"))


def test_removing_what_somebody_corrected_meanwhile_is_refused(
    place: Place, pages: Pages, nest: Nest
) -> None:
    uid = weigh(place, nest.pups["moss"], 412, hours_ago=1)
    sent = form_values(pages.get(f"weighings/{uid}/remove").content.decode())
    assert pages.fill(f"weighings/{uid}/correct", entered_value="421", reason="misread").status_code == 302
    refused = pages.post(f"weighings/{uid}/remove", sent)
    assert refused.status_code == 409
    assert "421 g" in words(refused)


def test_likely_doubles_are_said_aloud_on_the_pups_page(place: Place, pages: Pages, nest: Nest) -> None:
    idris = add_member(place, Role.CARER)
    weigh(place, nest.pups["moss"], 412, hours_ago=1)
    weigh(
        place,
        nest.pups["moss"],
        413,
        hours_ago=0.9,
        by=Actor(role=Role.CARER, carer_id=idris.pk, name=idris.name),
    )
    told = words(pages.get(f"pups/{nest.pups['moss']}"))
    assert "both are kept" in told
    assert "412 g" in told
    assert "413 g" in told


def test_a_death_is_asked_twice_and_can_be_taken_back_with_a_reason(
    place: Place, pages: Pages, nest: Nest
) -> None:
    path = f"pups/{nest.pups['moss']}"
    once = pages.fill(f"{path}/death")
    assert once.status_code == 422
    assert "ring the vet" in words(once)
    assert stored(place, Pup)[0].fate == "living"
    assert pages.fill(f"{path}/death", sure="yes").status_code == 302
    assert stored(place, Pup)[0].fate == "died"
    assert "Moss" not in words(pages.get(f"litters/{nest.litter}/weigh"))
    assert pages.fill(f"{path}/lives").status_code == 422
    assert pages.fill(f"{path}/lives", reason="wrong pup").status_code == 302
    pup = stored(place, Pup)[0]
    assert (pup.fate, pup.died_at) == ("living", None)


def test_a_change_of_something_this_form_does_not_show_is_said_too(
    place: Place, pages: Pages, nest: Nest
) -> None:
    path = f"pups/{nest.pups['moss']}"
    opened = form_values(pages.get(f"{path}/death").content.decode())
    assert pages.fill(f"{path}/change", rearing="hand_fed").status_code == 302
    stale = pages.post(f"{path}/death", opened | {"sure": "yes"})
    assert stale.status_code == 422
    assert "Somebody changed this pup while you were writing" in words(stale)
    assert (
        pages.post(f"{path}/death", form_values(stale.content.decode()) | {"sure": "yes"}).status_code == 302
    )


def test_not_weighed_and_no_change_look_different(place: Place, pages: Pages, nest: Nest) -> None:
    weigh(place, nest.pups["moss"], 412, hours_ago=12)
    weigh(place, nest.pups["moss"], 412, hours_ago=1)
    told = words(pages.get(f"litters/{nest.litter}"))
    assert "no change since" in told
    assert told.count("not weighed yet") == 2


def test_the_age_of_the_newest_weight_stands_beside_it(place: Place, pages: Pages, nest: Nest) -> None:
    weigh(place, nest.pups["moss"], 412, hours_ago=9)
    assert "412 g 9 h ago" in words(pages.get())
    assert "weighed 9 h ago" in words(pages.get(f"pups/{nest.pups['moss']}"))


def test_older_weights_are_a_page_further(place: Place, pages: Pages, nest: Nest) -> None:
    for hours in range(1, 66):
        weigh(place, nest.pups["moss"], 1000 - hours, hours_ago=hours)
    page = pages.get(f"pups/{nest.pups['moss']}")
    assert page.content.decode().count('class="weighing"') == 60
    older = re.search(r'href="([^"]+\?before=[^"]+)"', page.content.decode())[1]  # type: ignore[index]
    assert pages.get(older).content.decode().count('class="weighing"') == 5
    assert pages.get(older[:-4] + "AAAA").status_code == 400


def test_records_of_another_kennel_do_not_exist_here(place: Place, pages: Pages) -> None:
    other = make_kennel("Elsewhere")
    foreign = make_nest(other)
    uid = weigh(other, foreign.pups["moss"], 412, hours_ago=1)
    for path in (
        f"dogs/{foreign.dam}",
        f"dogs/{foreign.dam}/change",
        f"dogs/{foreign.dam}/weigh",
        f"litters/{foreign.litter}",
        f"litters/{foreign.litter}/change",
        f"litters/{foreign.litter}/weigh",
        f"litters/{foreign.litter}/pups/new",
        f"pups/{foreign.pups['moss']}",
        f"pups/{foreign.pups['moss']}/change",
        f"pups/{foreign.pups['moss']}/death",
        f"weighings/{uid}/correct",
        f"weighings/{uid}/remove",
    ):
        assert pages.get(path).status_code == 404, path
        sent = pages.post(path, {"entered_value": "1", "reason": "x", "sure": "yes", "version": "1"})
        assert sent.status_code in (404, 405), path  # 405: a page that takes no form


def test_a_page_and_the_api_store_the_same(place: Place, pages: Pages, nest: Nest) -> None:
    path = f"litters/{nest.litter}/weigh"
    pages.post(
        path, form_values(pages.get(path).content.decode()) | {"entered_value": "412", "entered_unit": "g"}
    )
    device = DeviceClient(place)
    row = device.get("weighings").json()["results"][0]
    assert (row["weight_g"], row["entered_value"], row["entered_unit"]) == (412, 412, "g")
    assert (row["recorded_by"], row["source"], row["pup"]) == (place.keeper.name, "typed", nest.pups["moss"])

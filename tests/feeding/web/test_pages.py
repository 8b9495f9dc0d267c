"""The pages of foods, feeding plans, bowls and bottles, without scripts: every form works by itself."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from feeding.models import BottleFeed, FeedingPlan, Food, Meal, StockMove
from kennel.people.choices import Role
from kennel.records import door
from tests.factories.people import Place, add_member, make_kennel
from tests.feeding.world import MILK, Nest, add, make_nest
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
    return make_nest(place, days_old=60, pups=2)


def stored(place: Place, model: Any) -> list[Any]:
    """Rows of a model in the kennel."""
    with door.read(place.here, place.actor, timezone.now()):
        return list(model.objects.order_by("id"))


def test_from_a_label_to_the_next_bowl(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=60, pups=2)
    end = nest.client.get(f"feeding-plans/{nest.plan}").json()
    today = timezone.now().date().isoformat()
    nest.client.patch(f"feeding-plans/{nest.plan}", {"ended_on": today}, end["version"])
    answer = pages.fill(
        "foods/new",
        name="Own dry",
        protein_pct="26",
        fat_pct="15",
        fibre_pct="3",
        moisture_pct="10",
        ash_pct="7",
    )
    assert answer.status_code == 302
    food = stored(place, Food)[-1]
    # Modified Atwater, AAFCO Model Regulation PF9.
    assert (float(food.energy_kcal_per_kg), food.energy_method) == (3550.0, "atwater")
    assert "no feeding plan yet" in words(pages.get(f"litters/{nest.litter}/feeding"))
    made = pages.fill(f"litters/{nest.litter}/feeding/new", food=str(food.uid), bowls="2")
    assert made.status_code == 302
    plan = stored(place, FeedingPlan)[-1]
    assert (plan.bowls, len(plan.stages)) == (2, 7)
    told = words(pages.get(f"litters/{nest.litter}/bowl"))
    # NRC 2006 Table 15-2: 2 x 1064 kcal a day in four meals.
    assert "532 kcal · in 2 bowls" in told
    assert "150 g" in told  # 532 kcal at 3550 kcal/kg
    assert "Moss" in told
    assert "growth_nrc" in told


def test_a_food_that_cannot_be_reckoned_with_is_said_beside_its_field(place: Place, pages: Pages) -> None:
    answer = pages.fill("foods/new", name="Bare")
    assert answer.status_code == 422
    assert "Give the printed kcal/kg" in words(answer)
    assert stored(place, Food) == []


def test_a_food_is_changed_and_its_stock_written_down(place: Place, pages: Pages, nest: Nest) -> None:
    assert pages.fill(f"foods/{nest.food}/change", printed_kcal_per_kg="3900").status_code == 302
    assert float(stored(place, Food)[0].energy_kcal_per_kg) == 3900
    assert pages.fill(f"foods/{nest.food}/stock", kind="bought", mass_g="12000").status_code == 302
    assert float(stored(place, StockMove)[0].mass_g) == 12000
    assert "In stock: 12 kg" in words(pages.get("foods"))


def test_stages_are_changed_as_a_table(place: Place, pages: Pages, nest: Nest) -> None:
    path = f"feeding-plans/{nest.plan}/stages"
    page = pages.get(path)
    typed = form_values(page.content.decode())
    assert (typed["from_day-0"], typed["wall_times-0"], typed["share_pct-0"]) == ("28", "08:00 17:00", "25")
    bad = pages.post(path, typed | {"wall_times-0": "25:00"})
    assert bad.status_code == 422
    assert "Row 1:" in words(bad)
    good = typed | {"wall_times-0": "7:30, 18:00", "share_pct-0": "20", "from_day-6": "", "wall_times-6": ""}
    good |= {"share_pct-6": "", "food_parts-6": "", "water_parts-6": "", "texture-6": ""}
    assert pages.post(path, good).status_code == 302
    stages = stored(place, FeedingPlan)[0].stages
    assert (stages[0]["wall_times"], stages[0]["share_from_food"], len(stages)) == (
        ["07:30", "18:00"],
        0.2,
        6,
    )
    stale = pages.post(path, good | {"share_pct-0": "22"})
    assert stale.status_code == 422
    assert "Somebody changed this plan" in words(stale)
    early = form_values(pages.get(f"{path}?start=21").content.decode())
    assert (early["from_day-0"], early["share_pct-0"]) == ("21", "10")


def test_a_meal_is_written_down_with_who_did_not_come_and_what_came_back_later(
    place: Place, pages: Pages, nest: Nest
) -> None:
    path = f"litters/{nest.litter}/bowl"
    typed = form_values(pages.get(path).content.decode())
    # 2 x 1064 / 4 kcal at 3.8 kcal/g, 3 : 1 by volume at 0.4 g/mL.
    assert (typed["dry_g"], typed["water_ml"]) == ("140", "117")
    answer = pages.post(path, typed | {"absent": [nest.pups["rust"]]})
    assert answer.status_code == 302
    meal = stored(place, Meal)[0]
    assert (float(meal.dry_g), meal.absent) == (140, [nest.pups["rust"]])
    again = pages.post(path, form_values(pages.get(path).content.decode()))
    told = words(pages.get(again["Location"]))
    assert f"by {place.keeper.name}; both are kept" in told
    assert "1 did not come" in told
    back = pages.fill(f"meals/{meal.uid}/back", left_wet_g="31.5")
    assert back.status_code == 302, words(back)
    changed = stored(place, Meal)[0]
    assert (float(changed.left_wet_g), changed.reason) == (31.5, "Weighed what came back.")


def test_pressing_twice_makes_one_meal_and_nonsense_none(place: Place, pages: Pages, nest: Nest) -> None:
    path = f"litters/{nest.litter}/bowl"
    typed = form_values(pages.get(path).content.decode())
    wrong = pages.post(path, typed | {"dry_g": "a lot"})
    assert wrong.status_code == 422
    assert "Please write a number" in words(wrong)
    assert pages.post(path, typed).status_code == 302
    assert pages.post(path, typed).status_code == 302
    assert len(stored(place, Meal)) == 1


def test_a_bowl_without_a_plan_leads_to_the_plan(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=10)
    assert "Milk only until day 28" in words(pages.get(f"litters/{nest.litter}/bowl"))
    dam = add(nest.client, "dogs", name="Teasel", sex="female")
    other = add(nest.client, "litters", name="T", dam=dam, whelped_at=nest.whelped_at.isoformat())
    told = pages.get(f"litters/{other}/bowl")
    assert "This litter has no feeding plan." in words(told)
    assert f"litters/{other}/feeding" in told.content.decode()


def test_a_bottle_shows_a_volume_only_to_a_warm_pup_that_sucks(place: Place, pages: Pages) -> None:
    nest = make_nest(place, days_old=4, pups=1, weight_g=300)
    milk = add(nest.client, "foods", **MILK)
    plan = nest.client.get(f"feeding-plans/{nest.plan}").json()
    nest.client.patch(f"feeding-plans/{nest.plan}", {"milk": milk, "milk_need": "handbook"}, plan["version"])
    pup = nest.client.get(f"pups/{nest.pups['moss']}").json()
    nest.client.patch(f"pups/{nest.pups['moss']}", {"rearing": "hand_fed"}, pup["version"])
    path = f"pups/{nest.pups['moss']}/bottle"
    bare = words(pages.get(path))
    assert "Take the temperature first" in bare
    assert "Up to" not in bare
    cold = words(pages.get(f"{path}?temp_c=33.5&is_sucking=yes"))
    assert "No milk: warm the pup slowly first" in cold
    assert "Up to" not in cold
    # 13.2 kcal/100 g, 6 feeds (Dog Owner's Home Veterinary Handbook, p. 499), 1.0 kcal/mL, 300 g: 6.6 mL.
    assert "Up to 6.6 mL" in words(pages.get(f"{path}?temp_c=36,1&is_sucking=yes"))
    sent = form_values(pages.get(path).content.decode()) | {
        "temp_c": "33.5",
        "taken_ml": "4",
        "urine_seen": "yes",
    }
    answer = pages.post(path, sent)
    assert answer.status_code == 302
    feed = stored(place, BottleFeed)[0]
    assert (float(feed.taken_ml), feed.urine_seen, feed.stool_seen) == (4, True, False)
    assert [w["code"] for w in feed.warnings] == ["cold"]
    assert "no milk to a chilled pup" in words(pages.get(answer["Location"]))
    assert "Moss" in words(pages.get(f"litters/{nest.litter}/bottles"))


def test_readers_look_but_get_no_form_and_strangers_get_nothing(place: Place, nest: Nest) -> None:
    reader = Pages(place, add_member(place, Role.READER))
    page = reader.get(f"litters/{nest.litter}/bowl")
    assert page.status_code == 200
    assert "Save the meal" not in words(page)
    assert reader.post(f"litters/{nest.litter}/bowl", {"dry_g": "10"}).status_code == 403
    assert reader.get("foods/new").status_code == 403
    elsewhere = Pages(make_kennel("Elsewhere"))
    for path in (
        f"litters/{nest.litter}/bowl",
        f"litters/{nest.litter}/feeding",
        f"litters/{nest.litter}/bottles",
        f"pups/{nest.pups['moss']}/bottle",
        f"foods/{nest.food}/change",
        f"feeding-plans/{nest.plan}/stages",
    ):
        assert elsewhere.get(path).status_code == 404, path


def test_every_page_of_feeding_opens_and_keeps_a_copy_where_it_is_needed_offline(
    place: Place, pages: Pages, nest: Nest
) -> None:
    nest.meal(minutes_ago=90, dry_g=100, water_ml=80)
    for path, is_kept in (
        ("feed", True),
        ("foods", True),
        (f"litters/{nest.litter}/feeding", True),
        (f"litters/{nest.litter}/bowl", True),
        (f"litters/{nest.litter}/bottles", True),
        (f"pups/{nest.pups['moss']}/bottle", True),
        (f"feeding-plans/{nest.plan}/change", False),
        (f"feeding-plans/{nest.plan}/stages", False),
        (f"foods/{nest.food}/stock", False),
    ):
        page = pages.get(path)
        assert page.status_code == 200, (path, page.content[:300])
        assert (page.headers.get("Offline-Copy") == "yes") is is_kept, path
    assert "Feed" in words(pages.get())


def test_the_bowl_of_an_hour_ago_is_still_to_come_until_it_was_recorded(place: Place, pages: Pages) -> None:
    just_now = timezone.now() - timedelta(minutes=30)
    local = just_now.astimezone()
    stage = {"from_day": 0, "wall_times": [f"{local:%H:%M}"], "share_from_food": 1}
    nest = make_nest(place, days_old=60, pups=1, stages=[stage])
    zone = place.here.zone
    from zoneinfo import ZoneInfo

    wall = just_now.astimezone(ZoneInfo(zone)).strftime("%H:%M")
    plan = nest.client.get(f"feeding-plans/{nest.plan}").json()
    nest.client.patch(
        f"feeding-plans/{nest.plan}", {"stages": [{**stage, "wall_times": [wall]}]}, plan["version"]
    )
    path = f"litters/{nest.litter}/bowl"
    day = just_now.astimezone(ZoneInfo(zone)).date()
    born = nest.whelped_at.astimezone(ZoneInfo(zone)).date()
    assert f"day {(day - born).days}" in words(pages.get(path))
    pages.post(path, form_values(pages.get(path).content.decode()))
    assert f"day {(day - born).days + 1}" in words(pages.get(path))

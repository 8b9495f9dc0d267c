"""Growth of a litter through the API: the domain's judgement of what is on record, with bulk reading."""

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.utils import timezone

from kennel.records import door
from litters.services.assessments import assess_litters
from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_nest, make_record, weigh

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def weigh_daily(place: Place, pup: str, grams: list[float], *, days_old: int) -> None:
    """A weight a day from birth on; the first is the birth weight."""
    for day, value in enumerate(grams):
        at = timezone.now() - timedelta(days=days_old - day) + timedelta(minutes=30)
        make_record(
            place,
            "weighing",
            pup=pup,
            weight_g=value,
            occurred_at=min(at, timezone.now()).isoformat(),
            is_birth_weight=day == 0,
        )


def by_name(answer: Any) -> dict[str, dict[str, Any]]:
    return {pup["called"]: pup for pup in answer.json()["pups"]}


def test_the_pup_that_lost_four_percent_by_day_2_is_named_with_its_source(place: Place) -> None:
    # Growth of -4 % by day 2 marks pups at risk (Mila et al. 2015, J Anim Sci 93:4436-4442).
    nest = make_nest(place, days_old=2)
    for band, grams in (("moss", [400, 404, 424]), ("rust", [400, 390, 384]), ("teal", [400, 406, 426])):
        weigh_daily(place, nest.pups[band], grams, days_old=2)
    answer = DeviceClient(place).get(f"litters/{nest.litter}/growth")
    assert answer.status_code == 200, answer.content
    pups = by_name(answer)
    assert pups["rust"]["level"] == "act_today"
    assert pups["rust"]["pup"] == nest.pups["rust"]
    assert any("Mila" in reason["source"] for reason in pups["rust"]["reasons"])
    assert pups["moss"]["level"] == pups["teal"]["level"] == "none"
    told = answer.json()
    assert told["where_to_look"]["verdict"] == "pup"
    assert told["where_to_look"]["slow_pups"] == ["rust"]
    assert told["not_weighed"] == []
    assert "vet" in told["caution"]
    weights = {one["name"]: one for one in told["inputs"]}
    assert weights["weight of rust"]["value"] == 384
    assert weights["weight of rust"]["age_h"] == pytest.approx(0, abs=0.6)


def test_all_pups_slow_at_once_point_to_the_dam_or_the_box(place: Place) -> None:
    nest = make_nest(place, days_old=4)
    for uid in nest.pups.values():
        weigh_daily(place, uid, [400, 420, 441, 445, 446], days_old=4)
    told = DeviceClient(place).get(f"litters/{nest.litter}/growth").json()
    assert told["where_to_look"]["verdict"] == "dam_or_box"


def test_a_pup_not_weighed_today_is_missing_and_never_unchanged(place: Place) -> None:
    nest = make_nest(place, days_old=5)
    for uid in nest.pups.values():
        weigh_daily(place, uid, [400, 420, 441], days_old=5)
    told = DeviceClient(place).get(f"litters/{nest.litter}/growth").json()
    assert set(told["not_weighed"]) == set(nest.pups.values())
    assert all(pup["is_weighing_missing"] for pup in told["pups"])
    assert told["where_to_look"]["verdict"] == "unknown"


def test_two_exchanged_readings_give_a_question_and_change_nothing(place: Place) -> None:
    nest = make_nest(place, days_old=4)
    for band, grams in (
        ("moss", [300, 327, 355, 384]),
        ("rust", [450, 490, 531, 575]),
        ("teal", [380, 413, 448, 485]),
    ):
        weigh_daily(place, nest.pups[band], grams, days_old=4)
    weigh(place, nest.pups["moss"], 620, hours_ago=0)
    weigh(place, nest.pups["rust"], 415, hours_ago=0)
    weigh(place, nest.pups["teal"], 523, hours_ago=0)
    slips = DeviceClient(place).get(f"litters/{nest.litter}/growth").json()["slips"]
    assert [slip["kind"] for slip in slips] == ["exchanged"]
    fit = {one["pup"]: one["weight_g"] for one in slips[0]["would_fit"]}
    assert fit == {nest.pups["moss"]: 415, nest.pups["rust"]: 620}


def test_a_pup_that_went_home_or_died_is_not_judged_any_more(place: Place) -> None:
    nest = make_nest(place, days_old=60)
    make_record(
        place, "departure", pup=nest.pups["moss"], kind="sold", occurred_at=timezone.now().isoformat()
    )
    assert set(by_name(DeviceClient(place).get(f"litters/{nest.litter}/growth"))) == {"rust", "teal"}


def test_a_limit_agreed_with_the_vet_replaces_the_published_one(place: Place) -> None:
    nest = make_nest(place, days_old=2)
    for band, grams in (("moss", [400, 404, 424]), ("rust", [400, 394, 388]), ("teal", [400, 406, 426])):
        weigh_daily(place, nest.pups[band], grams, days_old=2)
    client = DeviceClient(place)

    def rules() -> set[str]:
        found = by_name(client.get(f"litters/{nest.litter}/growth"))["rust"]
        return {reason["rule"] for reason in found["reasons"] if reason["level"] == "act_today"}

    before = rules()
    make_record(
        place,
        "agreed-figure",
        area="growth",
        key="early_growth_pct",
        value=-2,
        agreed_with="The vet in the village",
        agreed_on="2026-01-05",
    )
    assert rules() - before == {"early_growth"}


def test_several_litters_are_judged_at_once_as_each_by_itself(place: Place) -> None:
    nests = [make_nest(place, days_old=3, name=name) for name in ("Sorrel's", "Teasel's")]
    for nest in nests:
        for uid in nest.pups.values():
            weigh(place, uid, 400, hours_ago=30)
            weigh(place, uid, 380, hours_ago=1)
    at = timezone.now()
    uids = [UUID(nest.litter) for nest in nests]
    with door.read(place.here, place.actor, at):
        together = assess_litters(uids, place.here.id, at)
        alone = [assess_litters([uid], place.here.id, at)[uid] for uid in uids]
    assert [together[uid] for uid in uids] == alone
    assert all(one.found.level != "none" for found in alone for one in found.pups)


def test_another_kennel_does_not_see_the_litter(place: Place) -> None:
    nest = make_nest(place)
    stranger = DeviceClient(make_kennel("Elsewhere"))
    assert stranger.get(f"litters/{nest.litter}/growth").status_code == 404
    assert stranger.get(f"litters/{nest.litter}/due-window").status_code == 404
    assert DeviceClient(place).get("litters/not-a-uid/growth").status_code == 404

"""Pedigree and planned mating through the API against published coefficients."""

from typing import Any

import pytest

from kennel.records import door
from litters.models import Mating
from tests.api import DeviceClient
from tests.factories.people import AT, Place, make_kennel
from tests.factories.records import make_record

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel()


def dog(place: Place, name: str, sex: str, **more: Any) -> str:
    return make_record(place, "dog", name=name, sex=sex, **more)


def ask(place: Place, path: str) -> dict[str, Any]:
    answer = DeviceClient(place).get(path)
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def test_f_is_shown_before_a_mating_is_saved(place: Place) -> None:
    # Half siblings 0.125, full siblings 0.25, parent and offspring 0.25 (Wright 1922, Am Nat 56:330-338).
    marram, bramble, sorrel = (
        dog(place, "Marram", "male"),
        dog(place, "Bramble", "female"),
        dog(place, "Sorrel", "female"),
    )
    dune = dog(place, "Dune", "male", sire=marram, dam=bramble)
    teasel = dog(place, "Teasel", "female", sire=marram, dam=bramble)
    rush = dog(place, "Rush", "female", sire=marram, dam=sorrel)
    for sire, dam, inbreeding, level in (
        (dune, teasel, 0.25, "red"),
        (dune, rush, 0.125, "amber"),
        (marram, rush, 0.25, "red"),
        (dune, sorrel, 0.0, "none"),
    ):
        told = ask(place, f"planned-mating?sire={sire}&dam={dam}")
        assert (told["inbreeding"], told["level"]) == (inbreeding, level)
        assert told["method"]
        assert told["source"]
        assert told["cautions"]
    half = ask(place, f"planned-mating?sire={dune}&dam={rush}")
    assert [(one["name"], one["contribution"]) for one in half["common_ancestors"]] == [("Marram", 0.125)]
    with door.read(place.here, place.actor, AT):
        assert not Mating.objects.exists()


def test_a_dog_shows_its_coefficient_and_how_little_is_known(place: Place) -> None:
    marram, bramble = dog(place, "Marram", "male"), dog(place, "Bramble", "female")
    dune = dog(place, "Dune", "male", sire=marram, dam=bramble)
    teasel = dog(place, "Teasel", "female", sire=marram, dam=bramble)
    inbred = dog(place, "Bent", "male", sire=dune, dam=teasel)
    told = ask(place, f"dogs/{inbred}/pedigree")
    assert told["inbreeding"] == 0.25
    assert told["known_ancestors"] == 4
    assert told["ancestry"]["complete_generations"] == 2
    assert any("Fewer than three generations" in words for words in told["cautions"])
    assert ask(place, f"dogs/{inbred}/pedigree?generations=1")["inbreeding"] == 0.0
    founder = ask(place, f"dogs/{marram}/pedigree")
    assert (founder["inbreeding"], founder["ancestors"]) == (0.0, [])
    assert "not both known" in founder["cautions"][0]


def test_nonsense_is_refused_and_other_kennels_see_nothing(place: Place) -> None:
    marram, bramble = dog(place, "Marram", "male"), dog(place, "Bramble", "female")
    client = DeviceClient(place)
    assert client.get(f"planned-mating?sire={marram}").status_code == 422
    assert client.get(f"planned-mating?sire={marram}&dam=x").status_code == 422
    assert client.get(f"dogs/{marram}/pedigree?generations=0").status_code == 422
    turned = ask(place, f"planned-mating?sire={bramble}&dam={marram}")
    assert [words for words in turned["cautions"] if "By the records" in words] == [
        "By the records the sire is a bitch.",
        "By the records the dam is a male.",
    ]
    stranger = DeviceClient(make_kennel("Elsewhere"))
    assert stranger.get(f"planned-mating?sire={marram}&dam={bramble}").status_code == 404
    assert stranger.get(f"dogs/{marram}/pedigree").status_code == 404


def test_ten_generations_of_full_sibs_agree_with_the_recurrence(place: Place) -> None:
    sire, dam = dog(place, "Marram", "male"), dog(place, "Bramble", "female")
    for number in range(10):
        sire, dam = (
            dog(place, f"s{number}", "male", sire=sire, dam=dam),
            dog(place, f"d{number}", "female", sire=sire, dam=dam),
        )
    answer = DeviceClient(place).get(f"planned-mating?sire={sire}&dam={dam}")
    # Full-sib mating over ten generations: F(t+1) = (1 + 2 F(t) + F(t-1)) / 4 (Wright 1921, Genetics 6).
    before, now = 0.0, 0.0
    for _ in range(10):
        before, now = now, (1 + 2 * now + before) / 4
    assert answer.json()["inbreeding"] == pytest.approx(now, abs=1e-12)

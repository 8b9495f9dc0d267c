"""Labour and the vet card through the API, against the published limits."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import make_record

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def place() -> Place:
    return make_kennel(zone="UTC")


@pytest.fixture
def dam(place: Place) -> str:
    return make_record(
        place, "dog", name="Bramble", sex="female", adult_weight_kg=19, breed="water-spaniel type"
    )


@pytest.fixture
def litter(place: Place, dam: str) -> str:
    return make_record(place, "litter", name="Bramble's", dam=dam)


def ago(minutes: float) -> str:
    return (timezone.now() - timedelta(minutes=minutes)).isoformat()


def log(place: Place, litter: str, kind: str, minutes_ago: float, **more: Any) -> str:
    return make_record(
        place, "whelping-entry", litter=litter, kind=kind, occurred_at=ago(minutes_ago), **more
    )


def ask(place: Place, litter: str) -> dict[str, Any]:
    answer = DeviceClient(place).get(f"litters/{litter}/vet-card")
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def test_strong_straining_rings_at_20_minutes_and_goes_at_30(place: Place, litter: str) -> None:
    # 20 min: Freshman 2002; 30 min: Jutkowitz 2005, Vet Clin North Am 35:397-420, Box 2 (as quoted).
    log(place, litter, "straining_began", 21, strength="strong")
    told = ask(place, litter)
    assert told["labour"]["level"] == "ring_for_advice"
    assert [flag["key"] for flag in told["labour"]["flags"]] == ["strong_straining"]
    assert told["labour"]["deadlines"][0]["level"] == "go_now"
    log(place, litter, "straining_began", 31, strength="strong")
    assert ask(place, litter)["labour"]["level"] == "go_now"


def test_the_card_says_it_all_in_55_words(place: Place, dam: str, litter: str) -> None:
    make_record(place, "scan", dam=dam, method="x_ray", pups_counted=7, occurred_at=ago(60 * 24 * 4))
    make_record(place, "scan", dam=dam, pups_counted=5, occurred_at=ago(60 * 24 * 2))
    make_record(place, "mating", dam=dam, occurred_at=ago(60 * 24 * 63))
    make_record(place, "temperature", dog=dam, temp_c=37.9, occurred_at=ago(50))
    born = [
        make_record(place, "pup", litter=litter, band=band, born_at=ago(minutes), fate=fate)
        for band, minutes, fate in (("moss", 220, "living"), ("rust", 160, "stillborn"))
    ]
    log(place, litter, "pup_born", 220, pup=born[0])
    log(place, litter, "pup_born", 158)
    log(place, litter, "straining_began", 31, strength="strong")
    told = ask(place, litter)
    text = told["card"]["text"]
    for words in (
        "Hollin Bank",
        "Bramble",
        "19 kilos",
        "2 born, 1 stillborn",
        "5 still expected",
        "63 days from",
    ):
        assert words in text
    assert told["card"]["word_count"] == len(text.split()) <= 55
    assert told["labour"]["born"] == 2
    temperature = next(one for one in told["inputs"] if one["name"] == "dam's temperature")
    assert (temperature["value"], temperature["age_h"]) == (37.9, 0.8)
    assert "ring" in told["caution"]


def test_a_limit_agreed_with_the_vet_names_the_vet(place: Place, litter: str) -> None:
    log(place, litter, "straining_began", 12, strength="strong")
    assert ask(place, litter)["labour"]["level"] is None
    make_record(
        place,
        "agreed-figure",
        area="labour",
        key="strong_straining.advice_after",
        value=10,
        agreed_with="Dr Reed",
        agreed_on="2026-01-05",
    )
    flag = ask(place, litter)["labour"]["flags"][0]
    assert (flag["level"], flag["limit_set_by"]) == ("ring_for_advice", "Dr Reed, 2026-01-05")


def test_a_birth_told_twice_is_one_birth_and_two_births_are_two(place: Place, litter: str) -> None:
    log(place, litter, "pup_born", 200)
    log(place, litter, "pup_born", 100)
    assert ask(place, litter)["labour"]["born"] == 2
    make_record(place, "pup", litter=litter, band="moss", born_at=ago(195))
    assert ask(place, litter)["labour"]["born"] == 2
    make_record(place, "pup", litter=litter, band="rust", born_at=ago(30))
    assert ask(place, litter)["labour"]["born"] == 3


def test_two_days_after_the_last_line_whelping_is_over_though_nobody_wrote_it_down(
    place: Place, litter: str
) -> None:
    # Two days: common practice, no source.
    make_record(place, "pup", litter=litter, band="moss", born_at=ago(60 * 50))
    last = log(place, litter, "straining_began", 60 * 47, strength="strong")
    told = ask(place, litter)
    assert (told["labour"]["stage"], told["labour"]["level"]) == ("stage II and III", "go_now")
    DeviceClient(place).delete(f"whelping-entries/{last}", version=1)
    told = ask(place, litter)
    assert (told["labour"]["stage"], told["labour"]["flags"]) == ("finished", [])
    assert "ago" not in told["card"]["text"]


def test_labour_that_brought_no_pup_is_never_over_by_itself(place: Place, litter: str) -> None:
    log(place, litter, "straining_began", 60 * 72, strength="strong")
    assert ask(place, litter)["labour"]["level"] == "go_now"


def test_another_kennel_gets_no_card(litter: str) -> None:
    stranger = DeviceClient(make_kennel("Elsewhere"))
    for below in ("vet-card", "leaving", "timeline"):
        assert stranger.get(f"litters/{litter}/{below}").status_code == 404

"""The due window through the API: published spreads, one blood series, earlier predictions, milestones."""

from datetime import UTC, date, datetime, timedelta
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
    return make_record(place, "dog", name="Bramble", sex="female", adult_weight_kg=19)


def expected(place: Place, dam: str, **more: Any) -> str:
    return make_record(place, "litter", name="Bramble's", dam=dam, **more)


def ask(place: Place, litter: str) -> dict[str, Any]:
    answer = DeviceClient(place).get(f"litters/{litter}/due-window")
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def day(days_ago: int) -> date:
    return timezone.now().date() - timedelta(days=days_ago)


def noon(days_ago: int) -> str:
    return datetime.combine(day(days_ago), datetime.min.time(), UTC).replace(hour=9).isoformat()


def span(told: dict[str, Any], since: date) -> tuple[int, ...]:
    window = told["window"]
    return tuple(
        (date.fromisoformat(window[name]) - since).days
        for name in ("earliest_on", "likeliest_on", "latest_on")
    )


def test_the_lh_surge_of_the_season_gives_64_to_66_days(place: Place, dam: str) -> None:
    # Kutzler et al. 2003, Theriogenology 60:1187-1196: 64 to 66 days after the LH surge.
    season = make_record(
        place, "season", dam=dam, began_on=day(40).isoformat(), lh_surge_on=day(30).isoformat()
    )
    told = ask(place, expected(place, dam, season=season))
    assert span(told, day(30)) == (64, 65, 66)
    assert told["window"]["driver"] == "lh_surge"
    surge = next(one for one in told["inputs"] if one["name"] == "LhSurge")
    assert (surge["type"], surge["uid"], surge["age_days"]) == ("season", season, 30)
    assert told["method"]
    assert told["caution"]
    assert all(one["source"] for one in told["contributions"])


def test_a_mating_alone_gives_58_to_72_days_and_the_milestones_hang_on_it(place: Place, dam: str) -> None:
    # Merck Veterinary Manual: 58 to 72 days from the first mating; overdue 70 days after the first mating
    # (Jutkowitz 2005, Vet Clin North Am 35:397-420).
    litter = expected(place, dam, mated_on=day(20).isoformat())
    told = ask(place, litter)
    assert span(told, day(20)) == (58, 63, 72)
    starts = {one["key"]: one["starts_on"] for one in told["milestones"]}
    assert starts["overdue_first_mating"] == (day(20) + timedelta(days=71)).isoformat()
    assert starts["temperature_rounds"] == (day(20) + timedelta(days=58 - 5)).isoformat()


def test_one_blood_series_counts_once_and_mixed_units_are_flagged(place: Place, dam: str) -> None:
    for days_ago, value in ((33, 0.8), (32, 1.2), (31, 1.6), (30, 2.6), (29, 4.1), (28, 6.5)):
        make_record(
            place, "progesterone-test", dam=dam, value=value, unit="ng/mL", occurred_at=noon(days_ago)
        )
    litter = expected(place, dam, mated_on=day(27).isoformat())
    told = ask(place, litter)
    blood = [one for one in told["contributions"] if one["piece"] == "blood"]
    assert len(blood) > 1
    assert sum(one["is_used"] for one in blood) == 1
    # 19.4 nmol/L and 6.1 ng/mL are one and the same value: 1 ng/mL = 3.18 nmol/L (molar mass 314.46 g/mol).
    make_record(place, "progesterone-test", dam=dam, value=60, unit="nmol/L", occurred_at=noon(27))
    assert any("unit" in flag["text"] for flag in ask(place, litter)["flags"])


def test_every_earlier_prediction_stays_visible_as_the_window_narrows(place: Place, dam: str) -> None:
    litter = expected(place, dam)
    make_record(place, "mating", dam=dam, occurred_at=noon(31))
    mated = ask(place, litter)
    # Inner chorionic cavity of a medium dam: days before whelping = (82.13 - mm) / 1.8 (Luvoni & Grioni 2000
    # as quoted by Beccaglia & Luvoni 2012); 23 mm stand for about 33 days.
    make_record(
        place, "scan", dam=dam, structure="icc", unit="mm", readings=[22.7, 23.0, 23.3], occurred_at=noon(1)
    )
    scanned = ask(place, litter)
    width = [
        (
            date.fromisoformat(one["window"]["latest_on"]) - date.fromisoformat(one["window"]["earliest_on"])
        ).days
        for one in (mated, scanned)
    ]
    assert width[1] < width[0]
    assert [one["driver"] for one in scanned["history"]] == [
        mated["window"]["driver"],
        scanned["window"]["driver"],
    ]
    assert scanned["history"][0]["likeliest_on"] == mated["window"]["likeliest_on"]


def test_a_dam_without_weight_has_her_scan_set_aside_and_said(place: Place) -> None:
    dam = make_record(place, "dog", name="Sorrel", sex="female")
    litter = expected(place, dam, mated_on=day(30).isoformat())
    make_record(place, "scan", dam=dam, structure="bp", unit="mm", readings=[12.0], occurred_at=noon(1))
    told = ask(place, litter)
    assert (
        any(not one["is_used"] and "ultrasound" in one["piece"] for one in told["contributions"])
        or told["flags"]
    )
    assert told["window"]["driver"].startswith(("mating", "first_mating"))


def test_without_evidence_there_is_no_window_but_a_reason(place: Place, dam: str) -> None:
    told = ask(place, expected(place, dam))
    assert told["window"] is None
    assert "mating" in told["reason"]
    assert told["milestones"] == []


def test_an_earlier_pregnancy_and_another_dam_say_nothing_about_this_one(place: Place, dam: str) -> None:
    other = make_record(place, "dog", name="Sorrel", sex="female")
    make_record(place, "mating", dam=other, occurred_at=noon(20))
    make_record(place, "mating", dam=dam, occurred_at=noon(90))
    make_record(place, "litter", name="before", dam=dam, whelped_at=noon(28))
    litter = expected(place, dam)
    assert ask(place, litter)["window"] is None
    make_record(place, "mating", dam=dam, occurred_at=noon(5))
    assert span(ask(place, litter), day(5)) == (58, 63, 72)

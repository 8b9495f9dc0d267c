"""The nightly roll-up against a recomputation in plain Python from the rows themselves."""

from collections import defaultdict
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import psycopg
import pytest

from kennel.people.choices import Role
from litters.rollup.services import computing
from tests.api import DeviceClient
from tests.factories.people import add_member, make_kennel

pytestmark = pytest.mark.usefixtures("db")
LONDON = ZoneInfo("Europe/London")


def make_litter(client: DeviceClient, born: datetime, pups: int = 3) -> tuple[str, list[str]]:
    dam = client.post("dogs", {"name": "Bramble", "sex": "female"}).json()["uid"]
    litter = client.post("litters", {"name": "L", "dam": dam, "whelped_at": born.isoformat()}).json()["uid"]
    uids = [
        client.post("pups", {"litter": litter, "band": f"b{n}", "born_at": born.isoformat()}).json()["uid"]
        for n in range(pups)
    ]
    return litter, uids


def weigh(client: DeviceClient, pup: str, at: datetime, grams: int) -> dict[str, Any]:
    answer = client.post("weighings", {"pup": pup, "occurred_at": at.isoformat(), "weight_g": grams})
    assert answer.status_code == 201, answer.content
    return answer.json()


def days_of(client: DeviceClient, litter: str) -> dict[date, dict[str, Any]]:
    rows = client.get(f"litters/{litter}/days?limit=200").json()["results"]
    return {date.fromisoformat(row["day"]): row for row in rows}


def test_days_agree_with_a_plain_recomputation_over_the_spring_gap() -> None:
    client = DeviceClient(make_kennel())
    born = datetime(2026, 3, 27, 2, tzinfo=UTC)
    litter, pups = make_litter(client, born)
    readings: dict[str, list[tuple[datetime, int]]] = defaultdict(list)
    for offset in range(4):
        for place, pup in enumerate(pups):
            at = datetime(2026, 3, 27 + offset, 7, 10 * place, tzinfo=LONDON).astimezone(UTC)
            grams = 400 + 30 * offset * (place + 1)
            weigh(client, pup, at, grams)
            readings[pup].append((at, grams))
    computing.mark_finished_days(datetime(2026, 3, 31, 6, tzinfo=UTC))
    assert computing.compute_dirty(datetime(2026, 3, 31, 6, tzinfo=UTC)) > 0
    stored = days_of(client, litter)
    assert stored[date(2026, 3, 29)]["hours"] == 23
    assert stored[date(2026, 3, 28)]["hours"] == 24
    for day in (date(2026, 3, 27), date(2026, 3, 28), date(2026, 3, 29), date(2026, 3, 30)):
        row = stored[day]
        weights = [g for pup in pups for at, g in readings[pup] if at.astimezone(LONDON).date() == day]
        assert row["weight_mean_g"] == float(round(Decimal(sum(weights)) / len(weights), 2))
        assert (row["weight_min_g"], row["weight_max_g"]) == (min(weights), max(weights))
        assert (row["born"], row["resident"], row["weighed"], row["not_weighed"]) == (3, 3, 3, 0)
        for pup in pups:
            earlier = [r for r in readings[pup] if r[0].astimezone(LONDON).date() < day]
            now = next(r for r in readings[pup] if r[0].astimezone(LONDON).date() == day)
            if earlier:
                hours = (now[0] - earlier[-1][0]) / timedelta(hours=1)
                assert row["gains_g_per_day"][pup] == pytest.approx(
                    (now[1] - earlier[-1][1]) * 24 / hours, abs=0.006
                )
            else:
                assert pup not in row["gains_g_per_day"]
    slowest = min(stored[date(2026, 3, 29)]["gains_g_per_day"].items(), key=lambda item: item[1])
    assert stored[date(2026, 3, 29)]["slowest_pup"] == slowest[0]


def test_a_late_weight_marks_its_day_and_computing_twice_changes_nothing(owner: psycopg.Connection) -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client, datetime(2026, 2, 1, 2, tzinfo=UTC), 1)
    weigh(client, pups[0], datetime(2026, 2, 2, 7, tzinfo=UTC), 400)
    night = datetime(2026, 2, 5, 6, tzinfo=UTC)
    computing.mark_finished_days(night)
    computing.compute_dirty(night)
    before = days_of(client, litter)
    assert before[date(2026, 2, 3)]["weighed"] == 0
    assert before[date(2026, 2, 3)]["not_weighed"] == 1
    assert computing.mark_finished_days(night) == 0
    assert computing.compute_dirty(night) == 0
    made = weigh(client, pups[0], datetime(2026, 2, 3, 7, tzinfo=UTC), 432)
    assert owner.execute("SELECT count(*) FROM rollup_dirtyday WHERE day = '2026-02-03'").fetchone() == (1,)
    computing.compute_dirty(night)
    after = days_of(client, litter)
    assert after[date(2026, 2, 3)]["gains_g_per_day"] == {pups[0]: 32}
    client.patch(f"weighings/{made['uid']}", {"weight_g": 440, "reason": "misread"}, 1)
    computing.compute_dirty(night)
    assert days_of(client, litter)[date(2026, 2, 3)]["gains_g_per_day"] == {pups[0]: 40}
    assert after[date(2026, 2, 2)] == days_of(client, litter)[date(2026, 2, 2)] | {
        "computed_from_seq": after[date(2026, 2, 2)]["computed_from_seq"]
    }


def test_missed_nights_are_caught_up_and_a_stillborn_pup_is_its_own_count() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client, datetime(2026, 2, 1, 2, tzinfo=UTC), 3)
    client.patch(f"pups/{pups[0]}", {"fate": "stillborn"}, 1)
    client.patch(f"pups/{pups[1]}", {"fate": "died", "died_at": "2026-02-02T10:00:00Z"}, 1)
    night = datetime(2026, 2, 9, 6, tzinfo=UTC)
    computing.mark_finished_days(night)
    computing.compute_dirty(night)
    days = days_of(client, litter)
    assert {date(2026, 2, n) for n in range(1, 9)} <= set(days)
    assert (days[date(2026, 2, 1)]["live_born"], days[date(2026, 2, 1)]["resident"]) == (2, 2)
    last = days[date(2026, 2, 8)]
    assert (last["born"], last["live_born"], last["stillborn"], last["died"], last["resident"]) == (
        3,
        2,
        1,
        1,
        1,
    )


def test_the_summary_of_an_interval_tells_changes_and_who_was_not_weighed() -> None:
    place = make_kennel()
    client = DeviceClient(place, carer=place.keeper)
    litter, pups = make_litter(client, datetime(2026, 2, 1, 2, tzinfo=UTC), 2)
    weigh(client, pups[0], datetime(2026, 2, 2, 20, tzinfo=UTC), 400)
    weigh(client, pups[0], datetime(2026, 2, 3, 6, tzinfo=UTC), 412)
    found = client.get(f"litters/{litter}/summary?from=2026-02-02T22:00:00Z&to=2026-02-03T08:00:00Z").json()
    assert found["counts"]["weighed"] == 1
    assert found["counts"]["not_weighed"] == 1
    told = {pup["pup"]: pup for pup in found["pups"]}
    assert (told[pups[0]]["change_g"], told[pups[1]]["weighed"]) == (12, False)
    assert found["contributors"] == [place.keeper.name]
    assert (
        client.get(f"litters/{litter}/summary?from=2026-02-03T22:00:00Z&to=2026-02-03T08:00:00Z").status_code
        == 422
    )
    stranger = DeviceClient(make_kennel("Elsewhere"))
    assert stranger.get(f"litters/{litter}/summary").status_code == 404
    assert stranger.get(f"litters/{litter}/days").status_code == 404


@pytest.mark.parametrize(
    ("path", "about", "body"),
    [
        ("temperatures", "pup", {"temp_c": 36.4}),
        ("milestones", "pup", {"kind": "eyes_open"}),
        ("whelping-entries", "litter", {"kind": "remark", "note": "quiet"}),
    ],
)
def test_whoever_wrote_something_down_contributed_also_when_it_came_late(
    path: str, about: str, body: dict[str, Any]
) -> None:
    place = make_kennel()
    keeper, carer = DeviceClient(place, carer=place.keeper), add_member(place, Role.CARER)
    litter, pups = make_litter(keeper, datetime(2026, 2, 1, 2, tzinfo=UTC), 1)
    weigh(keeper, pups[0], datetime(2026, 2, 2, 8, tzinfo=UTC), 400)
    night = datetime(2026, 2, 5, 6, tzinfo=UTC)

    def contributors() -> dict[int, list[str]]:
        computing.mark_finished_days(night)
        computing.compute_dirty(night)
        return {day.day: row["contributors"] for day, row in days_of(keeper, litter).items()}

    assert contributors()[2] == [place.keeper.name]
    fact = body | {about: pups[0] if about == "pup" else litter, "occurred_at": "2026-02-02T09:00:00Z"}
    written = DeviceClient(place, carer=carer).post(path, fact)
    assert written.status_code == 201, written.content
    after = contributors()
    assert (after[2], after[3]) == (sorted([place.keeper.name, carer.name]), [])
    assert keeper.delete(f"{path}/{written.json()['uid']}", 1).status_code == 204
    assert contributors()[2] == [place.keeper.name]

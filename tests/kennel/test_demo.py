"""The demo kennel answers what a breeder asks, at any hour it is first started."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import psycopg
import pytest
from django.test import Client, override_settings
from django.utils import timezone

from kennel import demo
from kennel.demo import KENNEL_UID, Scene
from kennel.records.door import KennelHere

pytestmark = pytest.mark.usefixtures("db")
LONDON = ZoneInfo("Europe/London")


def uid(key: str) -> UUID:
    """The uid of a record of the demo."""
    here = KennelHere(0, KENNEL_UID, "Hollin Bank", "Europe/London")
    return Scene(here, datetime.now(UTC), {}).uid(key)


class Asked:
    """The demo filled now, asked by its own device."""

    def __init__(self, state: Path) -> None:
        with override_settings(STATE_DIR=str(state)):
            self.at = timezone.now()
            self.token = demo.fill(self.at)["device_token"]
        self.http = Client()

    def get(self, path: str) -> dict[str, Any]:
        """A read that must succeed."""
        answer = self.http.get(
            f"/api/v1/kennels/{KENNEL_UID}/{path}", headers={"Authorization": f"Bearer {self.token}"}
        )
        assert answer.status_code == 200, (path, answer.content)
        found: dict[str, Any] = answer.json()
        return found

    @property
    def today(self) -> date:
        """The kennel's day."""
        return self.at.astimezone(LONDON).date()


def test_every_question_of_a_breeder_has_a_sensible_answer(tmp_path: Path) -> None:
    asked = Asked(tmp_path)
    today = asked.today
    window = asked.get(f"litters/{uid('expected')}/due-window")["window"]
    # 65 days after the LH surge (Merck Veterinary Manual), four days from now; two scans agree.
    assert window["driver"] == "progesterone_rise"
    assert window["likeliest_on"] == (today + timedelta(days=4)).isoformat()
    assert window["is_conflicting"] is False

    growth = asked.get(f"litters/{uid('young')}/growth")["pups"]
    assert {one["called"] for one in growth if one["level"] != "none"} == {"wheat"}
    older = asked.get(f"litters/{uid('older')}/growth")["pups"]
    assert {one["level"] for one in older} == {"none"}

    ration = asked.get(f"litters/{uid('older')}/ration")
    assert (len(ration["pups"]), ration["reason"]) == (8, "")
    # NRC growth, 8 pups of about 1.6 kg: between 300 and 600 kcal each (handbook tables of weaning pups).
    assert all(300 < one["need_kcal_per_day"] < 600 for one in ration["pups"])
    dam = asked.get(f"litters/{uid('young')}/dam-ration")
    assert (dam["stage"], dam["pups_sucking"]) == ("nursing", 7)

    dose = asked.get(f"pups/{uid('older:amber')}/dose?medicine={uid('pyrantel_us_suspension')}")
    # 21 CFR 520.2042: 4.54 mg/lb under 5 lb, 1 lb = 0.45359237 kg.
    assert dose["dose_mg"] == pytest.approx(dose["weight_g"] / 453.59237 * 4.54, rel=1e-4)
    assert not [one for one in dose["advice"] if one["level"] == "warning"]

    plan = asked.get(f"treatment-plans/{uid('worming:older')}/dates")["animals"]
    for one in plan:
        states = {line["due_on"]: line["state"] for line in one["dates"][:3]}
        # At 2, 3 and 4 weeks of age by the same label; the litter is 28 days old.
        assert states == {
            (today - timedelta(days=14)).isoformat(): "given",
            (today - timedelta(days=7)).isoformat(): "given",
            today.isoformat(): "due",
        }

    leaving = asked.get(f"litters/{uid('older')}/leaving")
    visit = leaving["appointment"]
    # Core vaccine from 6 weeks, leaving from 8 weeks in England (SI 2018/486).
    assert visit["on"] == (today + timedelta(days=14)).isoformat()
    assert {one["called"] for one in visit["frees"]} == {"amber", "birch", "clay"}
    assert {one["leaves_on"] for one in visit["frees"]} == {(today + timedelta(days=28)).isoformat()}

    planned = asked.get(f"planned-mating?sire={uid('Marram')}&dam={uid('Bramble')}")
    # Wright 1922: one common ancestor, one step to the sire and two to the dam: (1/2)^(1+2+1).
    assert planned["inbreeding"] == pytest.approx(0.0625)

    card = asked.get(f"litters/{uid('expected')}/vet-card")["card"]["text"]
    assert "6 expected" in card
    assert "days from first mating" in card
    born = asked.get(f"litters/{uid('young')}/vet-card")
    assert born["labour"]["stage"] == "finished"
    assert "7 born alive." in born["card"]["text"]
    assert " ago" not in born["card"]["text"]
    wormed = asked.get(f"dogs/{uid('Bramble')}/dose?medicine={uid('pyrantel_us_suspension')}")
    assert wormed["outcome"] == "worked out"


def test_nothing_it_tells_of_carries_a_warning_that_nobody_meant(
    tmp_path: Path, owner: psycopg.Connection
) -> None:
    Asked(tmp_path)
    for table in ("health_treatment", "litters_whelpingentry", "litters_weighing", "litters_boxclimate"):
        rows = owner.execute(
            f"SELECT warnings FROM {table} WHERE warnings <> '[]' OR possible_duplicate_of IS NOT NULL"
        ).fetchall()
        assert rows == [], table


@pytest.mark.parametrize(
    "at",
    [
        datetime(2026, 3, 29, 0, 58, tzinfo=UTC),  # two minutes before the clocks go forward
        datetime(2026, 7, 14, 22, 50, tzinfo=UTC),  # ten minutes before midnight in London
        datetime(2026, 10, 25, 1, 20, tzinfo=UTC),  # in the hour that comes twice, before the morning's round
    ],
)
def test_it_can_be_started_at_any_hour_with_something_due_soon(
    at: datetime, tmp_path: Path, owner: psycopg.Connection
) -> None:
    with override_settings(STATE_DIR=str(tmp_path)):
        demo.fill(at)
    soon = owner.execute(
        "SELECT kind FROM duties_duty WHERE due_at BETWEEN %s AND %s ORDER BY due_at",
        [at, at + timedelta(hours=10)],
    ).fetchall()
    assert {"soak", "meal", "worming"} <= {kind for (kind,) in soon}
    late = owner.execute("SELECT count(*) FROM litters_weighing WHERE occurred_at > %s", [at]).fetchone()
    assert late == (0,)

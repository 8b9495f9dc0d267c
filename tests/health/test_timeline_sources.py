"""Doses, health events and watches stand in the litter's timeline, and nobody else's do."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from tests.api import DeviceClient
from tests.factories.people import Place, make_kennel
from tests.factories.records import Nest, make_nest, make_record

pytestmark = pytest.mark.usefixtures("db")


def ago(hours: float) -> datetime:
    return timezone.now() - timedelta(hours=hours)


def lines_of(place: Place, litter: str) -> list[dict[str, Any]]:
    answer = DeviceClient(place).get(f"litters/{litter}/timeline")
    assert answer.status_code == 200, answer.content
    lines: list[dict[str, Any]] = answer.json()["results"]
    return [line for line in lines if line["type"] != "birth"]


def fill(place: Place, nest: Nest) -> str:
    """A dose of a pup and of the dam, events of a pup, the dam and the litter, a watch that was closed."""
    medicine = make_record(place, "medicine", name="Wormer", active="pyrantel", form="liquid")
    moss = nest.pups["moss"]
    make_record(
        place,
        "treatment",
        pup=moss,
        medicine=medicine,
        dose_mg=4.5,
        amount=1,
        amount_unit="mL",
        lot="L 1",
        occurred_at=ago(9),
    )
    make_record(place, "treatment", dog=nest.dam, medicine=medicine, outcome="spat_out", occurred_at=ago(8))
    make_record(place, "health-event", pup=moss, kind="diarrhoea", occurred_at=ago(7))
    make_record(place, "health-event", dog=nest.dam, kind="vomiting", occurred_at=ago(6))
    make_record(
        place, "health-event", litter=nest.litter, kind="vet_visit", vet="Dr Reed", occurred_at=ago(5)
    )
    make_record(
        place,
        "watch",
        pup=moss,
        level="act_today",
        reasons=["small"],
        opened_at=ago(4),
        closed_at=ago(3),
        closed_by="vet",
        closing_reason="gains",
    )
    return medicine


def test_each_stands_in_order_with_what_was_said() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=20)
    fill(place, nest)
    lines = lines_of(place, nest.litter)
    moss = nest.pups["moss"]
    assert [(line["type"], line["pup"]) for line in lines] == [
        ("watch-closed", moss),
        ("watch", moss),
        ("health-event", None),
        ("health-event", None),
        ("health-event", moss),
        ("treatment", None),
        ("treatment", moss),
    ]
    assert lines[0]["said"] == {"closed_by": "vet", "closing_reason": "gains"}
    assert lines[1]["said"] == {"level": "act_today", "reasons": ["small"]}
    assert lines[2]["said"]["vet"] == "Dr Reed"
    assert lines[5]["said"]["outcome"] == "spat_out"
    assert "not_kept" in [warning["code"] for warning in lines[5]["warnings"]]
    dose = lines[6]["said"]
    assert (dose["medicine"], dose["dose_mg"], dose["amount"], dose["lot"]) == ("Wormer", 4.5, 1, "L 1")
    assert lines[6]["recorded_by"] == place.keeper.name


def test_what_happened_to_the_dam_long_before_is_not_the_litters() -> None:
    place = make_kennel()
    nest = make_nest(place, days_old=20)
    medicine = make_record(place, "medicine", name="Wormer", active="pyrantel", form="liquid")
    for days in (94, 96):  # pregnancy's last 75 days before whelping belong to the litter
        make_record(place, "treatment", dog=nest.dam, medicine=medicine, occurred_at=ago(24 * days))
    assert len(lines_of(place, nest.litter)) == 1


def test_another_litter_and_another_kennel_show_none_of_it() -> None:
    place, other = make_kennel(), make_kennel()
    nest = make_nest(place, days_old=20)
    beside = make_nest(place, days_old=20, name="Bramble's")
    elsewhere = make_nest(other, days_old=20)
    fill(place, nest)
    assert lines_of(place, beside.litter) == []
    assert lines_of(other, elsewhere.litter) == []
    assert DeviceClient(other).get(f"litters/{nest.litter}/timeline").status_code == 404

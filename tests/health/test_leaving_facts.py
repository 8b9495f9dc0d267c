"""What health asks for before a pup leaves, against the published labels and schemes named in each test."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from uuid import UUID

import psycopg
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kennel.records import door
from litters.domain.appointment import Appointment, best_appointment
from litters.domain.leaving import Clears, Hold
from litters.selectors_litters import litter_heads
from litters.services.leavings import LitterLeaving, leaving_of
from tests.health.scenes import Health
from tests.kennel.duties.scenes import AT, utc

pytestmark = pytest.mark.usefixtures("db")


def found_in(scene: Health, at: datetime) -> LitterLeaving:
    """What keeps the litter's pups at an instant."""
    here = scene.place.here
    with door.read(here, scene.place.actor, at):
        head = litter_heads([scene.litter], here.id)[scene.litter]
        return leaving_of(head, here, at)


def holds(scene: Health, pup: UUID, at: datetime = AT) -> dict[str, Hold]:
    """Key -> hold of one pup."""
    one = next(one for one in found_in(scene, at).pups if one.pup.uid == pup)
    return {hold.key: hold for hold in one.found.holds}


def health_keys(scene: Health, pup: UUID, at: datetime = AT) -> set[str]:
    """Keys of the holds that come from health."""
    kinds = ("vaccination:", "treatment:", "course:", "watch:")
    return {key for key in holds(scene, pup, at) if key.startswith(kinds)}


def vaccine(scene: Health, name: str = "Core vaccine", active: str = "core antigens") -> UUID:
    """A vaccine of the cupboard."""
    return scene.create(
        "medicine",
        {"name": name, "purpose": "vaccination", "active": active, "form": "liquid", "supply": "vet_only"},
    )


def test_the_first_dose_of_a_series_keeps_every_pup_from_the_age_it_begins_at() -> None:
    scene = Health()
    assert health_keys(scene, scene.pups[0]) == set()
    scene.plan_for("core", vaccine(scene), name="Core vaccine")
    hold = holds(scene, scene.pups[0])["vaccination:Core vaccine"]
    # WSAVA 2024 as told by clinics: from 6 weeks; 42 days after 7 January is 18 February.
    assert (hold.on, hold.clears, hold.visits) == (date(2026, 2, 18), Clears.VISIT, 1)


def test_a_pup_that_had_its_dose_is_kept_again_only_when_the_next_one_is_due() -> None:
    scene = Health()
    given = vaccine(scene)
    scene.plan_for("core", given, name="Core vaccine")
    moss, rust, _ = scene.pups
    scene.give(moss, given, utc("2026-02-18 09:00"), lot="V 1")
    assert health_keys(scene, moss, utc("2026-02-19 09:00")) == set()
    assert health_keys(scene, rust, utc("2026-02-19 09:00")) == {"vaccination:Core vaccine"}
    # Usual repeat after 2 to 4 weeks, 6 weeks the longest gap (WSAVA 2024, AAHA 2017).
    assert health_keys(scene, moss, utc("2026-03-17 09:00")) == set()
    overdue = holds(scene, moss, utc("2026-03-18 09:00"))["vaccination:Core vaccine"]
    assert (overdue.on, overdue.until_on) == (date(2026, 3, 18), date(2026, 4, 1))


def test_a_plan_that_ended_keeps_nobody() -> None:
    scene = Health()
    plan = scene.plan_for("core", vaccine(scene))
    scene.change("treatment-plan", plan, {"ended_on": "2026-02-03"})
    assert health_keys(scene, scene.pups[0]) == set()


def test_a_worming_date_that_has_come_keeps_a_pup_until_the_dose_is_on_record() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    scene.plan_for("us_label_pyrantel", medicine, name="Worming")
    # 21 CFR 520.2042: at 2, 3, 4, 6 ... weeks; 3 weeks after 7 January is 28 January.
    hold = holds(scene, scene.pups[0])["treatment:Worming"]
    assert "due on 2026-01-28" in hold.text
    assert (hold.on, hold.clears) == (AT.date(), Clears.PERSON)
    scene.give(scene.pups[0], medicine, AT - timedelta(hours=1))
    assert health_keys(scene, scene.pups[0]) == set()
    assert health_keys(scene, scene.pups[1]) == {"treatment:Worming"}


def test_a_pup_under_the_labels_weight_waits_without_a_date_and_under_its_age_with_one() -> None:
    # 21 CFR 520.1441: milbemycin oxime from 4 weeks and 2 lb, 907 g in whole grams.
    scene = Health()
    scene.weigh_in(scene.pups[1], 880, AT - timedelta(hours=1))
    scene.plan_for("us_label_pyrantel", scene.label("milbemycin_oxime", prescriber="the vet"), name="Worming")
    by_age = holds(scene, scene.pups[0])["treatment:Worming"]
    assert by_age.on == date(2026, 2, 4)  # 28 days after 7 January
    later = utc("2026-02-05 12:00")
    assert holds(scene, scene.pups[0], later)["treatment:Worming"].on == date(2026, 2, 5)
    by_weight = holds(scene, scene.pups[1], later)["treatment:Worming"]
    assert by_weight.on is None
    assert "907 g" in by_weight.text


def test_a_course_keeps_a_pup_to_the_day_after_its_last_dose() -> None:
    # 21 CFR 520.905b: fenbendazole on three days running.
    scene = Health()
    medicine = scene.label("fenbendazole_suspension_100", name="Fenbendazole")
    moss, rust, slate = scene.pups
    scene.give(moss, medicine, AT - timedelta(hours=4))
    for days in (2, 1, 0):
        scene.give(rust, medicine, AT - timedelta(days=days, hours=4))
    assert holds(scene, moss)["course:Fenbendazole"].on == date(2026, 2, 6)  # doses on the 3rd, 4th and 5th
    assert health_keys(scene, rust) == set()
    assert health_keys(scene, slate) == set()


def test_an_open_watch_and_an_illness_nobody_ended_keep_a_pup_without_a_date() -> None:
    scene = Health()
    moss, rust, slate = scene.pups
    watch = scene.create(
        "watch",
        {
            "pup": str(moss),
            "level": "watch",
            "reasons": ["gains too little."],
            "opened_at": AT.isoformat(),
        },
    )
    event = scene.create(
        "health-event",
        {"pup": str(rust), "kind": "diarrhoea", "occurred_at": (AT - timedelta(days=2)).isoformat()},
    )
    hold = holds(scene, moss)[f"watch:{watch}"]
    assert (hold.on, hold.text) == (None, "To keep an eye on since 2026-02-03: gains too little.")
    assert holds(scene, rust)[f"watch:{event}"].text.endswith("diarrhoea, not said to be over.")
    assert health_keys(scene, slate) == set()
    over = {"ended_on": "2026-02-03", "reason": "well again"}
    closed = {"closed_at": AT.isoformat(), "closed_by": "vet", "closing_reason": "gains again"}
    scene.change("watch", watch, closed, AT + timedelta(minutes=1))
    scene.change("health-event", event, over, AT + timedelta(minutes=1))
    assert health_keys(scene, moss, AT + timedelta(minutes=2)) == set()
    assert health_keys(scene, rust, AT + timedelta(minutes=2)) == set()


def test_a_waiver_names_a_watch_by_its_key() -> None:
    scene = Health()
    long = "gains too little, " * 20
    watch = scene.create(
        "watch",
        {"pup": str(scene.pups[0]), "level": "watch", "reasons": [long], "opened_at": AT.isoformat()},
    )
    given = {
        "pup": str(scene.pups[0]),
        "hold_key": f"watch:{watch}",
        "why": "small but well",
        "said_by": "Dr Reed",
    }
    scene.create("waiver", given)
    assert holds(scene, scene.pups[0])[f"watch:{watch}"].waived == "small but well (Dr Reed)"


def test_rabies_keeps_only_a_pup_that_travels_and_counts_from_the_dose(owner: psycopg.Connection) -> None:
    # Regulation (EU) 576/2013 annex III: at 12 weeks (84 days) or later, and 21 days of waiting.
    scene = Health()
    here = scene.place.here
    owner.execute("UPDATE people_kennel SET place = 'FR' WHERE id = %s", [here.id])
    scene.place = replace(scene.place, here=replace(here, place="FR"))
    given = vaccine(scene, "Rabies vaccine", "inactivated rabies virus")
    scene.plan_for("rabies", given)
    moss, rust, _ = scene.pups
    booked = {"litter": str(scene.litter), "pup": str(moss), "travels_to": "Ireland"}
    scene.create("booking", booked)
    assert holds(scene, moss)["travel_rabies"].on == date(2026, 4, 1)
    assert health_keys(scene, rust) == set()
    scene.change("pup", moss, {"chip_code": "826098106123456", "chipped_on": "2026-02-20"}, AT)
    scene.give(moss, given, utc("2026-04-01 09:00"))
    waiting = holds(scene, moss, utc("2026-04-02 09:00"))
    assert "travel_rabies" not in waiting
    assert waiting["travel_wait"].on == date(2026, 4, 22)


def test_one_visit_vaccinates_and_frees_the_pups_whose_time_has_come() -> None:
    scene = Health()
    scene.plan_for("core", vaccine(scene), name="Core vaccine")
    scene.change("litter", scene.litter, {"weaned_on": "2026-02-01"})
    for pup in scene.pups[:2]:
        scene.create("booking", {"litter": str(scene.litter), "pup": str(pup), "leaves_on": "2026-02-03"})
    found = found_in(scene, AT)
    visit: Appointment | None = best_appointment([one.found for one in found.pups], found.on)
    assert visit is not None
    assert visit.on == date(2026, 2, 18)  # six weeks of age, as above
    assert {one.pup for one in visit.frees} == {"moss", "rust"}
    assert [one.pup for one in visit.still_kept] == ["slate"]


def test_what_another_kennel_knows_keeps_nobody_here() -> None:
    scene, other = Health(), Health()
    other.plan_for("core", vaccine(other), name="Core vaccine")
    for pup in other.pups:
        other.create(
            "watch",
            {"pup": str(pup), "level": "watch", "reasons": ["small"], "opened_at": AT.isoformat()},
        )
    assert health_keys(other, other.pups[0]) != set()
    assert all(health_keys(scene, pup) == set() for pup in scene.pups)


def test_more_pups_and_more_plans_cost_no_more_queries() -> None:
    def asked(pups: int) -> int:
        scene = Health(pups)
        scene.plan_for("core", vaccine(scene))
        scene.plan_for("us_label_pyrantel", scene.label("pyrantel_us_suspension"))
        with CaptureQueriesContext(connection) as caught:
            found = found_in(scene, AT)
        assert len(found.pups) == pups
        return len(caught)

    assert asked(3) == asked(30)

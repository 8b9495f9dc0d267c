"""Worming and vaccination days: planned from schemes and ages, closed by treatments, offered again by weighings."""

import json
from datetime import timedelta
from typing import Any

import pytest

from tests.health.scenes import Health
from tests.kennel.duties.scenes import AT, minutes, utc
from tests.web.pages import Pages

pytestmark = pytest.mark.usefixtures("db")


def asks(duty: dict[str, Any]) -> dict[str, Any]:
    """What a duty asks for."""
    found = duty["asks"]
    return dict(json.loads(found) if isinstance(found, str) else found)


def test_worming_day_names_medicine_weight_and_its_age() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    plan = scene.plan_for("us_label_pyrantel", medicine)
    # 21 CFR 520.2042: at 2, 3, 4, 6, 8 and 10 weeks; 4 weeks after 7 January is 4 February.
    assert len(scene.duties("kind = 'worming'")) == 1
    duty = scene.of("worming", "2026-02-04")[0]
    assert asks(duty)["medicine"] == str(medicine)
    assert asks(duty)["plan"] == str(plan)
    # 4.54 mg/lb x 1.8 kg / 0.45359237 kg/lb = 18.016 mg; at 4.54 mg/mL that is 3.968 mL.
    assert "Pyrantel suspension (US label)" in duty["text"]
    assert "moss 3.97 mL (18.016 milligrams of pyrantel as the base)" in duty["text"]
    assert "1800 g weighed 24 h before" in duty["text"]
    assert scene.animals(duty["uid"]) == dict.fromkeys(("moss", "rust", "slate"), "outstanding")
    assert f"{duty['due_at']:%H:%M}" == "08:00"


def test_weights_older_than_a_day_are_asked_for_two_hours_before() -> None:
    scene = Health(weight_g=None)
    for pup, at in zip(scene.pups, ("2026-02-03 07:00", "2026-02-03 08:00", "2026-02-03 11:00"), strict=True):
        scene.weigh_in(pup, 1800, utc(at))
    scene.plan_for("us_label_pyrantel", scene.label("pyrantel_us_suspension"))
    duty = scene.of("weigh-first", "2026-02-04")[0]
    assert f"{duty['due_at']:%H:%M}" == "06:00"
    # Weighed at 07:00 the day before: 25 h old at the worming at 08:00; 24 h and less still count.
    assert scene.animals(duty["uid"]) == {"moss": "outstanding"}
    assert duty["text"] == (
        "Bramble's: weigh moss first, for worming at 08:00 with Pyrantel suspension (US label)."
    )
    scene.weigh_in(scene.pups[0], 1810, utc("2026-02-04 06:20"))
    assert scene.of("weigh-first", "2026-02-04", "closed")


def test_recording_the_treatment_completes_the_animals_part_and_cancels_reminders() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    scene.plan_for("us_label_pyrantel", medicine)
    scene.tick(utc("2026-02-04 08:00"))
    duty = scene.of("worming", "2026-02-04")[0]
    assert len([m for m in scene.messages("inbox") if m["duty_uid"] == duty["uid"]]) >= 3
    pending = "r.state = 'pending'"
    assert any(m["duty_uid"] == duty["uid"] for m in scene.messages("inbox", pending))
    for pup in scene.pups[:2]:
        scene.give(pup, medicine, utc("2026-02-04 08:10"), amount="3.97", amount_unit="mL", lot="L 4711")
    assert scene.animals(duty["uid"]) == {"moss": "done", "rust": "done", "slate": "outstanding"}
    last = scene.give(scene.pups[2], medicine, utc("2026-02-04 08:12"))
    assert scene.of("worming", "2026-02-04", "closed")
    assert not any(m["duty_uid"] == duty["uid"] for m in scene.messages("inbox", pending))
    scene.remove("treatment", last, utc("2026-02-04 08:13"))
    assert scene.animals(duty["uid"])["slate"] == "outstanding"
    assert scene.of("worming", "2026-02-04")


def test_a_pup_under_the_labels_minimum_stays_outstanding_and_is_offered_by_the_weighing_that_passes() -> (
    None
):
    scene = Health()
    # 21 CFR 520.1441: from 4 weeks and 2 lb, which is 907 g on a scale in grams.
    medicine = scene.label("milbemycin_oxime", prescriber="the vet")
    moss, rust, slate = scene.pups
    scene.weigh_in(slate, 880, AT - minutes(10))
    scene.plan_for("capc", medicine)
    scene.tick(utc("2026-02-04 08:00"))
    duty = scene.of("worming", "2026-02-04")[0]
    assert "slate: The label begins at 0.907 kg (907 g); slate weighs 0.88 kg" in duty["text"]
    for pup in (moss, rust):
        scene.give(pup, medicine, utc("2026-02-04 08:10"), dose_mg="0.9")
    assert scene.animals(duty["uid"]) == {"moss": "done", "rust": "done", "slate": "outstanding"}
    scene.weigh_in(slate, 900, utc("2026-02-05 08:00"))  # 900 g is not 2 lb
    assert scene.animals(duty["uid"])["slate"] == "outstanding"
    scene.weigh_in(slate, 915, utc("2026-02-06 08:00"))
    assert scene.animals(duty["uid"])["slate"] == "deferred"
    own = scene.of("worming", "2026-02-06")[0]
    assert f"{own['due_at']:%H:%M}" == "08:01"
    assert scene.animals(own["uid"]) == {"slate": "outstanding"}
    # 0.5 mg/kg x 0.915 kg = 0.4575 mg, shown to a microgram.
    assert "slate 0.458 milligrams of milbemycin oxime, 915 g weighed 0 h before" in own["text"]
    scene.tick(utc("2026-02-06 08:02"))
    assert any(m["duty_uid"] == own["uid"] for m in scene.messages("inbox"))
    scene.give(slate, medicine, utc("2026-02-06 08:05"), dose_mg="0.46")
    assert scene.of("worming", "2026-02-06", "closed")
    # Own dates from then on: 14 days after 6 February, its littermates 14 days after the 4th.
    scene.tick(utc("2026-02-17 12:00"))
    assert scene.animals(scene.of("worming", "2026-02-18")[0]["uid"]) == dict.fromkeys(
        ("moss", "rust"), "outstanding"
    )
    assert scene.animals(scene.of("worming", "2026-02-20")[0]["uid"]) == {"slate": "outstanding"}


def test_before_anybody_was_told_a_new_weight_simply_changes_what_is_asked() -> None:
    scene = Health(weight_g=880)
    medicine = scene.label("milbemycin_oxime", prescriber="the vet")
    scene.plan_for("capc", medicine)
    assert "907 g" in scene.of("worming", "2026-02-04")[0]["text"]
    scene.weigh_in(scene.pups[0], 920, AT + minutes(1))
    scene.plan(AT + minutes(2))
    text = scene.of("worming", "2026-02-04")[0]["text"]
    assert "moss 0.46 milligrams of milbemycin oxime, 920 g weighed 20 h before" in text
    assert "rust: The label begins" in text


def test_a_course_of_three_days_asks_for_the_other_two() -> None:
    scene = Health()
    medicine = scene.label("fenbendazole_suspension_100")
    for pup in scene.pups[:2]:
        scene.give(pup, medicine, AT, amount="0.9", amount_unit="mL")
    days = [
        (f"{duty['due_at']:%d %H:%M}", list(scene.animals(duty["uid"])))
        for duty in scene.duties("kind = 'treatment-course'")
    ]
    assert sorted(days) == [
        ("04 12:00", ["moss"]),
        ("04 12:00", ["rust"]),
        ("05 12:00", ["moss"]),
        ("05 12:00", ["rust"]),
    ]
    scene.give(scene.pups[0], medicine, AT + timedelta(hours=24), amount="0.9", amount_unit="mL")
    states = [duty["state"] for duty in scene.duties("kind = 'treatment-course'")]
    assert states.count("closed") == 1
    assert len(scene.duties("kind = 'treatment-course'")) == 4  # the second dose begins no course of its own


def test_a_vaccination_is_due_at_the_first_age_and_names_no_number() -> None:
    scene = Health()
    vaccine = scene.create(
        "medicine",
        {
            "name": "Core vaccine",
            "purpose": "vaccination",
            "active": "core",
            "form": "liquid",
            "supply": "vet_only",
        },
    )
    scene.plan_for("core", vaccine)
    # WSAVA 2024 by a clinic's account: first dose from 6 weeks; 42 days after 7 January is 18 February.
    scene.tick(utc("2026-02-16 12:00"))
    duty = scene.of("vaccination", "2026-02-18")[0]
    assert "no amount is given here" in duty["text"]
    assert " mg" not in duty["text"]
    assert " mL" not in duty["text"]
    scene.give(scene.pups[0], vaccine, utc("2026-02-18 09:00"), lot="V 1")
    assert scene.animals(duty["uid"])["moss"] == "done"


def test_the_daily_round_follows_the_rhythm_of_the_age() -> None:
    scene = Health(weight_g=None)
    born_at = utc("2026-02-03 09:00")
    dam = scene.create("dog", {"name": "Sorrel", "sex": "female"})
    litter = scene.create("litter", {"name": "Sorrel's", "dam": str(dam), "whelped_at": born_at.isoformat()})
    pups = [
        scene.create("pup", {"litter": str(litter), "band": band, "born_at": born_at.isoformat()})
        for band in ("wine", "lime")
    ]
    for pup in pups:
        scene.weigh_in(pup, 400, AT)
    scene.plan(AT + minutes(1))
    # Dog Owner's Home Veterinary Handbook, chapter 17: daily to day 14, every third day to a month.
    duty = scene.of("weigh-in", "2026-02-04")[0]
    assert duty["text"] == "Weigh Sorrel's: wine, lime."
    scene.weigh_in(pups[0], 420, utc("2026-02-04 07:00"))
    assert scene.animals(duty["uid"]) == {"wine": "done", "lime": "outstanding"}
    for pup in pups:
        scene.weigh_in(pup, 900, utc("2026-02-18 12:00"))
    scene.plan(utc("2026-02-18 12:05"))
    assert scene.of("weigh-in", "2026-02-19") == []
    assert scene.of("weigh-in", "2026-02-20") == []
    scene.plan(utc("2026-02-19 12:00"))
    assert len(scene.of("weigh-in", "2026-02-21")) == 1
    # Bramble's was entered four weeks old: its keeper has habits by then.
    assert not [one for one in scene.duties("kind = 'weigh-in'") if "Bramble" in one["text"]]


def test_pups_that_left_are_not_wormed_here() -> None:
    scene = Health()
    scene.plan_for("us_label_pyrantel", scene.label("pyrantel_us_suspension"))
    scene.create("departure", {"pup": str(scene.pups[0]), "kind": "sold", "occurred_at": AT.isoformat()}, AT)
    scene.plan(AT + minutes(1))
    duty = scene.of("worming", "2026-02-04")[0]
    assert scene.animals(duty["uid"]) == dict.fromkeys(("rust", "slate"), "outstanding")


def test_a_plan_costs_the_same_queries_for_3_and_for_24_pups() -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for pups in (3, 24):
        scene = Health(pups, weight_g=None)
        scene.plan_for("us_label_pyrantel", scene.label("pyrantel_us_suspension"))
        with CaptureQueriesContext(connection) as caught:
            scene.replan(AT + minutes(5))
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_the_page_of_a_duty_leads_to_where_its_fact_is_recorded() -> None:
    scene = Health(weight_g=None)
    medicine = scene.label("pyrantel_us_suspension")
    scene.plan_for("us_label_pyrantel", medicine)
    pages, base = Pages(scene.place), f"/kennels/{scene.place.here.uid}"
    worming, weighing = scene.of("worming", "2026-02-04")[0], scene.of("weigh-first", "2026-02-04")[0]
    html = pages.get(f"due/{worming['uid']}").content.decode()
    assert f'href="{base}/litters/{scene.litter}/worming-day/{medicine}"' in html
    assert "Gloves on" in html  # the caution stands beside the action
    assert 'value="done"' not in html
    for pup in scene.pups[:2]:
        scene.give(pup, medicine, utc("2026-02-04 08:10"))
    assert f'href="{base}/pups/{scene.pups[2]}/treat"' in pages.get(f"due/{worming['uid']}").content.decode()
    html = pages.get(f"due/{weighing['uid']}").content.decode()
    assert f'href="{base}/litters/{scene.litter}/weigh"' in html

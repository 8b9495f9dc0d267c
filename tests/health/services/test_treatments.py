"""Advice beside a dose that was given: kept as warnings, never a refusal."""

from datetime import timedelta

import pytest

from kennel.records.refusals import Refusal
from tests.health.scenes import Health
from tests.kennel.duties.scenes import AT, minutes

pytestmark = pytest.mark.usefixtures("db")


def test_dose_and_weight_follow_from_what_was_measured_out() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    given = scene.give(scene.pups[0], medicine, AT, amount="4", amount_unit="mL", lot="L 1")
    row = scene.row("health_treatment", given)
    assert float(row["dose_mg"]) == pytest.approx(4 * 4.54)
    assert float(row["weight_g"]) == 1800
    assert row["weighed_at"] == AT - timedelta(hours=4)
    assert scene.warnings(given) == {}


def test_a_dose_in_milligrams_says_how_much_of_the_salt_product_that_is() -> None:
    scene = Health()
    # Pyrantel base 206.31 g/mol of pamoate 594.68 g/mol: 144 mg of pamoate hold 49.96 mg of base.
    medicine = scene.label("pyrantel_us_suspension", strength_value="144", strength_stated="salt")
    given = scene.give(scene.pups[0], medicine, AT, dose_mg="18")
    row = scene.row("health_treatment", given)
    assert float(row["amount"]) == pytest.approx(18 / (144 * 206.31 / 594.68), rel=1e-4)
    assert row["amount_unit"] == "mL"


def test_under_the_labels_minimum_is_kept_with_a_warning() -> None:
    scene = Health(weight_g=880)
    medicine = scene.label("milbemycin_oxime", prescriber="the vet")
    given = scene.give(scene.pups[0], medicine, AT, dose_mg="0.5")
    # 21 CFR 520.1441: from 4 weeks (28 days) and 2 lb (907 g); this pup is 27 days old and weighs 880 g.
    told = scene.warnings(given)
    assert "begins at 28 days of age; moss is 27" in told["under_minimum_age"]
    assert "907 g" in told["under_minimum_weight"]


def test_a_dose_given_again_within_the_interval_says_when_and_by_whom() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    first = scene.give(scene.pups[0], medicine, AT, amount="4", amount_unit="mL")
    again = scene.give(scene.pups[0], medicine, AT + timedelta(hours=3), amount="4", amount_unit="mL")
    assert scene.warnings(first) == {}
    assert f"was given 3 h ago by {scene.idris.name}" in scene.warnings(again)["given_recently"]
    assert scene.row("health_treatment", again)["possible_duplicate_of"] is None


def test_the_same_dose_entered_twice_is_kept_linked_and_said() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    first = scene.give(scene.pups[0], medicine, AT, amount="4", amount_unit="mL")
    second = scene.give(scene.pups[0], medicine, AT + minutes(1), amount="4", amount_unit="mL")
    assert scene.row("health_treatment", second)["possible_duplicate_of"] == first
    assert scene.idris.name in scene.warnings(second)["possible_double"]
    other = scene.give(scene.pups[1], medicine, AT + minutes(1), amount="4", amount_unit="mL")
    assert scene.row("health_treatment", other)["possible_duplicate_of"] is None


def test_a_tenfold_slip_is_worth_a_second_look() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    given = scene.give(scene.pups[0], medicine, AT, amount="40", amount_unit="mL")
    assert "10 times what the label works out to" in scene.warnings(given)["far_from_label"]


def test_more_than_twice_the_last_dose_is_worth_a_second_look() -> None:
    scene = Health()
    medicine = scene.create(
        "medicine", {"name": "Drops", "purpose": "other", "active": "drops", "form": "liquid"}
    )
    scene.give(scene.pups[0], medicine, AT - timedelta(days=2), dose_mg="10")
    twice = scene.give(scene.pups[0], medicine, AT - timedelta(days=1), dose_mg="20")
    assert "second_look" not in scene.warnings(twice)  # exactly twice is not more than twice
    more = scene.give(scene.pups[0], medicine, AT, dose_mg="40.1")
    assert "2 times the last dose (20 mg)" in scene.warnings(more)["second_look"]


def test_a_stale_weight_says_its_age() -> None:
    scene = Health(weight_g=None)
    scene.weigh_in(scene.pups[0], 1500, AT - timedelta(days=4))
    given = scene.give(scene.pups[0], scene.label("pyrantel_us_suspension"), AT, dose_mg="15")
    assert "4 days old" in scene.warnings(given)["stale_weight"]
    unweighed = scene.give(scene.pups[1], scene.label("pyrantel_us_suspension"), AT, dose_mg="15")
    assert "no_weight" in scene.warnings(unweighed)


def test_an_expired_lot_and_a_dose_that_was_spat_out_are_kept_with_what_to_mind() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    given = scene.give(scene.pups[0], medicine, AT, dose_mg="18", expires_on="2026-02-02", outcome="spat_out")
    told = scene.warnings(given)
    assert "2026-02-02" in told["expired"]
    assert "the vet decides" in told["not_kept"]


def test_a_pup_with_diarrhoea_is_wormed_against_advice_only() -> None:
    scene = Health()
    event = {
        "litter": str(scene.litter),
        "kind": "diarrhoea",
        "occurred_at": (AT - timedelta(hours=5)).isoformat(),
    }
    scene.create("health-event", event)
    given = scene.give(scene.pups[0], scene.label("pyrantel_us_suspension"), AT, dose_mg="18")
    # Owner's veterinary handbook (secondary quotation): diarrhoea first needs a diagnosis.
    assert "needs a diagnosis" in scene.warnings(given)["unwell"]


def test_a_vet_only_medicine_is_recorded_with_the_vets_word() -> None:
    scene = Health()
    given = scene.give(scene.pups[0], scene.label("toltrazuril"), AT, dose_mg="30", prescriber="Dr Crane")
    assert "by a vet only" in scene.warnings(given)["vet_only"]
    assert scene.row("health_treatment", given)["prescriber"] == "Dr Crane"


def test_a_vaccination_with_the_vets_name_needs_no_more_words() -> None:
    scene = Health()
    body = {"name": "Core vaccine", "purpose": "vaccination", "active": "core antigens", "form": "liquid"}
    vaccine = scene.create("medicine", body | {"supply": "vet_only"})
    unnamed = scene.give(scene.pups[0], vaccine, AT, lot="V 1")
    assert set(scene.warnings(unnamed)) == {"vet_only"}
    named = scene.give(scene.pups[1], vaccine, AT, lot="V 1", prescriber="Dr Crane")
    assert scene.warnings(named) == {}


def test_tablets_of_a_liquid_are_refused_as_nonsense() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    with pytest.raises(Refusal) as caught:
        scene.give(scene.pups[0], medicine, AT, amount="1", amount_unit="tablet")
    assert caught.value.errors[0].pointer == "#/amount_unit"


def test_a_corrected_amount_corrects_dose_and_advice() -> None:
    scene = Health()
    medicine = scene.label("pyrantel_us_suspension")
    given = scene.give(scene.pups[0], medicine, AT, amount="40", amount_unit="mL")
    scene.change("treatment", given, {"amount": "4", "reason": "a slip of the point"}, AT + minutes(2))
    assert float(scene.row("health_treatment", given)["dose_mg"]) == pytest.approx(18.16)
    assert scene.warnings(given) == {}

"""Doses from product records; figures worked by hand from 21 CFR 520 and label tables written out here."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from health.domain.advice import Level
from health.domain.dose_amount import band_for, tablets_as_cut
from health.domain.dosing import Dose, Outcome, dose, minimums_not_met
from health.domain.medicine import Band, Breeding, Form, Medicine, OtherActive, Stated, Supply
from health.domain.patient import DosingLimits, Patient
from health.domain.published_labels import FIVE_POUNDS_KG, PUBLISHED_LABELS
from health.domain.repeat_doses import PastDose
from health.domain.units import FixedAmount, Rate, Strength

AT = datetime(2026, 3, 29, 9, 0, tzinfo=UTC)
PYRANTEL = PUBLISHED_LABELS["pyrantel_us_suspension"]
FENBENDAZOLE = PUBLISHED_LABELS["fenbendazole_granules_222"]


def pup(
    mass_kg: float | None, age_days: int | None = 28, weight_age_days: float | None = 0.2, **more: bool
) -> Patient:
    return Patient("Blue", mass_kg=mass_kg, weight_age_days=weight_age_days, age_days=age_days, **more)


def codes(answer: Dose) -> set[str]:
    return {one.code for one in answer.advice}


def text_of(answer: Dose, code: str) -> str:
    return next(one.text for one in answer.advice if one.code == code)


# --- amounts --------------------------------------------------------------------------------------------


def test_a_small_pup_gets_the_higher_band_of_pyrantel_as_a_volume() -> None:
    # 21 CFR 520.2042: 4.54 mg/lb at 5 lb or less; 0.9 kg = 1.984 lb -> 9.008 mg -> 1.984 mL of 4.54 mg/mL.
    answer = dose(PYRANTEL, pup(0.9), at=AT)
    assert answer.outcome is Outcome.WORKED_OUT
    assert answer.dose_mg == pytest.approx(9.008, rel=1e-4)
    assert answer.amount == pytest.approx(1.984, rel=1e-3)
    assert answer.amount_unit == "mL"
    assert answer.amount_text == "1.98 mL"
    assert answer.stated == "milligrams of pyrantel as the base"


def test_the_halving_at_five_pounds_is_explained_on_both_sides_of_it() -> None:
    below, above = dose(PYRANTEL, pup(2.26), at=AT), dose(PYRANTEL, pup(2.28), at=AT)
    assert below.dose_mg == pytest.approx(22.62, rel=1e-3)
    assert above.dose_mg == pytest.approx(11.41, rel=1e-3)
    for answer in (below, above):
        assert "halves" in answer.band
        assert "5 lb" in answer.band
        assert "not a slip" in answer.band


def test_exactly_five_pounds_still_belongs_to_the_lower_band() -> None:
    assert dose(PYRANTEL, pup(FIVE_POUNDS_KG), at=AT).dose_mg == pytest.approx(22.7)


def test_granules_come_in_grams_and_a_course_in_total() -> None:
    # 3.2 kg x 50 mg/kg = 160 mg a day; granules of 222 mg/g; three days: 480 mg.
    answer = dose(FENBENDAZOLE, pup(3.2, age_days=60), at=AT)
    assert answer.dose_mg == pytest.approx(160)
    assert answer.amount == pytest.approx(0.7207, rel=1e-4)
    assert answer.amount_unit == "g"
    assert answer.course_days == 3
    assert answer.course_mg == pytest.approx(480)
    assert answer.course_amount == pytest.approx(2.162, rel=1e-3)


def test_a_strength_given_as_salt_is_turned_to_base_before_measuring_out() -> None:
    # 14.4 mg/mL of pamoate holds 14.4 x 206.31 / 594.68 = 4.996 mg/mL of base (molar masses).
    salt = dataclasses.replace(PYRANTEL, strength=Strength(14.4, "mg/mL"), strength_stated=Stated.SALT)
    answer = dose(salt, pup(0.9), at=AT)
    assert answer.amount == pytest.approx(9.008 / (14.4 * 206.31 / 594.68), rel=1e-3)
    assert answer.amount == pytest.approx(1.803, rel=1e-3)


def test_a_dose_given_as_salt_for_a_strength_given_as_base_goes_the_other_way() -> None:
    record = Medicine(
        "Paste", "pyrantel", Form.PASTE, Strength(10, "mg/g"), Rate(14.4, "mg/kg"),
        dose_stated=Stated.SALT, strength_stated=Stated.BASE, base_per_salt=206.31 / 594.68,
    )  # fmt: skip
    # 2 kg x 14.4 mg salt = 28.8 mg salt = 9.99 mg base = 0.999 g of a paste with 10 mg base in a gram.
    answer = dose(record, pup(2.0), at=AT)
    assert answer.dose_mg == pytest.approx(28.8)
    assert answer.amount == pytest.approx(0.9991, rel=1e-3)


def test_base_and_salt_without_a_known_ratio_give_no_amount() -> None:
    unknown = dataclasses.replace(PYRANTEL, strength_stated=Stated.SALT, base_per_salt=None)
    answer = dose(unknown, pup(0.9), at=AT)
    assert (answer.outcome, answer.amount, answer.dose_mg) == (Outcome.NOT_COMPUTABLE, None, None)
    assert codes(answer) == {"base_or_salt_unknown"}


def test_a_volume_for_body_mass_gives_every_active_in_it() -> None:
    record = Medicine(
        "Two in one", "first", Form.LIQUID, Strength(0.9, "mg/mL"), Rate(0.5, "mL/kg"),
        other_actives=(OtherActive("second", Strength(18, "mg/mL")),),
    )  # fmt: skip
    answer = dose(record, pup(2.0), at=AT)
    assert answer.amount == pytest.approx(1.0)
    assert answer.dose_mg == pytest.approx(0.9)
    ((name, second_mg),) = answer.other_actives_mg
    assert name == "second"
    assert second_mg == pytest.approx(18)


def test_a_product_without_a_strength_gives_milligrams_and_nothing_to_measure_out() -> None:
    answer = dose(PUBLISHED_LABELS["milbemycin_oxime"], pup(6.0, age_days=60), at=AT)
    assert answer.dose_mg == pytest.approx(3)
    assert (answer.amount, answer.amount_text) == (None, "")
    assert "strength_unknown" in codes(answer)


TABLETS = Medicine(
    "Tablets by weight", "something", Form.TABLET, Strength(20, "mg/tablet"),
    (Band(2.0, 4.0, FixedAmount(0.5, "tablet")), Band(4.1, 8.0, FixedAmount(1, "tablet"))),
)  # fmt: skip


@pytest.mark.parametrize(("mass_kg", "tablets"), [(2.0, 0.5), (4.0, 0.5), (4.05, 0.5), (4.1, 1), (8.0, 1)])
def test_a_weight_is_never_rounded_up_to_the_next_band(mass_kg: float, tablets: float) -> None:
    answer = dose(TABLETS, pup(mass_kg), at=AT)
    assert answer.amount == tablets
    assert answer.dose_mg == pytest.approx(20 * tablets)


def test_a_weight_over_the_last_band_gives_no_amount_and_under_the_first_stays_outstanding() -> None:
    over = dose(TABLETS, pup(8.01), at=AT)
    assert (over.outcome, over.amount) == (Outcome.NOT_COMPUTABLE, None)
    assert codes(over) == {"off_the_label"}
    under = dose(TABLETS, pup(1.99), at=AT)
    assert (under.outcome, under.amount, under.needs_mass_kg) == (Outcome.OUTSTANDING, None, 2.0)


def test_a_tablet_that_cannot_be_cut_exactly_says_what_either_side_would_give() -> None:
    record = Medicine(
        "Tablet", "something", Form.TABLET, Strength(50, "mg/tablet"), Rate(5, "mg/kg"), tablet_parts=4
    )
    answer = dose(record, pup(6.0), at=AT)
    assert answer.amount == pytest.approx(0.6)
    # 0.5 tablet is 83.3 % of 0.6, 0.75 tablet is 125 %.
    assert "0.5 is 83.3 %" in text_of(answer, "tablet_cannot_be_cut")
    assert "0.75 is 125 %" in text_of(answer, "tablet_cannot_be_cut")
    assert "tablet_cannot_be_cut" not in codes(dose(record, pup(5.0), at=AT))
    assert tablets_as_cut(0.5, 4) == (0.5, 0.5)


def test_a_record_that_states_no_dose_gives_none() -> None:
    answer = dose(Medicine("Drops", "something", Form.LIQUID, Strength(5, "mg/mL")), pup(2.0), at=AT)
    assert (answer.outcome, answer.dose_mg) == (Outcome.NOT_COMPUTABLE, None)
    assert codes(answer) == {"no_dose_basis"}


# --- what keeps a dose back -----------------------------------------------------------------------------


def test_a_pup_under_the_least_weight_is_not_dosed_and_offered_by_the_weighing_that_passes_it() -> None:
    record = PUBLISHED_LABELS["milbemycin_oxime"]
    waiting = dose(record, pup(0.85, age_days=35), at=AT)
    assert (waiting.outcome, waiting.dose_mg, waiting.needs_mass_kg) == (Outcome.OUTSTANDING, None, 0.907)
    assert "stays outstanding" in text_of(waiting, "under_minimum_weight")
    assert minimums_not_met(record, pup(0.907, age_days=35)) == ()
    assert dose(record, pup(0.907, age_days=35), at=AT).outcome is Outcome.WORKED_OUT


def test_a_pup_under_the_least_age_is_not_dosed_until_that_day() -> None:
    record = PUBLISHED_LABELS["milbemycin_oxime"]
    waiting = dose(record, pup(1.5, age_days=27), at=AT)
    assert (waiting.outcome, waiting.dose_mg, waiting.needs_age_days) == (Outcome.OUTSTANDING, None, 28)
    assert dose(record, pup(1.5, age_days=28), at=AT).outcome is Outcome.WORKED_OUT


def test_the_product_decides_and_not_the_active() -> None:
    # Two fenbendazole labels: one without a least age, one that forbids pups under 12 weeks or 6.6 kg.
    young = pup(3.2, age_days=21)
    assert dose(FENBENDAZOLE, young, at=AT).outcome is Outcome.WORKED_OUT
    other = dose(PUBLISHED_LABELS["fenbendazole_granules_uk_2010"], young, at=AT)
    assert other.outcome is Outcome.OUTSTANDING
    assert codes(other) == {"under_minimum_age", "under_minimum_weight"}


def test_without_a_weight_there_is_no_number() -> None:
    answer = dose(PYRANTEL, pup(None), at=AT)
    assert (answer.outcome, answer.dose_mg, answer.weigh_first) == (Outcome.WEIGH_FIRST, None, True)


@pytest.mark.parametrize(
    ("age_days", "weight_age_days", "stale"),
    [
        (28, 3.0, False),
        (28, 3.01, True),
        (28, None, True),
        (None, 3.01, True),
        (800, 3.01, False),
        (800, 31, True),
    ],
)
def test_a_pups_weight_is_stale_after_three_days(
    age_days: int | None, weight_age_days: float | None, stale: bool
) -> None:
    answer = dose(FENBENDAZOLE, pup(3.2, age_days=age_days, weight_age_days=weight_age_days), at=AT)
    assert answer.weigh_first is stale
    assert ("stale_weight" in codes(answer)) is stale
    assert answer.dose_mg == pytest.approx(160)


def test_the_limits_of_weight_age_are_the_kennels_to_change() -> None:
    strict = DosingLimits(pup_weight_days=1)
    assert dose(FENBENDAZOLE, pup(3.2, weight_age_days=1.5), at=AT, limits=strict).weigh_first


def test_nothing_only_a_vet_may_dose_ever_shows_a_number() -> None:
    vet_only = [one for one in PUBLISHED_LABELS.values() if one.vet_only]
    vet_only.append(dataclasses.replace(FENBENDAZOLE, name="As ordered", supply=Supply.VET_ONLY))
    assert len(vet_only) == 4
    for record in vet_only:
        for mass_kg in (0.3, 0.39, 3.2, None):
            answer = dose(
                record, Patient("Blue", mass_kg=mass_kg, age_days=10), at=AT, cupboard=[FENBENDAZOLE]
            )
            assert answer.outcome is Outcome.VET_ONLY
            said = " ".join(
                [answer.band, answer.method, answer.amount_text, *(one.text for one in answer.advice)]
            )
            assert not re.search(r"\d", said)
            numbers = (
                answer.dose_mg,
                answer.amount,
                answer.course_mg,
                answer.course_amount,
                answer.course_days,
            )
            assert numbers == (None,) * 5
            assert answer.other_actives_mg == ()
            assert (answer.needs_age_days, answer.needs_mass_kg) == (None, None)


# --- what is said beside a dose -------------------------------------------------------------------------


def test_a_dose_more_than_twice_the_last_asks_for_a_second_look() -> None:
    earlier = AT - timedelta(days=14)
    twice = [PastDose(FENBENDAZOLE.name, "fenbendazole", earlier, 80.0)]
    more = [PastDose("Another granule", "Fenbendazole", earlier, 79.0)]
    assert "second_look" not in codes(dose(FENBENDAZOLE, pup(3.2), at=AT, past=twice))
    assert "second_look" in codes(dose(FENBENDAZOLE, pup(3.2), at=AT, past=more))


def test_strengths_of_one_active_that_lie_tenfold_apart_are_named_in_words() -> None:
    strong = dataclasses.replace(PYRANTEL, name="Pyrantel suspension, strong", strength=Strength(50, "mg/mL"))
    alike = dataclasses.replace(PYRANTEL, name="Pyrantel suspension, weak", strength=Strength(2.27, "mg/mL"))
    answer = dose(PYRANTEL, pup(0.9), at=AT, cupboard=[PYRANTEL, strong, alike, FENBENDAZOLE])
    assert [one.code for one in answer.advice].count("strengths_far_apart") == 1
    text = text_of(answer, "strengths_far_apart")
    assert "11 times stronger: 50 milligrams in each millilitre" in text
    assert "4.54 milligrams in each millilitre" in text
    other_way = dose(strong, pup(0.9), at=AT, cupboard=[PYRANTEL])
    assert "11 times weaker" in text_of(other_way, "strengths_far_apart")


def test_the_unit_is_repeated_in_words_for_the_kilogram_and_for_the_pound() -> None:
    text = text_of(dose(PYRANTEL, pup(4.0), at=AT), "unit_in_words")
    assert "5 milligrams for each kilogram" in text
    assert "2.27 milligrams for each pound" in text
    assert "as the base" in text


def test_the_interval_of_medicine_and_plan_stands_beside_the_dose() -> None:
    past = [PastDose(PYRANTEL.name, "pyrantel", AT - timedelta(minutes=35), 9.0, "Idris Vane")]
    answer = dose(PYRANTEL, pup(0.9), at=AT, past=past, plan_gap_days=14)
    assert "35 min ago by Idris Vane" in text_of(answer, "given_recently")
    assert answer.dose_mg is not None


def test_condition_and_supply_are_named() -> None:
    milbemycin = PUBLISHED_LABELS["milbemycin_oxime"]
    answer = dose(milbemycin, pup(6.0, age_days=90, unwell=True, sensitive_breed=True), at=AT)
    assert {"unwell", "sensitive_breed", "no_prescriber"} <= codes(answer)
    prescribed = dataclasses.replace(milbemycin, prescriber="the vet at Hollin Bank")
    answer = dose(prescribed, pup(6.0, age_days=90), at=AT)
    assert "prescription" in codes(answer)
    assert not {"unwell", "sensitive_breed", "no_prescriber"} & codes(answer)
    assert "sensitive_breed" not in codes(dose(FENBENDAZOLE, pup(6.0, sensitive_breed=True), at=AT))


def test_a_pregnant_or_nursing_bitch_is_judged_by_the_products_own_label() -> None:
    dam = Patient("Bramble", mass_kg=19, weight_age_days=2, age_days=1200, pregnant=True, nursing=True)
    advised_against = dataclasses.replace(
        FENBENDAZOLE, pregnancy=Breeding.NOT_RECOMMENDED, nursing=Breeding.LABELLED
    )
    assert codes(dose(advised_against, dam, at=AT)) >= {"pregnant_not_recommended"}
    assert not codes(dose(advised_against, dam, at=AT)) & {"nursing_not_stated", "nursing_not_recommended"}
    assert codes(dose(FENBENDAZOLE, dam, at=AT)) >= {"pregnant_not_stated", "nursing_not_stated"}


def test_an_age_not_on_record_is_said_where_the_label_has_a_least_age() -> None:
    answer = dose(PYRANTEL, pup(3.0, age_days=None), at=AT)
    assert answer.outcome is Outcome.WORKED_OUT
    assert "age_unknown" in codes(answer)


def test_an_expired_lot_is_named_from_the_day_after_its_date() -> None:
    on_the_day = dose(PYRANTEL, pup(0.9), at=AT, expires_on=date(2026, 3, 29), today=date(2026, 3, 29))
    after = dose(PYRANTEL, pup(0.9), at=AT, expires_on=date(2026, 3, 28), today=date(2026, 3, 29))
    assert "expired" not in codes(on_the_day)
    assert "expired" in codes(after)


def test_the_loudest_advice_comes_first_and_every_answer_carries_its_caution() -> None:
    past = [PastDose(PYRANTEL.name, "pyrantel", AT - timedelta(days=8), 9.0)]
    answer = dose(PYRANTEL, pup(0.9, weight_age_days=9), at=AT, past=past, plan_gap_days=14)
    assert [one.code for one in answer.advice][:2] == ["stale_weight", "given_recently"]
    assert answer.least_amount
    levels = [one.level for one in answer.advice]
    assert levels == sorted(levels, key=[Level.WARNING, Level.NOTICE, Level.INFO].index)
    assert "Read the label" in answer.caution
    assert answer.source == "21 CFR 520.2042 (read in the text)"


def test_an_answer_is_plain_json() -> None:
    answer = dose(PYRANTEL, pup(0.9), at=AT)
    read_back = json.loads(json.dumps(dataclasses.asdict(answer)))
    assert read_back["outcome"] == "worked out"
    assert read_back["advice"][0]["level"] in {"warning", "notice", "info"}


# --- refusals and properties ----------------------------------------------------------------------------

LIQUID: dict[str, Any] = {"name": "Drops", "active": "something", "form": Form.LIQUID}


@pytest.mark.parametrize(
    "make",
    [
        lambda: Medicine(**LIQUID, strength=Strength(5, "mg/g")),
        lambda: Medicine(**LIQUID, basis=Rate(1, "tablet/kg")),
        lambda: Medicine(**LIQUID, basis=()),
        lambda: Medicine(**LIQUID, basis=(Band(0, None, Rate(1, "mg/kg")), Band(5, None, Rate(1, "mg/kg")))),
        lambda: Medicine(**LIQUID, basis=(Band(0, 5, Rate(1, "mg/kg")), Band(4, 8, Rate(1, "mg/kg")))),
        lambda: Medicine(**LIQUID, basis=(Band(0, 5, Rate(1, "mg/kg")), Band(5, 8, FixedAmount(1, "mL")))),
        lambda: Medicine(**LIQUID, dose_stated=Stated.BASE),
        lambda: Medicine(**LIQUID, base_per_salt=1.2),
        lambda: Medicine(**LIQUID, minimum_age_days=-1),
        lambda: Medicine(**LIQUID, minimum_mass_kg=0),
        lambda: Medicine(**LIQUID, course_days=0),
        lambda: Medicine(**LIQUID, tablet_parts=3),
        lambda: Medicine(**LIQUID, repeat_after_days=0),
        lambda: Medicine(**LIQUID, dose_interval_h=math.nan),
        lambda: Medicine(" ", "something", Form.LIQUID),
        lambda: Medicine(
            "Paste", "a", Form.PASTE, Strength(5, "mg/g"),
            other_actives=(OtherActive("b", Strength(5, "mg/mL")),),
        ),
        lambda: Band(5, 4, Rate(1, "mg/kg")),
        lambda: Band(-1, 4, Rate(1, "mg/kg")),
        lambda: Patient("Blue", mass_kg=0),
        lambda: Patient("Blue", weight_age_days=math.inf),
        lambda: Patient("Blue", age_days=-1),
        lambda: dose(PYRANTEL, pup(1.0), at=datetime(2026, 3, 29)),
        lambda: dose(PYRANTEL, pup(1.0), at=AT, plan_gap_days=0),
        lambda: band_for(TABLETS, 1.0),
        lambda: band_for(TABLETS, 9.0),
    ],
)  # fmt: skip
def test_what_contradicts_itself_is_refused(make: object) -> None:
    with pytest.raises(ValueError):
        make()  # type: ignore[operator]


COMPUTABLE = [one for one in PUBLISHED_LABELS.values() if one.basis is not None]


@given(record=st.sampled_from([*COMPUTABLE, TABLETS]), mass=st.floats(), age=st.integers(0, 4000))
def test_any_float_is_refused_or_gives_finite_amounts(record: Medicine, mass: float, age: int) -> None:
    try:
        patient = pup(mass, age_days=age)
    except ValueError:
        assert not 0.001 <= mass <= 120
        return
    answer = dose(record, patient, at=AT)
    if answer.outcome is not Outcome.WORKED_OUT:
        assert answer.dose_mg is None
        assert answer.amount is None
        assert answer.advice
        return
    for number in (answer.dose_mg, answer.amount, answer.course_mg, answer.course_amount):
        assert number is None or (math.isfinite(number) and number > 0)


@given(
    mass=st.floats(0.05, 100),
    strength=st.floats(0.1, 900),
    unit=st.sampled_from(["mg/mL", "% w/v", "mcg/mL", "g/L"]),
)
def test_the_amount_always_holds_exactly_the_dose(mass: float, strength: float, unit: str) -> None:
    printed = Strength(strength, unit)
    record = Medicine(**LIQUID, strength=printed, basis=Rate(5, "mg/kg"))
    answer = dose(record, pup(mass), at=AT)
    assert answer.amount is not None
    assert answer.amount * printed.mg_per_part == pytest.approx(5 * mass)


@given(mass=st.floats(0.05, 100))
def test_one_rate_printed_for_the_pound_or_the_kilogram_gives_one_dose(mass: float) -> None:
    by_kg = Medicine(**LIQUID, basis=Rate(10, "mg/kg"))
    by_lb = Medicine(**LIQUID, basis=Rate(4.5359237, "mg/lb"))
    first, second = dose(by_kg, pup(mass), at=AT).dose_mg, dose(by_lb, pup(mass), at=AT).dose_mg
    assert first == pytest.approx(second)


def test_only_doses_of_the_same_active_with_a_known_amount_are_compared_with_the_last() -> None:
    earlier = AT - timedelta(days=30)
    other_active = [PastDose("Drops", "something else", earlier, 1.0)]
    unknown = [PastDose(FENBENDAZOLE.name, "fenbendazole", earlier, None)]
    for past in (other_active, unknown):
        assert "second_look" not in codes(dose(FENBENDAZOLE, pup(3.2), at=AT, past=past))


def test_one_tablet_and_more_tablets_are_said_in_plain_english() -> None:
    assert dose(TABLETS, pup(8.0), at=AT).amount_text == "1 tablet"
    assert dose(TABLETS, pup(3.0), at=AT).amount_text == "0.5 tablets"

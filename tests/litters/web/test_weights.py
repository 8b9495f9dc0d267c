"""Weights in words.  Factors: NIST Special Publication 811, appendix B.8 (pound 0.45359237 kg, 16 ounces)."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pint
import pytest

from kennel.people.choices import MassUnit
from litters.web import weights
from litters.web.second_look import expected_g

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("grams", "unit", "text"),
    [
        (412, "g", "412 g"),
        ("412.5", "g", "412.5 g"),
        ("412.50", "g", "412.5 g"),
        (19000, "g", "19 kg"),
        (4999, "g", "4999 g"),
        (412, "kg", "0.412 kg"),
        (412, "oz", "14.53 oz"),
        (19000, "oz", "41.89 lb"),
        (412, "lb", "0.91 lb"),
        (100, "g", "100 g"),
    ],
)
def test_a_weight_is_said_in_the_carers_unit(grams: object, unit: str, text: str) -> None:
    assert weights.said(grams, unit) == text


@pytest.mark.parametrize("unit", ["oz", "lb"])
@pytest.mark.parametrize("grams", [1, 87, 412, 1600, 4400])
def test_conversion_agrees_with_an_independent_library(grams: int, unit: str) -> None:
    expected = (grams * UNITS.gram).to(unit).magnitude
    assert float(weights.in_unit(Decimal(grams), MassUnit(unit))) == pytest.approx(expected, abs=0.0051)


def test_what_was_typed_is_shown_as_typed_when_the_units_agree() -> None:
    weighing = {"weight_g": 411.93, "entered_value": 14.53, "entered_unit": "oz"}
    assert weights.said_as_entered(weighing, "oz") == "14.53 oz"
    assert weights.said_as_entered(weighing, "g") == "411.9 g"


@pytest.mark.parametrize(
    ("newer", "older", "text"),
    [(430, 412, "+18 g"), (400, 412, "−12 g"), (412, 412, "no change"), ("412.0", 412, "no change")],
)
def test_a_difference_carries_its_sign(newer: object, older: object, text: str) -> None:
    assert weights.change_said(newer, older, "g") == text


AT = datetime(2026, 3, 1, 7, 30, tzinfo=UTC)


def test_the_second_look_lets_a_good_day_pass_and_stops_a_missing_digit() -> None:
    # Common practice, no source: a healthy pup gains up to about 10 % a day in its first week.
    least, most = expected_g(412, AT - timedelta(days=1), AT) or (0, 0)
    assert least < 412 * 0.95
    assert least < 412 * 1.10 < most
    assert not least <= 41.2 <= most
    assert not least <= 4120 <= most
    assert not least <= 412 / 28.35 <= most


def test_the_second_look_grows_with_the_time_passed_and_is_silent_after_ten_days() -> None:
    one = expected_g(412, AT - timedelta(days=1), AT)
    five = expected_g(412, AT - timedelta(days=5), AT)
    assert one is not None
    assert five is not None
    assert five[1] > one[1]
    assert expected_g(412, AT - timedelta(days=11), AT) is None

"""Transponder codes against the ISO 11784 bit map; country numbers against pycountry."""

from __future__ import annotations

import dataclasses
import json

import pycountry
import pytest
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.identification import (
    LARGEST_NATIONAL_ID,
    ChipClass,
    chip_class,
    chip_code,
    codes_used_twice,
    same_chip,
)
from litters.domain.iso3166_numeric import COUNTRIES


def test_the_country_numbers_are_exactly_those_of_pycountry() -> None:
    # Independent library: pycountry carries Debian's iso-codes.
    expected = {country.numeric: country.alpha_2 for country in pycountry.countries}
    assert {number: letters for number, (letters, _) in COUNTRIES.items()} == expected
    assert all(name for _, name in COUNTRIES.values())


def test_every_assigned_country_number_is_a_country_and_every_other_below_900_is_invalid() -> None:
    assigned = {country.numeric for country in pycountry.countries}
    for number in range(1, 900):
        expected = "country" if f"{number:03}" in assigned else "invalid"
        assert chip_class(f"{number:03}098100123456") == expected


def test_every_number_from_900_to_998_is_a_maker_and_999_only_a_test() -> None:
    assert {chip_class(f"{number}112003456789") for number in range(900, 999)} == {"manufacturer"}
    test = chip_code("999000000000001")
    assert (test.chip_class, test.usable_on_papers) == (ChipClass.TEST, False)
    assert "tests only" in test.reasons[0]


def test_the_last_twelve_digits_hold_at_most_38_bits() -> None:
    # ISO 11784: 38 bits of national identity, 2^38 = 274,877,906,944 codes.
    assert LARGEST_NATIONAL_ID == 274_877_906_943
    assert chip_class("276274877906943") == "country"
    assert chip_class("276274877906944") == "invalid"
    assert "38 bits" in chip_code("985999999999999").reasons[0]


@pytest.mark.parametrize(
    "entered",
    [
        "826098106123456",
        "826 0981 0612 3456",
        "826.098.106123456",
        " 826-098-106-123-456\t",
        "826\u2011098106123456",
    ],
)
def test_blanks_dots_and_hyphens_do_not_matter(entered: str) -> None:
    code = chip_code(entered)
    assert (code.code, code.chip_class, code.country_code) == ("826098106123456", ChipClass.COUNTRY, "GB")


def test_leading_zeros_are_kept_as_text() -> None:
    code = chip_code("040098100111917")
    assert (code.code, code.country, code.national_id) == ("040098100111917", "Austria", 98_100_111_917)


@pytest.mark.parametrize(
    ("entered", "word"),
    [
        ("", "no code"),
        ("9851120034S6789", "digits 0 to 9"),
        ("98511200345678", "14 digits"),
        ("9851120034567891", "16 digits"),
        ("000123456789012", "000"),
        ("280123456789012", "withdrawn"),
        ("٩٨٥١١٢٠٠٣٤٥٦٧٨٩", "digits 0 to 9"),
        ("-985112003456789+", "digits 0 to 9"),
    ],
)
def test_an_invalid_code_says_why(entered: str, word: str) -> None:
    code = chip_code(entered)
    assert code.chip_class is ChipClass.INVALID
    assert word in " ".join(code.reasons)
    assert not code.usable_on_papers


def test_a_reader_that_drops_the_leading_zero_is_recognised() -> None:
    code = chip_code("40098100111917")
    assert code.chip_class is ChipClass.INVALID
    assert "Austria" in code.reasons[0]


@pytest.mark.parametrize("entered", ["123456789", "0A1B2C3D4E", "0a1b2c3d4e", "123 456 789", "0123456789"])
def test_older_chips_of_nine_or_ten_characters_are_not_errors(entered: str) -> None:
    assert chip_class(entered) == "non-ISO"
    assert not chip_code(entered).usable_on_papers


def test_entering_twice_stands_in_for_the_missing_check_digit() -> None:
    assert same_chip("826 098106 123456", "826098106123456")
    assert not same_chip("826098106123456", "826098106123465")
    assert not same_chip("", " ")


def test_one_code_on_two_animals_is_found_however_it_was_typed() -> None:
    codes = [
        ("Bramble", "826 098106 123456"),
        ("Sorrel", "826098106123456"),
        ("Teasel", "985112003456789"),
        ("Teasel", "985112003456789"),
        ("Marram", ""),
    ]
    assert codes_used_twice(codes) == {"826098106123456": ("Bramble", "Sorrel")}


@given(prefix=st.integers(0, 999), national_id=st.integers(0, 10**12 - 1))
def test_a_code_is_taken_apart_into_what_it_was_made_of(prefix: int, national_id: int) -> None:
    code = chip_code(f"{prefix:03}{national_id:012}")
    assert code.national_id == national_id
    valid = national_id < 2**38 and (prefix >= 900 or f"{prefix:03}" in COUNTRIES)
    assert (code.chip_class is not ChipClass.INVALID) is valid
    assert bool(code.reasons) is (not valid or prefix in (900, 999))


@given(entered=st.text())
def test_any_text_gets_a_class_and_an_invalid_one_a_reason(entered: str) -> None:
    code = chip_code(entered)
    assert code.chip_class is not ChipClass.INVALID or code.reasons
    assert json.loads(json.dumps(dataclasses.asdict(code)))["chip_class"] == code.chip_class

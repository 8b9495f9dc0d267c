"""Transponder (chip) codes: what a code tells, and which slips it can and cannot reveal.

Source: bit map of ISO 11784 as shown by ICAR (read in the text): 10 bits country or maker, shown as digits
1 to 3, and 38 bits national identity, shown as digits 4 to 15. There is no check digit, so most slips of
typing still make a valid code: scan, or enter it twice. Advice only; what is on the animal is recorded.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from litters.domain.iso3166_numeric import COUNTRIES

# 38 bits: the limit most checks forget, because fifteen digits could say far more.
LARGEST_NATIONAL_ID = 2**38 - 1
CAUTION = "Scan or enter twice: a code has no check digit, so most slips still look right."
_SOURCE = "ISO 11784 bit map and misuse page, ICAR; country numbers ISO 3166-1"
_SEPARATORS = re.compile(r"[\s.\-\u2010-\u2015]+")


class ChipClass(StrEnum):
    """What kind of code it is; the values are what people and files read."""

    COUNTRY = "country"
    MANUFACTURER = "manufacturer"
    TEST = "test"
    NON_ISO = "non-ISO"
    INVALID = "invalid"


@dataclass(frozen=True)
class ChipCode:
    """A transponder code taken apart.

    code: without separators, as text (leading zeros count). country_code: two letters for a country's code.
    maker_code: three digits for a maker's. usable_on_papers: whether it may stand on sale or travel papers.
    reasons: why it is invalid, or what to mind.
    """

    code: str
    chip_class: ChipClass
    country_code: str = ""
    country: str = ""
    maker_code: str = ""
    national_id: int | None = None
    usable_on_papers: bool = False
    reasons: tuple[str, ...] = ()
    source: str = _SOURCE
    caution: str = CAUTION


def normalised(code: str) -> str:
    """The code without blanks, dots and hyphens, in capitals; nothing else is removed."""
    return _SEPARATORS.sub("", code).upper()


def chip_code(entered: str) -> ChipCode:
    """What a code as entered or scanned means; never raises: a wrong code is classed invalid, with reasons.

    Fifteen digits: 000 invalid, 999 test only, 900-998 maker, 001-899 an assigned country number; the last
    twelve at most 274,877,906,943. Nine digits or ten hexadecimal characters: an older chip that is not ISO,
    accepted as such. Rules derived from the bit map; lengths of older chips from the same sources.
    """
    code = normalised(entered)
    if re.fullmatch(r"[0-9]{9}|[0-9A-F]{10}", code):
        text = "An older chip outside ISO 11784: many readers miss it, and it does not do for EU travel."
        return ChipCode(code, ChipClass.NON_ISO, reasons=(text,))
    if not re.fullmatch(r"[0-9]{15}", code):
        return ChipCode(code, ChipClass.INVALID, reasons=_shape_reasons(code))
    return _fifteen_digits(code)


def chip_class(entered: str) -> str:
    """The class of a code in a word: country, manufacturer, test, non-ISO or invalid."""
    return chip_code(entered).chip_class.value


def same_chip(first: str, second: str) -> bool:
    """Whether two entries of a code agree, separators apart; the second entry that replaces a check digit."""
    return normalised(first) == normalised(second) != ""


def codes_used_twice(codes_by_animal: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Codes that stand on more than one animal, with those animals; pairs of (animal, code as entered)."""
    animals: dict[str, list[str]] = defaultdict(list)
    for animal, code in codes_by_animal:
        if normalised(code) and animal not in animals[normalised(code)]:
            animals[normalised(code)].append(animal)
    return {code: tuple(names) for code, names in animals.items() if len(names) > 1}


def _fifteen_digits(code: str) -> ChipCode:
    prefix, national_id = code[:3], int(code[3:])
    reasons = []
    if prefix == "000":
        reasons.append("It begins with 000, which no country and no maker has.")
    elif prefix < "900" and prefix not in COUNTRIES:
        reasons.append(f"{prefix} is not the number of any country (ISO 3166-1), or it was withdrawn.")
    if national_id > LARGEST_NATIONAL_ID:
        reasons.append("Its last twelve digits are over 274877906943, more than 38 bits can hold.")
    if reasons:
        return ChipCode(code, ChipClass.INVALID, national_id=national_id, reasons=tuple(reasons))
    if prefix == "999":
        text = "999 is for tests only: not on papers of sale or travel; have the chip read again."
        return ChipCode(code, ChipClass.TEST, national_id=national_id, reasons=(text,))
    if prefix >= "900":
        shared = ("900 is shared by several makers, told apart by ranges of numbers.",)
        notes = shared if prefix == "900" else ()
        return ChipCode(
            code, ChipClass.MANUFACTURER, "", "", prefix, national_id, usable_on_papers=True, reasons=notes
        )
    letters, country = COUNTRIES[prefix]
    return ChipCode(code, ChipClass.COUNTRY, letters, country, "", national_id, usable_on_papers=True)


def _shape_reasons(code: str) -> tuple[str, ...]:
    if not code:
        return ("There is no code.",)
    if not re.fullmatch(r"[0-9]+", code):
        return ("It holds something other than the digits 0 to 9.",)
    if len(code) == 14 and "0" + code[:2] in COUNTRIES:
        country = COUNTRIES["0" + code[:2]][1]
        return (f"It has 14 digits; with a leading 0, which some readers drop, it would be from {country}.",)
    return (f"It has {len(code)} digits instead of 15.",)

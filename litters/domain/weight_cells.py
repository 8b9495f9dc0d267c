"""What one cell of somebody's weight sheet says: a weight with its unit, or why it is none.

Only forms people write are read; anything else is refused with a reason, never guessed.  A blank cell is a pup
that was not weighed, never a weight of zero.  Common practice, no source.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation

UNITS = ("g", "kg", "oz", "lb")
OUNCES_PER_POUND = 16  # exact by definition
LONGEST_TEXT = 200

_WORDS = {
    "g": ("g", "gr", "gm", "gms", "gram", "grams", "gramme", "grammes", "gramm"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramm"),
    "oz": ("oz", "ozs", "ounce", "ounces"),
    "lb": ("lb", "lbs", "pound", "pounds"),
}
_UNIT_OF = {word: unit for unit, words in _WORDS.items() for word in words}
_BLANK = {"", "-", "--", "–", "—", "/", "x", "n/a", "na", "n/w", "nw", "not weighed", "?", "."}
_NUMBER = r"[+-]?[0-9][0-9.,' \u00a0\u202f]*"
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*([a-z]*)\.?", re.IGNORECASE)
_POUNDS_OUNCES = re.compile(
    r"([0-9]+)\s*(?:lbs?|pounds?)\.?[\s,]*([0-9]+(?:[.,][0-9]+)?)\s*(?:oz|ozs|ounces?)\.?", re.IGNORECASE
)
_GROUPED = re.compile(r"[0-9]{1,3}([.,' ])[0-9]{3}(?:\1[0-9]{3})*")


@dataclass(frozen=True)
class Formula:
    """A cell that holds a formula; `result` is what the program that saved the file last worked out, or None."""

    text: str
    result: "str | int | float | datetime | date | time | bool | None" = None


Cell = str | int | float | Decimal | datetime | date | time | bool | Formula | None


@dataclass(frozen=True)
class Weight:
    """A weight as it was written: `value` in `unit` (None when the cell names none), with doubts as (code, text)."""

    value: Decimal
    unit: str | None
    doubts: tuple[tuple[str, str], ...] = ()


class NotAWeight(ValueError):
    """A cell that is not blank and not a weight; `code` names why, the message says it to people."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(text)
        self.code = code


def plain(cell: Cell) -> Cell:
    """The cell, or the stored result of its formula."""
    return cell.result if isinstance(cell, Formula) else cell


def text_of(cell: Cell) -> str:
    """The cell as short text, for labels and for showing it back."""
    value = plain(cell)
    if value is None:
        return cell.text[:LONGEST_TEXT] if isinstance(cell, Formula) else ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return " ".join(str(value).split())[:LONGEST_TEXT]


def is_blank(cell: Cell) -> bool:
    """Whether nothing was weighed: an empty cell, or a mark people put for it.  A formula is never blank."""
    return not isinstance(cell, Formula) and (
        cell is None or (isinstance(cell, str) and " ".join(cell.split()).casefold() in _BLANK)
    )


def unit_named(text: str) -> str | None:
    """The one unit of mass a heading names ("Red (oz)", "weight_g", "Weights in ounces"); None for none or several."""
    words = re.findall(r"[^\W\d_]+", text.casefold())
    found = {_UNIT_OF[word] for word in words if word in _UNIT_OF}
    return found.pop() if len(found) == 1 else None


def without_unit(text: str) -> str:
    """A heading without its unit: "Red (oz)" is "Red".  A heading that is nothing but a unit stays."""
    kept = re.sub(
        r"[(\[]\s*([^\W\d_]+)\.?\s*[)\]]", lambda m: "" if m[1].casefold() in _UNIT_OF else m[0], text
    )
    words = kept.replace("_", " ").split()
    while len(words) > 1 and words[-1].casefold().strip(".,:") in _UNIT_OF:
        words.pop()
    if len(words) > 1 and words[-1].casefold() == "in":
        words.pop()
    return " ".join(words)


def weight_of(cell: Cell, unit: str | None) -> Weight | None:
    """The weight a cell holds; None when it is blank.

    unit: what headings or the person say, needed to read "1,234"; a unit in the cell itself wins.
    Raises NotAWeight for zero, negative numbers, words, formulas without a stored result.
    """
    if is_blank(cell):
        return None
    doubts: tuple[tuple[str, str], ...] = ()
    if isinstance(cell, Formula):
        if cell.result is None:
            raise NotAWeight(
                "formula", "A formula without a stored result; open and save the file, or type the weight."
            )
        doubts = (("formula", "The stored result of a formula was taken."),)
        if is_blank(cell.result):
            return None
    value = plain(cell)
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | str):
        raise NotAWeight("not_a_weight", "This is not a weight.")
    if isinstance(value, str):
        read = _from_text(value, unit)
        weight = Weight(read.value, read.unit, (*doubts, *read.doubts))
    else:
        weight = Weight(_decimal(str(value)), None, doubts)
    if weight.value == 0:
        raise NotAWeight("zero", "Zero is not a weight; leave the cell empty for a pup that was not weighed.")
    if weight.value < 0:
        raise NotAWeight("negative", "A weight is not negative.")
    return weight


def _from_text(text: str, unit: str | None) -> Weight:
    stripped = " ".join(text.split())
    if stripped.startswith(("=", "@")):
        raise NotAWeight("formula", "This begins like a formula; type the weight itself.")
    if both := _POUNDS_OUNCES.fullmatch(stripped):
        ounces = int(both[1]) * OUNCES_PER_POUND + _decimal(both[2].replace(",", "."))
        return Weight(ounces, "oz")
    found = _WITH_UNIT.fullmatch(stripped)
    named = found[2].casefold() if found else ""
    if found is None or (named and named not in _UNIT_OF):
        raise NotAWeight("not_a_weight", "This is not a weight.")
    own = _UNIT_OF.get(named)
    value, doubts = _number(found[1].strip(), own or unit)
    return Weight(value, own, doubts)


def _number(text: str, unit: str | None) -> tuple[Decimal, tuple[tuple[str, str], ...]]:
    """Digits with a decimal point or a decimal comma; separators of thousands are dropped."""
    body = text.lstrip("+-")
    sign = "-" if text.startswith("-") else ""
    body = re.sub(r"[\u00a0\u202f]", " ", body)
    points, commas = body.count("."), body.count(",")
    if points and commas:
        mark = max(".,", key=body.rfind)
        whole, part = body.rsplit(mark, 1)
        if mark in whole or not _GROUPED.fullmatch(whole):
            raise NotAWeight("not_a_weight", "The points and commas of this number do not make sense.")
        return _decimal(sign + re.sub(r"\D", "", whole) + "." + part), ()
    grouped = _GROUPED.fullmatch(body)
    if grouped and (points + commas != 1 or grouped[1] not in ".,"):
        return _decimal(sign + re.sub(r"\D", "", body)), ()
    if grouped and unit == "g" and not body.startswith("0"):
        # No scale for pups shows thousandths of a gram: "1,234" grams are one thousand two hundred and thirty-four.
        doubt = ("thousands", f"{text} g is taken as thousands, not as a fraction of a gram.")
        return _decimal(sign + re.sub(r"\D", "", body)), (doubt,)
    return _decimal(sign + body.replace(",", ".")), ()


def _decimal(text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise NotAWeight("not_a_weight", "This is not a weight.") from None
    if not value.is_finite() or abs(value) >= 10**9:
        raise NotAWeight("not_a_weight", "This number is out of all proportion.")
    # What a spreadsheet keeps beyond six decimals is noise of its binary numbers.
    return value.quantize(Decimal("0.000001")) if abs(value) >= Decimal("0.000001") else Decimal(0)

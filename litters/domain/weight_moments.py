"""When a line of somebody's weight sheet was weighed: a date, an age in days, weeks or hours, the birth.

Nothing here knows a zone: the answer is a wall date with a wall time, an age in hours, or the birth itself.
Conventions without a published source (common practice): days of age count from the day of whelping as day 0;
where a sheet gives no hour, 08:00 stands for the morning round and 20:00 for the evening round.
"""

import re
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal, InvalidOperation

from litters.domain.weight_cells import Cell, plain, text_of

MORNING, EVENING, NOON = time(8), time(20), time(12)
OLDEST_DAYS = 400
_SPREADSHEET_DAY_0 = date(1899, 12, 30)
_SERIALS = range(32_874, 109_575)  # 1990 to 2199
_MONTHS = {
    name[:length]: number
    for number, name in enumerate(
        [
            "january",
            "february",
            "march",
            "april",
            "may",
            "june",
            "july",
            "august",
            "september",
            "october",
            "november",
            "december",
        ],
        1,
    )
    for length in {3, 4, len(name)}
    if length <= len(name)
}
_BIRTH = {"birth", "at birth", "born", "birth weight", "birthweight", "newborn", "whelping", "bw"}
_ROUNDS = {
    "am": MORNING, "a.m.": MORNING, "morning": MORNING, "noon": NOON, "midday": NOON,
    "pm": EVENING, "p.m.": EVENING, "evening": EVENING, "night": EVENING,
}  # fmt: skip
_CLOCK = re.compile(
    r"([01]?[0-9]|2[0-4])(?:[:.h]([0-5][0-9]))(?::[0-5][0-9](?:\.[0-9]+)?)?\s*([ap])?\.?m?\.?", re.I
)
_HOUR_12 = re.compile(r"(1[0-2]|[1-9])\s*([ap])\.?m\.?", re.I)
_ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})")
_NUMERIC = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})(?:\2([0-9]{4}|[0-9]{2})?)?")
_DAY_MONTH = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?\.?[ -]([a-z]+)\.?,?[ -]?([0-9]{4})?", re.I)
_MONTH_DAY = re.compile(r"([a-z]+)\.? ([0-9]{1,2})(?:st|nd|rd|th)?,? ?([0-9]{4})?", re.I)
_AGE_BEFORE = re.compile(r"(days?|d|weeks?|wks?|w|hours?|hrs?|h)[ .:#-]*([0-9]+(?:[.,][0-9]+)?)", re.I)
_AGE_AFTER = re.compile(
    r"([0-9]+(?:[.,][0-9]+)?)\s*(days?|d|weeks?|wks?|w|hours?|hrs?|h)(?: old| of age)?", re.I
)
_WEEKDAY = re.compile(
    r"(mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun)(day|nesday|sday|rsday|urday)?\.?,? ", re.I
)


@dataclass(frozen=True)
class Moment:
    """When: exactly one of `on` (with `at`, a wall time, or None for no hour given), `age_hours`, `is_birth`.

    age_days is kept beside `on` when the sheet gave an age instead of a date.
    """

    on: date | None = None
    at: time | None = None
    age_hours: Decimal | None = None
    is_birth: bool = False
    age_days: int | None = None
    doubts: tuple[tuple[str, str], ...] = ()

    def with_time(self, at: time | None) -> "Moment":
        """The same day at this wall time; ages in hours and births have no other time."""
        return self if at is None or self.on is None else replace(self, at=at)


@dataclass(frozen=True)
class Calendar:
    """What is known before reading: the wall date of whelping, and whether slashed dates begin with the day.

    day_first: True or False when the sheet itself shows it, None when every such date can be read both ways.
    """

    whelped_on: date
    day_first: bool | None = None


def day_order(cells: list[Cell]) -> bool | None:
    """Whether the dates with slashes of a sheet begin with the day, seen from those that can only be read one way."""
    shown = set()
    for cell in cells:
        value = plain(cell)
        found = _NUMERIC.match(value.strip()) if isinstance(value, str) else None
        if found and found[2] != ".":
            first, second = int(found[1]), int(found[3])
            if (first > 12) != (second > 12):
                shown.add(first > 12)
    return shown.pop() if len(shown) == 1 else None


def time_of(cell: Cell) -> time | None:
    """A wall time ("07:30", "7.30 pm", a time cell) or the round a word names; None for anything else."""
    value = plain(cell)
    if isinstance(value, time):
        return value.replace(second=0, microsecond=0, tzinfo=None)
    if not isinstance(value, str):
        return None
    text = " ".join(value.split()).casefold()
    if text in _ROUNDS:
        return _ROUNDS[text]
    if short := _HOUR_12.fullmatch(text):
        return time(int(short[1]) % 12 + (12 if short[2] == "p" else 0))
    if found := _CLOCK.fullmatch(text):
        hour = int(found[1])
        if found[3]:
            hour = hour % 12 + (12 if found[3] == "p" else 0)
        return time(hour, int(found[2])) if hour < 24 else None
    return None


def moment_of(cell: Cell, heading: str, calendar: Calendar) -> Moment | None:
    """When a label says; None when it names no moment.

    heading: what stands above (or before) the labels, such as "Day", "Age (hours)" or "Date": it tells what a bare
    number means.  Without a telling heading a bare number is a day of age.
    """
    value = plain(cell)
    if value is None or isinstance(value, bool):
        return None
    if isinstance(value, datetime):
        wall = value.time().replace(second=0, microsecond=0, tzinfo=None)
        return Moment(on=value.date(), at=wall if wall != time(0) else None)
    if isinstance(value, date):
        return Moment(on=value)
    if isinstance(value, time):
        return None
    text = " ".join(str(value).split()).casefold()
    bare = _bare_number(text)
    if bare is not None:
        return _from_number(bare, heading, calendar)
    return _from_text(text, calendar)


def _bare_number(text: str) -> Decimal | None:
    try:
        number = Decimal(text) if re.fullmatch(r"[0-9]+(\.0+)?", text, re.ASCII) and len(text) < 12 else None
    except InvalidOperation:
        return None
    return number


def _from_number(number: Decimal, heading: str, calendar: Calendar) -> Moment | None:
    if int(number) in _SERIALS:
        return Moment(on=_SPREADSHEET_DAY_0 + timedelta(days=int(number)))
    words = set(re.findall(r"[^\W\d_]+", heading.casefold()))
    if words & {"hour", "hours", "hrs", "hr", "h"}:
        return _age(number, "h", calendar)
    if words & {"week", "weeks", "wk", "wks"}:
        return _age(number, "w", calendar)
    return _age(number, "d", calendar)


def _from_text(text: str, calendar: Calendar) -> Moment | None:
    text = _WEEKDAY.sub("", text, count=1) if _WEEKDAY.match(text) else text
    if text in _BIRTH:
        return Moment(is_birth=True)
    for whole, at in _splits(text):
        if (found := _day_of(whole, calendar)) is not None:
            return found.with_time(at)
    return None


def _splits(text: str) -> list[tuple[str, time | None]]:
    """The text as a day alone, then every way to split a time off its end (or its beginning)."""
    ways: list[tuple[str, time | None]] = [(text, None)]
    words = re.split(r"[ ,]+|(?<=[0-9])t(?=[0-9])", text)
    for count in (1, 2):
        if len(words) > count:
            if (at := time_of(" ".join(words[-count:]))) is not None:
                ways.append((" ".join(words[:-count]), at))
            if (at := time_of(" ".join(words[:count]))) is not None:
                ways.append((" ".join(words[count:]), at))
    return ways


def _day_of(text: str, calendar: Calendar) -> Moment | None:
    if found := _AGE_BEFORE.fullmatch(text):
        return _age(Decimal(found[2].replace(",", ".")), found[1][0], calendar)
    if found := _AGE_AFTER.fullmatch(text):
        return _age(Decimal(found[1].replace(",", ".")), found[2][0], calendar)
    if found := _ISO.fullmatch(text):
        return _on(int(found[1]), int(found[2]), int(found[3]), calendar)
    if found := _DAY_MONTH.fullmatch(text):
        return _on(_year(found[3]), _MONTHS.get(found[2].casefold(), 0), int(found[1]), calendar)
    if found := _MONTH_DAY.fullmatch(text):
        return _on(_year(found[3]), _MONTHS.get(found[1].casefold(), 0), int(found[2]), calendar)
    if (found := _NUMERIC.fullmatch(text)) and not re.fullmatch(r"[0-9]+\.[0-9]+", text):
        # "14.5" alone is a number; "14.5." is the fourteenth of May.
        return _numeric(int(found[1]), int(found[3]), found[2], found[4], calendar)
    return None


def _numeric(first: int, second: int, mark: str, year: str | None, calendar: Calendar) -> Moment | None:
    if mark == ".":  # written with points the day always comes first
        return _on(_year(year), second, first, calendar)
    by_day, by_month = _on(_year(year), second, first, calendar), _on(_year(year), first, second, calendar)
    if calendar.day_first is not None or by_day is None or by_month is None:
        return (by_day if calendar.day_first is not False else by_month) or by_day or by_month
    if by_day.on == by_month.on:
        return by_day
    fits = [one for one in (by_day, by_month) if one.on and _is_plausible(one.on, calendar)]
    if len(fits) == 1:
        return fits[0]
    return replace(
        by_day, doubts=(("day_order", f"{first}{mark}{second} is read as day {first} of month {second}."),)
    )


def _is_plausible(on: date, calendar: Calendar) -> bool:
    return timedelta() <= on - calendar.whelped_on <= timedelta(days=OLDEST_DAYS)


def _year(text: str | None) -> int | None:
    return None if not text else int(text) + (2000 if len(text) == 2 else 0)


def _on(year: int | None, month: int, day: int, calendar: Calendar) -> Moment | None:
    born = calendar.whelped_on
    years = (year,) if year is not None else (born.year, born.year + 1)
    for one in years:
        try:
            found = date(one, month, day)
        except ValueError:
            continue
        # Without a year the first such day after the whelping is meant.
        if year is not None or found >= born:
            return Moment(on=found)
    return None


def _age(number: Decimal, unit: str, calendar: Calendar) -> Moment | None:
    if unit.casefold() == "h":
        return Moment(age_hours=number) if number <= OLDEST_DAYS * 24 else None
    days = number * (7 if unit.casefold() == "w" else 1)
    if days > OLDEST_DAYS or days != int(days):
        return None
    return Moment(on=calendar.whelped_on + timedelta(days=int(days)), age_days=int(days))


def label_of(cell: Cell) -> str:
    """A label as people wrote it, dates as YYYY-MM-DD."""
    value = plain(cell)
    return value.isoformat(sep=" ")[:16] if isinstance(value, datetime) else text_of(cell)

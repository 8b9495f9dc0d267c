"""Plain calendar days: the checks every date calculation of this folder shares.

Gestation is counted in calendar days of the kennel's own zone: the anchor day is day 0, so "65 days after" is
the anchor plus 65.  An instant is refused, because turning it into a day needs a zone, and that is the
caller's to know.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

EARLIEST_YEAR = 1900
LATEST_YEAR = 2199


def checked_day(day: date, name: str) -> date:
    """The same day, once it is known to be a plain date of a year a kennel can have.

    Raises ValueError for an instant (`datetime`), anything that is no date, or a year outside 1900..2199:
    such a year is a slip of typing, and the limit keeps every later sum inside the calendar.
    """
    if isinstance(day, datetime) or not isinstance(day, date):
        raise ValueError(f"{name} must be a calendar date without a time of day")
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ValueError(f"{name} {day.isoformat()} lies outside the years {EARLIEST_YEAR} to {LATEST_YEAR}")
    return day


def days_after(day: date, days: int) -> date:
    """The calendar day that lies `days` days after `day` (negative: before)."""
    return day + timedelta(days=days)

"""Calendar months and years added to a date, with both readings of a day that the target lacks."""

from __future__ import annotations

import calendar
from datetime import date


def months_after(day: date, months: int) -> date:
    """The same day of the month `months` later, or that month's last day where it has no such day.

    31 January and one month: 28 or 29 February. For schedules, where a due date must not be lost.
    Raises ValueError outside years 1 to 9999.
    """
    year, index = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise ValueError(f"{months} months from {day} lie outside the calendar")
    return date(year, index + 1, min(day.day, calendar.monthrange(year, index + 1)[1]))


def anniversary(day: date, years: int) -> date:
    """The same calendar day `years` later; of 29 February in a common year 1 March.

    For least ages and least intervals: a year is only over when no reading of the law can still say it is
    not, so the later of the two possible days is taken. Raises ValueError outside years 1 to 9999.
    """
    if not date.min.year <= day.year + years <= date.max.year:
        raise ValueError(f"{years} years from {day} lie outside the calendar")
    if (day.month, day.day) == (2, 29) and not calendar.isleap(day.year + years):
        return date(day.year + years, 3, 1)
    return day.replace(year=day.year + years)

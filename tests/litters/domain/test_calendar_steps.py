"""Calendar steps against dateutil, an independent library."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from litters.domain.calendar_steps import anniversary, months_after


@given(day=st.dates(date(1900, 1, 1), date(2199, 12, 31)), months=st.integers(-600, 600))
def test_months_agree_with_dateutil(day: date, months: int) -> None:
    assert months_after(day, months) == day + relativedelta(months=months)


@given(day=st.dates(date(1900, 1, 1), date(2199, 12, 31)), years=st.integers(0, 60))
def test_anniversaries_agree_with_dateutil_except_for_the_leap_day(day: date, years: int) -> None:
    expected = day + relativedelta(years=years)
    if (day.month, day.day) == (2, 29) and expected.day == 28:
        # dateutil falls back to 28 February; a least age is only over for certain a day later.
        expected += relativedelta(days=1)
    assert anniversary(day, years) == expected


def test_a_year_from_a_leap_day_is_over_on_the_first_of_march() -> None:
    assert anniversary(date(2028, 2, 29), 1) == date(2029, 3, 1)
    assert anniversary(date(2028, 2, 29), 4) == date(2032, 2, 29)
    assert months_after(date(2028, 2, 29), 12) == date(2029, 2, 28)


def test_steps_out_of_the_calendar_are_refused() -> None:
    with pytest.raises(ValueError):
        months_after(date(9999, 6, 1), 12)
    with pytest.raises(ValueError):
        anniversary(date(9999, 6, 1), 1)

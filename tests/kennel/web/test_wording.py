"""Instants and ages in words.  The expected texts follow from the calendar and the zone's published rules."""

from datetime import UTC, date, datetime

import pytest

from kennel.web import wording

AT = datetime(2026, 3, 29, 12, 0, tzinfo=UTC)  # London clocks went forward at 01:00 UTC that day


@pytest.mark.parametrize(
    ("instant", "text"),
    [
        ("2026-03-29T00:30:00Z", "today 00:30"),
        ("2026-03-29T01:30:00Z", "today 02:30"),
        ("2026-03-28T23:55:00Z", "yesterday 23:55"),
        ("2026-03-29T23:30:00Z", "tomorrow 00:30"),
        ("2026-03-24T07:10:00Z", "Tue 24 Mar 07:10"),
        ("2025-12-31T23:59:00Z", "31 Dec 2025 23:59"),
    ],
)
def test_an_instant_is_said_in_the_kennels_zone_with_the_day_in_words(instant: str, text: str) -> None:
    assert wording.when(instant, AT, "Europe/London") == text


def test_the_same_instant_is_another_day_in_another_zone() -> None:
    assert wording.when("2026-03-29T03:30:00Z", AT, "America/New_York") == "yesterday 23:30"


@pytest.mark.parametrize(
    ("instant", "text"),
    [
        ("2026-03-29T11:59:30Z", "just now"),
        ("2026-03-29T12:00:40Z", "just now"),
        ("2026-03-29T11:35:00Z", "25 min ago"),
        ("2026-03-29T03:00:00Z", "9 h ago"),
        ("2026-03-26T12:00:00Z", "3 days ago"),
        ("2026-01-11T12:00:00Z", "11 weeks ago"),
        ("2026-03-29T12:25:00Z", "in 25 min"),
    ],
)
def test_how_long_ago(instant: str, text: str) -> None:
    assert wording.ago(instant, AT) == text


@pytest.mark.parametrize(
    ("born", "text"),
    [
        (date(2026, 3, 29), "born today"),
        (date(2026, 3, 30), "not born yet"),
        (date(2026, 3, 28), "1 day"),
        (date(2026, 3, 16), "13 days"),
        (date(2026, 2, 19), "5 weeks 3 days"),
        (date(2026, 3, 1), "4 weeks"),
        (date(2025, 1, 29), "14 months"),
        (date(2024, 2, 29), "2 years"),
    ],
)
def test_ages_of_pups_are_days_then_weeks_and_of_dogs_months_then_years(born: date, text: str) -> None:
    assert wording.age_on(born, date(2026, 3, 29)) == text


def test_age_counts_local_days_not_hours() -> None:
    born_late = "2026-03-28T23:50:00Z"
    assert wording.age(born_late, AT, "Europe/London") == "1 day"
    assert wording.age(born_late, AT, "Asia/Tokyo") == "born today"

"""The small pure modules of the pages, run where they run: in the browser."""

from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID

import pytest

from kennel.clock.wall_clock import instant_of
from kennel.web import wording
from tests.web.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("db")]


def run(phone: Phone, module: str, expression: str, given: object = None) -> object:
    """Value of an expression over a module `m` and what is given."""
    phone.page.goto(f"{phone.server.url}/offline")
    script = f"async (given) => {{ const m = await import('/static/web/{module}.js'); return {expression}; }}"
    return phone.page.evaluate(script, given)


def test_client_made_ids_are_uuids_of_version_7_in_order_of_time(phone: Phone) -> None:
    made = run(phone, "uid", "Array.from({length: 200}, (_, i) => m.newUid(1700000000000 + i))")
    assert isinstance(made, list)
    uids = [UUID(text) for text in made]
    assert len(set(uids)) == 200
    for place, uid in enumerate(uids):
        # RFC 9562, section 5.7: 48 bits of Unix milliseconds, version 7, variant 10.
        assert uid.version == 7
        assert uid.variant == "specified in RFC 4122"
        assert uid.int >> 80 == 1_700_000_000_000 + place
    assert made == sorted(made)


WALLS = [
    (zone, day, hour)
    for zone, day in (
        ("Europe/London", "2026-03-29"),
        ("Europe/London", "2026-10-25"),
        ("America/New_York", "2026-03-08"),
        ("America/New_York", "2026-11-01"),
        ("Australia/Lord_Howe", "2026-04-05"),
        ("Australia/Lord_Howe", "2026-10-04"),
        ("Asia/Kolkata", "2026-12-31"),
        ("Pacific/Auckland", "2028-02-29"),
    )
    for hour in ("00:00", "00:59", "01:15", "01:45", "02:00", "02:30", "03:00", "12:00", "23:59")
]


def test_wall_times_become_the_same_instants_in_the_browser_as_on_the_server(phone: Phone) -> None:
    given = [[f"{day}T{hour}", zone] for zone, day, hour in WALLS]
    found = run(phone, "clock", "given.map(([text, zone]) => m.instantOf(text, zone).toISOString())", given)
    expected = [
        instant_of(date.fromisoformat(day), time.fromisoformat(hour), zone).strftime("%Y-%m-%dT%H:%M:%S.000Z")
        for zone, day, hour in WALLS
    ]
    assert found == expected


def test_ages_are_said_in_the_same_words_in_the_browser_as_on_the_server(phone: Phone) -> None:
    at = datetime(2026, 3, 29, 12, 0, tzinfo=UTC)
    minutes = [0, 1, 59, 60, 90, 120, 47 * 60, 48 * 60, 69 * 1440, 70 * 1440, -30, -90]
    found = run(
        phone,
        "clock",
        "given.map((minutes) => m.agoText(new Date(Date.parse('2026-03-29T12:00:00Z') - minutes * 60000),"
        " new Date('2026-03-29T12:00:00Z')))",
        minutes,
    )
    assert found == [wording.ago(at - timedelta(minutes=m), at) for m in minutes]

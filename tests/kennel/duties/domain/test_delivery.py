"""What is decided right before sending, and when it is tried again."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from kennel.clock.quiet_hours import QuietWindow
from kennel.duties.domain.delivery import Decision, Message, Recipient, Verdict, decide, pause_after

NOW = datetime(2026, 2, 3, 2, 0, tzinfo=UTC)
MESSAGE = Message(
    is_due=True,
    is_missed=False,
    useful_until=NOW + timedelta(hours=1),
    taken_until=None,
    goes_through=False,
    disturbs=True,
)
CARER = Recipient(is_member=True, is_on=True, is_reachable=True, quiet=None, zone="Europe/London")
NIGHT = QuietWindow(time(22), time(7))


def test_a_message_that_nothing_speaks_against_is_sent() -> None:
    assert decide(MESSAGE, CARER, NOW) == Decision(Verdict.SEND)


@pytest.mark.parametrize(
    ("message", "carer", "verdict"),
    [
        (replace(MESSAGE, is_due=False), CARER, Verdict.CANCEL),
        (replace(MESSAGE, is_due=False, is_missed=True), CARER, Verdict.MISS),
        (replace(MESSAGE, useful_until=NOW), CARER, Verdict.MISS),
        (MESSAGE, replace(CARER, is_member=False), Verdict.SUPPRESS),
        (MESSAGE, replace(CARER, is_on=False), Verdict.SUPPRESS),
        (MESSAGE, replace(CARER, is_reachable=False), Verdict.UNDELIVERABLE),
    ],
)
def test_what_changed_since_it_was_released_counts(
    message: Message, carer: Recipient, verdict: Verdict
) -> None:
    assert decide(message, carer, NOW).verdict is verdict


def test_while_somebody_is_on_it_the_message_waits_for_the_end_of_the_15_minutes() -> None:
    until = NOW + timedelta(minutes=4)
    assert decide(replace(MESSAGE, taken_until=until), CARER, NOW) == Decision(
        Verdict.PUT_OFF, until, "somebody is on it"
    )
    assert decide(replace(MESSAGE, taken_until=NOW), CARER, NOW).verdict is Verdict.SEND


def test_quiet_hours_hold_what_can_wait_until_their_end_in_the_carers_own_zone() -> None:
    sleeper = replace(CARER, quiet=NIGHT)
    assert decide(MESSAGE, sleeper, NOW).until == datetime(2026, 2, 3, 7, 0, tzinfo=UTC)
    # 02:00 UTC is 11:00 in Tokyo (UTC+9, no summer time).
    assert decide(MESSAGE, replace(sleeper, zone="Asia/Tokyo"), NOW).verdict is Verdict.SEND


def test_what_must_go_through_goes_through_and_what_does_not_disturb_is_never_held() -> None:
    sleeper = replace(CARER, quiet=NIGHT)
    assert decide(replace(MESSAGE, goes_through=True), sleeper, NOW).verdict is Verdict.SEND
    assert decide(replace(MESSAGE, disturbs=False), sleeper, NOW).verdict is Verdict.SEND


def test_pauses_grow_as_written_and_stay_at_an_hour() -> None:
    # Conventions of this project: 15 s, 1 min, 5 min, 15 min, 1 h.
    assert [pause_after(n, 0).total_seconds() for n in range(1, 8)] == [15, 60, 300, 900, 3600, 3600, 3600]
    assert pause_after(1, 1) == timedelta(seconds=18)
    assert pause_after(1, 0.5, timedelta(seconds=90)) == timedelta(seconds=90)
    assert pause_after(3, 0, timedelta(seconds=90)) == timedelta(seconds=300)


def test_impossible_pauses_are_refused() -> None:
    for attempts, jitter in ((0, 0), (1, 1.1), (1, -0.1)):
        with pytest.raises(ValueError):
            pause_after(attempts, jitter)

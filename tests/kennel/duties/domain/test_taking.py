"""Who is on it follows from the taps, in the order they arrived."""

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

from kennel.duties.domain.taking import Tap, holder, is_told, may_undo

T = datetime(2026, 2, 3, 2, 0, tzinfo=UTC)


def tap(action: str, carer: int | None, at: float, arrived: float | None = None, **more: object) -> Tap:
    """A tap `at` minutes after T, which arrived then or later."""
    moment = T + timedelta(minutes=at)
    recorded = moment if arrived is None else T + timedelta(minutes=arrived)
    device = more.pop("device", None)
    return Tap(uuid4(), action, carer, device, moment, recorded, **more)  # type: ignore[arg-type]


def who(*taps: Tap, before: UUID | None = None) -> int | None:
    hold = holder(taps, before=before)
    return hold.tap.carer_id if hold else None


def test_the_first_taker_holds_it_and_the_second_is_told() -> None:
    first, second = tap("take", 1, 0), tap("take", 2, 5)
    assert who(first, second) == 1
    assert is_told(holder([first, second], before=second.uid), second)


def test_after_15_minutes_it_is_free_again() -> None:
    assert who(tap("take", 1, 0), tap("take", 2, 15)) == 2
    assert holder([tap("take", 1, 0)]).until == T + timedelta(minutes=15)  # type: ignore[union-attr]


def test_taking_it_again_oneself_goes_on_and_taking_over_is_possible_on_purpose() -> None:
    assert holder([tap("take", 1, 0), tap("take", 1, 10)]).until == T + timedelta(minutes=25)  # type: ignore[union-attr]
    assert who(tap("take", 1, 0), tap("take", 2, 5, take_over=True)) == 2


def test_only_the_holder_gives_it_back() -> None:
    assert who(tap("take", 1, 0), tap("release", 2, 1)) == 1
    assert who(tap("take", 1, 0), tap("release", 1, 1)) is None


def test_what_the_first_taker_was_answered_stays_true_when_an_older_tap_arrives_later() -> None:
    online, offline = tap("take", 1, 5), tap("take", 2, 2, arrived=8)
    assert who(online, offline) == who(offline, online) == 1
    assert holder([tap("take", 2, 2, arrived=60)]).until < T + timedelta(minutes=60)  # type: ignore[union-attr]


def test_a_tap_is_taken_back_within_10_seconds_by_whoever_made_it() -> None:
    made = tap("take", 1, 0)
    assert who(made, tap("undo", 1, 10 / 60, undoes=made.uid)) is None
    assert who(made, tap("undo", 1, 11 / 60, undoes=made.uid)) == 1
    assert who(made, tap("undo", 2, 5 / 60, undoes=made.uid)) == 1
    # Both made without reception, sent an hour later: the device's own clock counts.
    late = tap("take", 1, 0, arrived=60)
    assert may_undo(late, tap("undo", 1, 5 / 60, arrived=61, undoes=late.uid))


def test_an_undone_take_over_gives_it_back_to_the_first() -> None:
    over = tap("take", 2, 5, take_over=True)
    assert who(tap("take", 1, 0), over, tap("undo", 2, 5.1, undoes=over.uid)) == 1


def test_devices_that_speak_for_nobody_are_told_apart() -> None:
    tablet, scale = tap("take", None, 0, device=7), tap("take", None, 1, device=8)
    hold = holder([tablet, scale])
    assert hold is not None
    assert hold.tap.device_id == 7
    assert not tablet.is_of(tap("take", 1, 0, device=7))

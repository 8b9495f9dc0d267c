"""On duty, then the next in the chain, then everybody; nobody on duty is everybody."""

from datetime import UTC, datetime, timedelta

from kennel.duties.domain.ladder import Rung, rungs
from kennel.duties.domain.rota import OnDuty

DUE = datetime(2026, 2, 3, 2, 0, tzinfo=UTC)
WAIT = timedelta(minutes=15)


def on(carer: int, rank: int = 1) -> OnDuty:
    return OnDuty(carer, rank, DUE - timedelta(hours=4), DUE + timedelta(hours=4))


def test_the_chain_goes_by_rank_and_ends_with_everybody() -> None:
    assert rungs([on(2), on(3, 2)], [1, 2, 3], DUE, WAIT) == (
        Rung(0, DUE, (2,)),
        Rung(1, DUE + WAIT, (3,)),
        Rung(2, DUE + 2 * WAIT, (1, 2, 3)),
    )


def test_carers_of_one_rank_are_told_together() -> None:
    assert rungs([on(2), on(3)], [1, 2, 3], DUE, WAIT)[0] == Rung(0, DUE, (2, 3))


def test_nobody_on_duty_is_everybody_and_once_more_when_nobody_acts() -> None:
    assert rungs([], [1, 2], DUE, WAIT) == (Rung(0, DUE, (1, 2)), Rung(1, DUE + WAIT, (1, 2)))


def test_somebody_on_duty_who_has_left_is_passed_over() -> None:
    assert rungs([on(9), on(2, 2)], [1, 2], DUE, WAIT)[0] == Rung(0, DUE, (2,))
    assert rungs([on(9)], [1, 2], DUE, WAIT)[0] == Rung(0, DUE, (1, 2))


def test_without_escalation_there_is_one_step() -> None:
    assert rungs([on(2), on(3, 2)], [1, 2, 3], DUE, None) == (Rung(0, DUE, (2,)),)


def test_a_kennel_without_anybody_has_no_steps() -> None:
    assert rungs([], [], DUE, WAIT) == ()

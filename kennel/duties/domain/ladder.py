"""Whom to tell about a duty and when: on duty, then the next in the chain, then everybody."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from kennel.duties.domain.rota import OnDuty


@dataclass(frozen=True)
class Rung:
    """One step of the escalation: at that instant these carers are told, unless it was done or taken."""

    step: int
    at: datetime
    carers: tuple[int, ...]


def rungs(
    on_duty: Sequence[OnDuty], everybody: Iterable[int], due_at: datetime, escalate_after: timedelta | None
) -> tuple[Rung, ...]:
    """All steps for a duty, the first at `due_at`, each later one `escalate_after` after the one before.

    on_duty: as `rota.on_duty` gives it; carers of one rank are told together.  everybody: carers who may act;
    one on duty who is not among them (has left) is passed over.  Nobody on duty means everybody at once, and
    everybody once more after `escalate_after`.  Without escalate_after there is one step.
    """
    able = tuple(dict.fromkeys(everybody))
    steps = [
        tuple(one.carer_id for one in group)
        for _, group in groupby((one for one in on_duty if one.carer_id in able), key=lambda one: one.rank)
    ]
    if not steps:
        steps = [able]
    if escalate_after is None:
        steps = steps[:1]
    else:
        steps.append(able)
    wait = escalate_after or timedelta(0)
    return tuple(Rung(step, due_at + step * wait, carers) for step, carers in enumerate(steps) if carers)

"""The platform's own duty kind: something to do, once or again and again, done by a tap."""

from collections.abc import Sequence
from uuid import UUID

from kennel.duties import kinds
from kennel.duties.kinds import Animal, Asked, DutyKind, Occasion
from kennel.duties.services.routines import subjects_here
from kennel.records.door import Door


def plan_tasks(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """The routine's subject (or the kennel) on every occasion; nothing once the subject is gone."""
    wanted = {
        (o.routine.subject_type, o.routine.subject_uid)
        for o in occasions
        if o.routine.subject_uid is not None
    }
    names = subjects_here({(name, uid) for name, uid in wanted if uid is not None}, door)
    return [_asked(occasion, names, door) for occasion in occasions]


def _asked(occasion: Occasion, names: dict[tuple[str, UUID], str], door: Door) -> Asked | None:
    if occasion.only is not None:
        return Asked(animals=occasion.only)
    routine = occasion.routine
    if routine.subject_uid is None:
        return Asked(animals=[kinds.whole_kennel(door)])
    name = names.get((routine.subject_type, routine.subject_uid))
    return None if name is None else Asked(animals=[Animal(routine.subject_type, routine.subject_uid, name)])


TASK = DutyKind("task", "Something to do", plan=plan_tasks)

"""What follows from weights in every litter: its days are computed again, and what lies ahead is planned again."""

from collections.abc import Sequence
from uuid import UUID

from kennel.duties.services import planning
from kennel.records.door import Door
from kennel.records.service import Saved
from litters.rollup.services import marking
from litters.services.concerned import look_and_do, pups_concerned

_DOING = f"""
    , marked AS ({marking.MARK_SQL.format(relation="concerned AS n")})
    , soiled AS ({planning.replan_later_sql("(SELECT 'litter' AS type, uid FROM concerned) AS n")})
"""  # noqa: S608 - constants of ours


def weighings_follow(saved: Sequence[Saved], door: Door) -> None:
    """Weights were written, corrected or removed: mark the days of their litters, and replan litters and dogs."""
    if pups := pups_concerned(saved):
        days = "{" + ",".join(day.isoformat() for day in marking.weighed_days(saved, door)) + "}"
        look_and_do(saved, pups, door, _DOING, [door.kennel.id, days, door.kennel.id])
    dogs = {dog for one in saved if (dog := one.parent_uid("dog")) is not None}
    dogs |= {UUID(one.before["dog"]) for one in saved if one.before and one.before["dog"]}
    planning.replan_later(door, subjects=[("dog", dog) for dog in sorted(dogs)])

"""Two duty kinds as an app would add them: a round over all pups of a litter, and one that asks for grams."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Annotated
from uuid import UUID

from django.db import connection
from pydantic import BaseModel, ConfigDict, Field

from kennel.duties import kinds
from kennel.duties.choices import Level
from kennel.duties.kinds import Animal, Asked, Caution, DutyKind, Occasion, Telling
from kennel.duties.services import completing
from kennel.duties.services.completing import Done
from kennel.records import store
from kennel.records.door import Door
from kennel.records.service import Saved

GRAMS_A_PUP = 40


class RoundSettings(BaseModel):
    """Settings of a round."""

    model_config = ConfigDict(extra="forbid")

    bowls: Annotated[int, Field(ge=1, le=20)] = 1


def residents(litters: set[UUID], door: Door) -> dict[UUID, list[Animal]]:
    """Living pups by litter, in the order of birth.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT l.uid, p.uid, p.band FROM litters_pup p
            JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            WHERE p.kennel_id = %s AND l.uid = ANY(%s::uuid[]) AND p.fate = 'living' AND p.deleted_at IS NULL
            ORDER BY p.born_at, p.id
            """,
            [door.kennel.id, store.array(litters)],
        )
        found: dict[UUID, list[Animal]] = {}
        for litter, pup, band in cursor.fetchall():
            found.setdefault(litter, []).append(Animal("pup", pup, band, {"dry_g": GRAMS_A_PUP}))
    return found


def plan_round(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
    """All pups that live here, with grams for each."""
    litters = {o.routine.subject_uid for o in occasions if o.routine.subject_uid}
    here = residents(litters, door)
    asked: list[Asked | None] = []
    for occasion in occasions:
        pups = (
            occasion.only
            if occasion.only is not None
            else here.get(occasion.routine.subject_uid or UUID(int=0))
        )
        if not pups:
            asked.append(None)
            continue
        total = GRAMS_A_PUP * len(pups)
        cautions = [
            Caution("warm", "Not warmer than the hand."),
            *(_greedy(pup) for pup in pups if pup.name == "moss"),
        ]
        asked.append(Asked(animals=list(pups), asks={"dry_g": total}, cautions=cautions))
    return asked


def _greedy(pup: Animal) -> Caution:
    return Caution("greedy", f"{pup.name} eats too fast.", pup.subject_uid)


def say_round(telling: Telling) -> str:
    """Grams for those who are still outstanding, in the reader's unit."""
    grams = GRAMS_A_PUP * len(telling.animals)
    amount = f"{grams / 28.349523125:.1f} oz" if telling.mass_unit == "oz" else f"{grams} g"
    return f"{amount} for {', '.join(a.name for a in telling.animals)}."


def register_once() -> None:
    """The registry is one for the whole process."""
    if kinds.by_name("test-round") is not None:
        return
    kinds.register(
        DutyKind(
            "test-round",
            "Softened food",
            plan=plan_round,
            describe=say_round,
            done_by=("weighing",),
            useful_for=timedelta(hours=1),
            wakes_night_duty=True,
            settings=RoundSettings,
        )
    )
    kinds.register(
        DutyKind(
            "test-weigh",
            "Weigh-in",
            plan=plan_round,
            done_by=("weighing",),
            early=timedelta(hours=2),
            useful_for=timedelta(hours=20),
            level=Level.INFO,
            escalate_after=None,
        )
    )


def on_weighings(saved: Sequence[Saved], door: Door) -> None:
    """Reaction of an app: new weighings complete, deleted ones take it back."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT w.uid, p.uid, w.occurred_at, w.deleted_at IS NOT NULL FROM litters_weighing w
            JOIN litters_pup p ON p.kennel_id = w.kennel_id AND p.id = w.pup_id
            WHERE w.kennel_id = %s AND w.id = ANY(%s) ORDER BY w.id
            """,
            [door.kennel.id, [s.id for s in saved]],
        )
        found = cursor.fetchall()
    completing.uncomplete("weighing", [uid for uid, _, _, gone in found if gone], door)
    done = [Done(uid, "pup", pup, at) for uid, pup, at, gone in found if not gone]
    completing.complete("weighing", done, door)

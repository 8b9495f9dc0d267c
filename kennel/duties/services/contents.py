"""What planned duties ask for: each kind is asked once for all its occasions, the answers become columns."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import connection

from kennel.duties import kinds
from kennel.records import store
from kennel.records.door import Door

COLUMNS = (
    "kind",
    "title",
    "due_at",
    "level",
    "useful_until",
    "escalate_after_s",
    "text",
    "asks",
    "cautions",
    "subjects",
)
MOST_ANIMALS = 400


@dataclass(frozen=True)
class Defaults:
    """What a routine says for all its duties; empty and None mean what the kind says."""

    title: str
    level: str
    useful_for_s: int | None
    escalate_after_s: int | None


@dataclass(frozen=True)
class Filled:
    """The columns of a duty and its animals, as plain JSON values."""

    columns: dict[str, Any]
    animals: list[dict[str, Any]]

    def animal_rows(self, duty_id: int) -> list[dict[str, Any]]:
        """Rows of the duty's animals."""
        return [{"duty_id": duty_id, "place": place, **animal} for place, animal in enumerate(self.animals)]

    def is_like(self, stored: Mapping[str, Any]) -> bool:
        """Whether a stored duty says the same already."""
        same_columns = all(
            datetime.fromisoformat(stored[c]) == datetime.fromisoformat(self.columns[c])
            if c in ("due_at", "useful_until")
            else stored[c] == self.columns[c]
            for c in COLUMNS
        )
        return bool(same_columns and (stored["animals"] or []) == self.animals)


def fill(
    occasions: Sequence[kinds.Occasion], defaults: Mapping[int, Defaults], door: Door
) -> list[Filled | None]:
    """What each occasion asks for, in order; None where nothing is to be done or the kind is unknown."""
    filled: list[Filled | None] = [None] * len(occasions)
    by_kind: dict[str, list[int]] = {}
    for place, occasion in enumerate(occasions):
        by_kind.setdefault(occasion.routine.kind, []).append(place)
    units = _units(door) if occasions else ("g", "C")
    for name, places in by_kind.items():
        kind = kinds.by_name(name)
        if kind is None:
            continue
        answers = kind.plan([occasions[place] for place in places], door)
        for place, asked in zip(places, answers, strict=True):
            if asked is not None and asked.animals:
                occasion = occasions[place]
                filled[place] = _filled(kind, occasion, asked, defaults[occasion.routine.id], units, door)
    return filled


def _filled(
    kind: kinds.DutyKind,
    occasion: kinds.Occasion,
    asked: kinds.Asked,
    defaults: Defaults,
    units: tuple[str, str],
    door: Door,
) -> Filled:
    animals = list({animal.key: animal for animal in asked.animals}.values())[:MOST_ANIMALS]
    title = (asked.title or defaults.title or kind.title)[:120]
    useful_for = timedelta(seconds=defaults.useful_for_s) if defaults.useful_for_s else kind.useful_for
    escalate = asked.escalate_after or kind.escalate_after
    if asked.escalate_after is None and defaults.escalate_after_s is not None:
        escalate = timedelta(seconds=defaults.escalate_after_s)
    telling = kinds.Telling(
        title, asked.asks, animals, occasion.routine.instructions, units[0], units[1], door.kennel.zone
    )
    columns = {
        "kind": kind.name,
        "title": title,
        "due_at": occasion.due_at,
        "level": asked.level or defaults.level or kind.level,
        "useful_until": max(
            asked.useful_until or occasion.due_at + useful_for, occasion.due_at + timedelta(minutes=1)
        ),
        "escalate_after_s": int(escalate.total_seconds()) if escalate else None,
        "text": (asked.text or kinds.describe(kind, telling))[:2000],
        "asks": dict(asked.asks),
        "cautions": [_caution(one) for one in asked.cautions],
        "subjects": [{"type": a.subject_type, "uid": a.subject_uid} for a in animals],
    }
    rows = [
        {
            "subject_type": a.subject_type,
            "subject_uid": a.subject_uid,
            "name": a.name[:120] or a.subject_type,
            "asks": dict(a.asks),
        }
        for a in animals
    ]
    # Through JSON and back, so that a stored duty can be compared with what it should say.
    return Filled(store.load(store.dump(columns)), store.load(store.dump(rows)))


def _caution(one: kinds.Caution) -> dict[str, Any]:
    said: dict[str, Any] = {"code": one.code, "text": one.text}
    return said if one.about is None else said | {"about": one.about}


def _units(door: Door) -> tuple[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT mass_unit, temperature_unit FROM people_kennel WHERE id = %s", [door.kennel.id]
        )
        mass, temperature = cursor.fetchone()
    return mass, temperature

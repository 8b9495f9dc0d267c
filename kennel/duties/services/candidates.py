"""Looking again right before sending: claimed messages with duty, carer and membership as of now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any
from uuid import UUID

from django.db import connections

from kennel.clock.quiet_hours import QuietWindow
from kennel.duties import channels, kinds
from kennel.duties.channels.registry import reachable_sql
from kennel.duties.choices import DutyState
from kennel.duties.domain.delivery import Message, Recipient
from kennel.duties.domain.wording import Item
from kennel.records import store

JOBS = "jobs"
MOST_ITEMS = 200

_DUTY = """
    'duty', CASE WHEN d.id IS NULL THEN NULL ELSE json_build_object('id', d.id, 'kind', d.kind,
        'title', d.title,
        'due_at', d.due_at, 'useful_until', d.useful_until, 'state', d.state,
            'is_deleted', d.deleted_at IS NOT NULL,
        'text', d.text, 'asks', d.asks, 'cautions', d.cautions, 'taken_until', d.taken_until,
        'instructions', COALESCE(o.instructions, ''),
        'animals', (SELECT json_agg(json_build_object('subject_type', a.subject_type,
            'subject_uid', a.subject_uid,
                        'name', a.name, 'asks', a.asks) ORDER BY a.place, a.id)
                    FROM duties_dutyanimal a WHERE a.kennel_id = d.kennel_id AND a.duty_id = d.id
                      AND a.state = 'outstanding'),
        'animals_in_all', (SELECT count(*) FROM duties_dutyanimal a
                           WHERE a.kennel_id = d.kennel_id AND a.duty_id = d.id)) END
"""


@dataclass(frozen=True)
class Candidate:
    """A claimed message and everything that decides about it.

    items: what it tells (one duty, or those a digest still has to tell); members: messages those items stand
    for; dropped: members whose duty is done by now.
    """

    id: int
    uid: UUID
    kennel_id: int
    kennel_uid: UUID
    kennel_name: str
    kennel_zone: str
    carer_id: int
    carer_name: str
    address: str
    channel: str
    kind: str
    level: str
    step: int
    attempts: int
    useful_until: datetime
    message: Message
    recipient: Recipient
    items: tuple[Item, ...]
    members: tuple[int, ...] = ()
    dropped: tuple[int, ...] = ()


def look_again(ids: Sequence[int], now: datetime) -> list[Candidate]:
    """The claimed messages as they stand now, in the order they were due.  Two statements, however many."""
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            f"""
            SELECT json_build_object('id', r.id, 'uid', r.uid, 'kennel_id', r.kennel_id, 'kennel_uid', k.uid,
                'kennel_name', k.name, 'kennel_zone', k.zone, 'carer_id', c.id, 'carer_name', c.name,
                'address', c.email, 'channel', r.channel, 'kind', r.kind, 'level', r.level, 'step', r.step,
                'attempts', r.attempts, 'useful_until', r.useful_until, 'through_quiet', r.through_quiet,
                'is_member', c.is_active AND EXISTS (
                    SELECT FROM people_membership m WHERE m.kennel_id = r.kennel_id AND m.carer_id = c.id
                      AND m.ended_at IS NULL AND m.role IN ('keeper', 'carer')),
                'is_on', COALESCE(CASE r.kind WHEN 'digest' THEN p.is_on AND p.digests_on ELSE p.is_on END,
                    true),
                'is_reachable', {reachable_sql("r.channel")},
                'quiet_from', c.quiet_from, 'quiet_until', c.quiet_until, 'zone', c.zone,
                    'mass_unit', c.mass_unit,
                'temperature_unit', c.temperature_unit, {_DUTY})::text
            FROM duties_reminder r
            JOIN people_carer c ON c.id = r.carer_id JOIN people_kennel k ON k.id = r.kennel_id
            LEFT JOIN duties_reminderchoice p
                ON p.kennel_id = r.kennel_id AND p.carer_id = r.carer_id AND p.channel = r.channel
            LEFT JOIN duties_duty d ON d.kennel_id = r.kennel_id AND d.id = r.duty_id
            LEFT JOIN duties_routine o ON o.kennel_id = d.kennel_id AND o.id = d.routine_id
            WHERE r.id = ANY(%s) ORDER BY r.level = 'critical' DESC, r.scheduled_at, r.id
            """,  # noqa: S608 - constants of ours
            [list(ids)],
        )
        found = [store.load(row[0]) for row in cursor.fetchall()]
    members = _members([row["id"] for row in found if row["kind"] == "digest"])
    return [_candidate(row, members.get(row["id"], []), now) for row in found]


def _members(digest_ids: Sequence[int]) -> dict[int, list[dict[str, Any]]]:
    if not digest_ids:
        return {}
    with connections[JOBS].cursor() as cursor:
        cursor.execute(
            f"""
            SELECT json_build_object('id', r.id, 'digest_id', r.held_in_id, 'state', r.state, {_DUTY})::text
            FROM duties_reminder r JOIN duties_duty d ON d.kennel_id = r.kennel_id AND d.id = r.duty_id
            LEFT JOIN duties_routine o ON o.kennel_id = d.kennel_id AND o.id = d.routine_id
            WHERE r.held_in_id = ANY(%s) AND r.accepted_at IS NULL AND r.state IN ('pending', 'missed')
            ORDER BY d.due_at, r.id LIMIT %s
            """,  # noqa: S608 - constants of ours
            [list(digest_ids), MOST_ITEMS * len(digest_ids)],
        )
        members: dict[int, list[dict[str, Any]]] = {}
        for (text,) in cursor.fetchall():
            row = store.load(text)
            members.setdefault(row["digest_id"], []).append(row)
    return members


def _candidate(row: Mapping[str, Any], members: Sequence[Mapping[str, Any]], now: datetime) -> Candidate:
    if row["kind"] == "digest":
        told = _items_of_digest(row, members, now)
        items = tuple(item for item, _ in told.values())
        kept, dropped = tuple(i for _, ids in told.values() for i in ids), _dropped(members, now)
        is_due, is_missed, taken_until = bool(items), False, None
    else:
        duty = row["duty"]
        items, kept, dropped = (_item(row, duty, now),), (), ()
        is_due = duty["state"] == DutyState.OPEN and not duty["is_deleted"]
        is_missed = duty["state"] == DutyState.MISSED
        taken_until = datetime.fromisoformat(duty["taken_until"]) if duty["taken_until"] else None
    channel = channels.by_name(row["channel"])
    return Candidate(
        id=row["id"],
        uid=UUID(row["uid"]),
        kennel_id=row["kennel_id"],
        kennel_uid=UUID(row["kennel_uid"]),
        kennel_name=row["kennel_name"],
        kennel_zone=row["kennel_zone"],
        carer_id=row["carer_id"],
        carer_name=row["carer_name"],
        address=row["address"],
        channel=row["channel"],
        kind=row["kind"],
        level=row["level"],
        step=row["step"],
        attempts=row["attempts"],
        useful_until=datetime.fromisoformat(row["useful_until"]),
        message=Message(
            is_due=is_due,
            is_missed=is_missed,
            useful_until=datetime.fromisoformat(row["useful_until"]),
            taken_until=taken_until,
            goes_through=row["through_quiet"],
            disturbs=channel.disturbs,
        ),
        recipient=Recipient(
            is_member=row["is_member"],
            is_on=row["is_on"],
            is_reachable=row["is_reachable"],
            quiet=_quiet(row),
            zone=row["zone"],
        ),
        items=items,
        members=kept,
        dropped=dropped,
    )


def _quiet(row: Mapping[str, Any]) -> QuietWindow | None:
    if not row["quiet_from"] or not row["quiet_until"] or row["quiet_from"] == row["quiet_until"]:
        return None
    return QuietWindow(time.fromisoformat(row["quiet_from"]), time.fromisoformat(row["quiet_until"]))


def _is_over(duty: Mapping[str, Any]) -> bool:
    return bool(duty["is_deleted"] or duty["state"] in (DutyState.CLOSED, DutyState.CANCELLED))


def _dropped(members: Sequence[Mapping[str, Any]], now: datetime) -> tuple[int, ...]:
    return tuple(m["id"] for m in members if _is_over(m["duty"]))


def _items_of_digest(
    row: Mapping[str, Any], members: Sequence[Mapping[str, Any]], now: datetime
) -> dict[int, tuple[Item, list[int]]]:
    """What a digest tells: each duty once, however many steps of it were held back."""
    told: dict[int, tuple[Item, list[int]]] = {}
    for member in members:
        duty = member["duty"]
        if _is_over(duty):
            continue
        if duty["id"] in told:
            told[duty["id"]][1].append(member["id"])
        else:
            told[duty["id"]] = (_item(row, duty, now), [member["id"]])
    return told


def _item(row: Mapping[str, Any], duty: Mapping[str, Any], now: datetime) -> Item:
    """The duty in the carer's words: units of the carer, animals that are still outstanding."""
    animals = [
        kinds.Animal(a["subject_type"], UUID(a["subject_uid"]), a["name"], a["asks"])
        for a in duty["animals"] or ()
    ]
    telling = kinds.Telling(
        duty["title"],
        duty["asks"],
        animals,
        duty["instructions"],
        row["mass_unit"],
        row["temperature_unit"],
        row["kennel_zone"],
    )
    kind = kinds.by_name(duty["kind"])
    # A text the plan wrote itself stands as long as everybody it names is outstanding.
    own_words = kind is not None and kind.describe is not None
    whole = len(animals) == duty["animals_in_all"]
    text = kinds.describe(kind, telling) if own_words or not (whole and duty["text"]) else duty["text"]
    due_at, useful_until = (datetime.fromisoformat(duty[name]) for name in ("due_at", "useful_until"))
    return Item(
        title=duty["title"],
        due_at=due_at,
        text=text,
        cautions=tuple(kinds.still_said(duty["cautions"], {animal.subject_uid for animal in animals})),
        is_missed=duty["state"] == DutyState.MISSED or now >= useful_until,
    )

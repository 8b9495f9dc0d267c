"""Which litter days must be computed anew after facts changed.  Runs in the transaction of the change."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection

from kennel.clock.wall_clock import local_day, local_day_bounds
from kennel.records import store
from kennel.records.comparison import alike
from kennel.records.door import Door
from kennel.records.service import Saved

# Days by column name (pup_id, litter_id) and internal id.
Touched = dict[str, dict[int, set[date]]]
# A weight also changes the gain of the next day weighed; days without weighing in between are looked over.
REACH = timedelta(days=3)


# Marks all days of an array (the last parameter) for all litters of a relation n (id); the first is the kennel.
MARK_SQL = """
    INSERT INTO rollup_dirtyday (kennel_id, litter_id, day)
    SELECT %s::bigint, n.id, d.day FROM {relation} CROSS JOIN unnest(%s::date[]) AS d (day)
    ON CONFLICT (litter_id, day) DO NOTHING
"""


def weighed_days(saved: Sequence[Saved], door: Door) -> set[date]:
    """The days of weights written, corrected or removed, and the days after them that follow from them.

    All days for all pups of the list: marking a day too many only computes it again, to the same answer.
    """
    instants = {
        instant(columns["occurred_at"])
        for item in saved
        for columns in (item.columns, item.before)
        if columns and columns.get("occurred_at") is not None
    }
    return _days(instants, door.kennel.zone) if instants else set()


def on_pups(saved: Sequence[Saved], door: Door) -> None:
    """A pup was born, died, or was corrected: from that day until today."""
    today = local_day(door.at, door.kennel.zone)
    touched: dict[int, set[date]] = {}
    for item in saved:
        for columns in (item.columns, item.before or {}):
            if (born := columns.get("born_at")) is not None:
                first = local_day(instant(born), door.kennel.zone)
                span = min((today - first).days, 400)
                touched.setdefault(item.id, set()).update(first + timedelta(days=n) for n in range(span + 1))
    if touched:
        mark_pups(touched, door)


def on_presence(saved: Sequence[Saved], door: Door) -> None:
    """A pup left or came back: from that day until today."""
    today = local_day(door.at, door.kennel.zone)
    touched: dict[int, set[date]] = {}
    for item in saved:
        for columns in (item.columns, item.before or {}):
            pup_id, at = columns.get("pup_id"), columns.get("occurred_at")
            if pup_id is not None and at is not None:
                first = local_day(instant(at), door.kennel.zone)
                span = max(0, min((today - first).days, 400))
                touched.setdefault(pup_id, set()).update(first + timedelta(days=n) for n in range(span + 1))
    if touched:
        mark_pups(touched, door)


def on_duties(saved: Sequence[Saved], door: Door) -> None:
    """What was due on an earlier day was done or missed only now: that day is computed anew.  One query."""
    turned = [one.id for one in saved if one.before is not None and _has_turned(one.before, one.columns)]
    if not turned:
        return
    today_from, _ = local_day_bounds(local_day(door.at, door.kennel.zone), door.kennel.zone)
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT l.id, d.due_at FROM duties_duty d
            LEFT JOIN duties_routine r ON r.kennel_id = d.kennel_id AND r.id = d.routine_id
            JOIN litters_litter l ON l.kennel_id = d.kennel_id AND l.uid::text = COALESCE(
                d.asks ->> 'litter', CASE r.subject_type WHEN 'litter' THEN r.subject_uid::text END)
            WHERE d.kennel_id = %s AND d.id = ANY(%s) AND d.due_at < %s
            """,
            [door.kennel.id, turned, today_from],
        )
        touched: dict[int, set[date]] = {}
        for litter_id, due_at in cursor.fetchall():
            touched.setdefault(litter_id, set()).add(local_day(due_at, door.kennel.zone))
    if touched:
        mark_litters(touched, door)


def on_facts(saved: Sequence[Saved], door: Door) -> None:
    """A fact about a pup or a litter was recorded, corrected or removed: its day is computed anew."""
    mark(
        by_column(saved, ("pup_id", "litter_id"), lambda columns: day_of(columns, "occurred_at", door)), door
    )


def by_column(
    saved: Sequence[Saved], names: Sequence[str], days_of: Callable[[Mapping[str, Any]], Iterable[date]]
) -> Touched:
    """Days that follow from records as they are and as they were, by the column that names an animal or litter."""
    found: Touched = {name: {} for name in names}
    for one in saved:
        for columns in (one.columns, one.before or {}):
            for name, by_id in found.items():
                if columns.get(name) is not None:
                    by_id.setdefault(columns[name], set()).update(days_of(columns))
    return found


def day_of(columns: Mapping[str, Any], name: str, door: Door) -> set[date]:
    """The kennel's day of an instant of a record; none when it is not there."""
    value = columns.get(name)
    return set() if value is None else {local_day(instant(value), door.kennel.zone)}


def mark(found: Touched, door: Door) -> None:
    """Mark days of litters and of the litters of pups."""
    if pups := found.get("pup_id"):
        mark_pups(pups, door)
    if litters := found.get("litter_id"):
        mark_litters(litters, door)


def _has_turned(before: Mapping[str, Any], columns: Mapping[str, Any]) -> bool:
    return any(
        name in columns and not alike(before.get(name), columns[name])
        for name in ("state", "closed_at", "deleted_at")
    )


def mark_pups(touched: Mapping[int, Iterable[date]], door: Door) -> None:
    """Mark days of the litters these pups belong to, by one statement."""
    rows = [{"pup_id": pup_id, "day": day.isoformat()} for pup_id, days in touched.items() for day in days]
    with connection.cursor() as cursor:
        cursor.execute(
            """
            INSERT INTO rollup_dirtyday (kennel_id, litter_id, day)
            SELECT DISTINCT p.kennel_id, p.litter_id, m.day
            FROM json_to_recordset(%s) AS m (pup_id bigint, day date)
            JOIN litters_pup p ON p.kennel_id = %s AND p.id = m.pup_id
            ON CONFLICT (litter_id, day) DO NOTHING
            """,
            [store.dump(rows), door.kennel.id],
        )


def mark_litters(touched: Mapping[int, Iterable[date]], door: Door) -> None:
    """Mark days of litters by internal id: for the reactions of other apps."""
    rows = [
        {"litter_id": litter_id, "day": day.isoformat()}
        for litter_id, days in touched.items()
        for day in days
    ]
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO rollup_dirtyday (kennel_id, litter_id, day) SELECT DISTINCT %s::bigint, m.litter_id, m.day"
            " FROM json_to_recordset(%s) AS m (litter_id bigint, day date) ON CONFLICT (litter_id, day) DO NOTHING",
            [door.kennel.id, store.dump(rows)],
        )


def _days(instants: set[datetime], zone: str) -> set[date]:
    """Local days of these instants and the days within reach.  A local day is costly: a list that spans a few weeks
    gets every day between its first and last."""
    first, last = min(instants), max(instants)
    if last - first <= timedelta(days=60):
        begin = local_day(first, zone)
        return {begin + timedelta(days=n) for n in range((local_day(last, zone) - begin + REACH).days + 1)}
    days = {local_day(instant, zone) for instant in instants}
    return days | {day + timedelta(days=n) for day in days for n in range(1, REACH.days + 1)}


def instant(value: Any) -> datetime:
    """A stored or a just written instant; rows hold text, drafts may hold either."""
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)

"""Animals to keep an eye on, for the board."""

from django.db import connection

from health.choices import WatchLevel
from kennel.duties.board import Entry
from kennel.duties.choices import Level
from kennel.records import store
from kennel.records.door import Door

LEVELS = {WatchLevel.WATCH: Level.INFO, WatchLevel.ACT_TODAY: Level.DUE, WatchLevel.EMERGENCY: Level.CRITICAL}
MOST = 100


def watched(door: Door) -> list[Entry]:
    """Open watches, the most urgent first.  One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT h.level, h.opened_at, h.reasons::text, h.note, CASE WHEN p.id IS NULL THEN 'dog' ELSE 'pup' END,
                COALESCE(p.uid, d.uid), COALESCE(NULLIF(p.name, ''), NULLIF(p.band, ''), d.name,
                    'pup ' || COALESCE(p.birth_order, 0)), l.name
            FROM health_watch h
            LEFT JOIN litters_pup p ON p.kennel_id = h.kennel_id AND p.id = h.pup_id
            LEFT JOIN litters_litter l ON l.kennel_id = p.kennel_id AND l.id = p.litter_id
            LEFT JOIN litters_dog d ON d.kennel_id = h.kennel_id AND d.id = h.dog_id
            WHERE h.kennel_id = %s AND h.closed_at IS NULL AND h.deleted_at IS NULL
            ORDER BY CASE h.level WHEN 'emergency' THEN 0 WHEN 'act_today' THEN 1 ELSE 2 END, h.opened_at, h.id
            LIMIT %s
            """,
            [door.kennel.id, MOST],
        )
        rows = cursor.fetchall()
    entries = []
    for level, opened_at, reasons, note, kind, uid, called, litter in rows:
        told = tuple(store.load(reasons))
        where = f" ({litter})" if litter else ""
        text = f"{called}{where}: {WatchLevel(level).label}. {told[0] if told else note}".strip()
        entries.append(Entry(LEVELS[WatchLevel(level)].value, text, kind, uid, called, opened_at, told))
    return entries

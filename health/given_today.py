"""What a dog was given in the last 24 hours, in the few words the vet card has for it."""

from datetime import datetime, timedelta

from django.db import connection

from health.domain.units import plain
from kennel.clock.wall_clock import zone_of
from kennel.records.door import KennelHere
from litters.domain.vet_card import MOST_FREE_WORDS, count_words

SINCE = timedelta(hours=24)
MOST = 30
NOT_KEPT = {"spat_out": " spat out", "vomited": " vomited"}


def given_words(dog_id: int, kennel: KennelHere, at: datetime) -> str:
    """Actives with dose and time, newest first, e.g. "calcium 2 mL 03:10"; empty when nothing is on record.

    What does not fit is counted, so that nobody believes it was all.  One query.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT m.active, t.dose_mg, t.amount, t.amount_unit, t.outcome, t.occurred_at
            FROM health_treatment t JOIN health_medicine m ON m.kennel_id = t.kennel_id AND m.id = t.medicine_id
            WHERE t.kennel_id = %s AND t.dog_id = %s AND t.deleted_at IS NULL AND t.possible_duplicate_of IS NULL
              AND t.occurred_at > %s AND t.occurred_at <= %s
            ORDER BY t.occurred_at DESC, t.id DESC LIMIT %s
            """,
            [kennel.id, dog_id, at - SINCE, at, MOST],
        )
        rows = cursor.fetchall()
    zone = zone_of(kennel.zone)
    told = []
    for active, dose_mg, amount, unit, outcome, occurred_at in rows:
        dose = f" {plain(float(dose_mg), 2)} mg" if dose_mg else ""
        if not dose and amount:
            dose = f" {plain(float(amount), 2)} {unit}"
        told.append(f"{active}{dose} {occurred_at.astimezone(zone):%H:%M}{NOT_KEPT.get(outcome, '')}")
    return _fitting(told)


def _fitting(told: list[str]) -> str:
    """As many of them as there is room for, with the number of the others."""
    for kept in range(len(told), 0, -1):
        rest = len(told) - kept
        text = ", ".join(told[:kept]) + (f" and {rest} more" if rest else "")
        if count_words(text) <= MOST_FREE_WORDS:
            return text
    return f"{len(told)} medicines, see the list" if told else ""

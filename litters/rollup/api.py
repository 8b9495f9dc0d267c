"""Reading litter days, and a summary of any interval."""

from datetime import datetime, timedelta
from typing import Any

from django.db import connection
from django.http import HttpResponse
from pydantic import BaseModel

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.api.records import page_limit
from kennel.api.rendering import dumps, json_response
from kennel.records import door, service, types
from kennel.records.fields import Instant
from kennel.records.refusals import Refusal, invalid
from kennel.records.store import INSTANT_FORMAT
from litters.rollup.services import summaries

_DAYS = f"""
    SELECT json_build_object('day', r.day, 'from', to_char(r.from_at AT TIME ZONE 'UTC', {INSTANT_FORMAT}),
        'to', to_char(r.to_at AT TIME ZONE 'UTC', {INSTANT_FORMAT}), 'hours', extract(epoch FROM r.to_at - r.from_at) / 3600,
        'born', r.born, 'live_born', r.live_born, 'stillborn', r.stillborn, 'died', r.died, 'left', r."left",
        'resident', r.resident, 'sucking', r.sucking, 'hand_fed', r.hand_fed, 'weighed', r.weighed,
        'not_weighed', r.not_weighed, 'weight_mean_g', trim_scale(r.weight_mean_g), 'weight_min_g', trim_scale(r.weight_min_g),
        'weight_max_g', trim_scale(r.weight_max_g), 'gains_g_per_day', r.gains, 'slowest_pup', r.slowest_pup,
        'slowest_gain_g_per_day', trim_scale(r.slowest_gain_g_per_day), 'extra', r.extra, 'contributors', r.contributors,
        'computed_from_seq', r.seq)::text
    FROM rollup_litterday r WHERE r.kennel_id = %s AND r.litter_id = %s ORDER BY r.day DESC LIMIT %s
"""  # noqa: S608


def litter_id_of(view: KennelView, uid: str) -> int:
    """Internal id of a litter of this kennel.  Raises Refusal("not-found")."""
    litter = types.by_name("litter")
    assert litter is not None
    with connection.cursor() as cursor:
        cursor.execute(
            f'SELECT id FROM "{litter.table}" WHERE kennel_id = %s AND uid = %s',  # noqa: S608
            [view.here.id, parse_uid(uid)],
        )
        row = cursor.fetchone()
    if row is None:
        raise Refusal("not-found")
    return int(row[0])


class DaysQuery(BaseModel):
    """How many days."""

    limit: int = 50


class LitterDays(KennelView):
    """A litter's finished days, newest first, as the nightly roll-up stored them."""

    query_input = DaysQuery
    answer_schema = {
        "type": "object",
        "required": ["results"],
        "properties": {"results": {"type": "array", "items": {"type": "object"}}},
    }

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The days of one litter."""
        limit = page_limit(request.query_params)
        with door.read(self.here, self.actor, self.at):
            identifier = litter_id_of(self, uid)
            with connection.cursor() as cursor:
                cursor.execute(_DAYS, [self.here.id, identifier, limit])
                rows = [row[0] for row in cursor.fetchall()]
        return json_response(f'{{"results":[{",".join(rows)}]}}')


class SummaryQuery(BaseModel):
    """The interval; without `from` the last 12 hours, without `to` until now."""

    from_: Instant | None = None
    to: Instant | None = None


class LitterSummary(KennelView):
    """What happened to a litter in an interval, such as since you went to bed."""

    query_input = {
        "type": "object",
        "properties": {
            "from": {
                "type": "string",
                "format": "date-time",
                "description": "Default: 12 hours before `to`.",
            },
            "to": {"type": "string", "format": "date-time", "description": "Default: now."},
        },
    }
    slugs = ("validation",)
    answer_schema = {"type": "object", "required": ["from", "to", "pups"], "properties": {}}

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Counts, weights and gains of each pup, and every entry by kind, with who contributed."""
        query = request.query_params
        asked = service.check(SummaryQuery, {"from_": query.get("from"), "to": query.get("to")})
        to_at: datetime = asked.to or self.at
        from_at: datetime = asked.from_ or to_at - timedelta(hours=12)
        if not timedelta() < to_at - from_at <= timedelta(days=400):
            raise invalid(
                "from", "interval", "The interval must end after it begins and last 400 days at most."
            )
        with door.read(self.here, self.actor, self.at):
            identifier = litter_id_of(self, uid)
            body = summaries.litter_summary(self.here, identifier, from_at, to_at)
        return json_response(dumps(body))

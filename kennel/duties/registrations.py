"""What the duties app adds to the API: record types, views, channels and its own duty kind."""

from kennel.api.urls import add_view
from kennel.duties import inputs, kinds, models
from kennel.duties.api import views
from kennel.duties.channels import email, inbox  # noqa: F401 - importing them registers them
from kennel.duties.reading import instant_sql
from kennel.duties.services.actions import actions_follow, actions_prepare
from kennel.duties.services.handmade import duties_follow, duties_prepare
from kennel.duties.services.routines import routines_follow, routines_prepare
from kennel.duties.task_kind import TASK
from kennel.records.types import Computed, RecordType, react
from kennel.records.types import register as register_type

_NULLABLE_TEXT = {"type": ["string", "null"]}
ANIMALS = Computed(
    sql="COALESCE(named.animals, '[]'::json)",
    schema={
        "type": "array",
        "items": {
            "type": "object",
            "required": ["type", "uid", "name", "state"],
            "properties": {
                "type": {
                    "type": "string",
                    "description": "Record type; kennel: about no animal in particular.",
                },
                "uid": {"type": "string", "format": "uuid"},
                "name": {"type": "string"},
                "asks": {"type": "object", "description": "What is asked for this animal alone."},
                "state": {"type": "string", "enum": ["outstanding", "done", "skipped", "deferred"]},
                "reason": {"type": "string"},
                "deferred_until": {"type": ["string", "null"], "format": "date-time"},
                "settled_at": {"type": ["string", "null"], "format": "date-time"},
                "settled_by": _NULLABLE_TEXT,
                "settled_type": {
                    "type": "string",
                    "description": "Record type of the fact or tap that settled it.",
                },
                "settled_uid": {"type": ["string", "null"], "format": "uuid"},
            },
        },
    },
    join=(
        "LEFT JOIN LATERAL (SELECT json_agg(json_build_object('type', a.subject_type, 'uid', a.subject_uid,"  # noqa: S608
        " 'name', a.name, 'asks', a.asks, 'state', a.state, 'reason', a.reason,"
        " 'deferred_until', " + instant_sql("a.deferred_until") + ","
        " 'settled_at', " + instant_sql("a.settled_at") + ","
        " 'settled_by', settler.name, 'settled_type', a.settled_type, 'settled_uid', a.settled_uid)"
        " ORDER BY a.place, a.id) AS animals"
        " FROM duties_dutyanimal a LEFT JOIN people_carer settler ON settler.id = a.settled_by_id"
        " WHERE a.kennel_id = t.kennel_id AND a.duty_id = t.id) named ON true"
    ),
)
TAKER = Computed(
    sql="COALESCE(p_taken_by.name, p_taken_device.name)",
    schema={**_NULLABLE_TEXT, "description": "Name of whoever is on it."},
)
SEEN_BY = Computed(
    sql="COALESCE(seen.names, '[]'::json)",
    schema={"type": "array", "items": {"type": "string"}, "description": "Who has seen it."},
    join=(
        "LEFT JOIN LATERAL (SELECT json_agg(DISTINCT viewer.name) AS names FROM duties_dutyaction s"
        " JOIN people_carer viewer ON viewer.id = s.recorded_by_id"
        " WHERE s.kennel_id = t.kennel_id AND s.duty_id = t.id AND s.action = 'seen' AND s.deleted_at IS NULL"
        ") seen ON true"
    ),
)
HOLDER = Computed(
    sql="p_held_by.name",
    schema={**_NULLABLE_TEXT, "description": "Who was on it when this take arrived."},
)
MEMBER_NAME = Computed(
    sql="member_carer.name",
    schema={"type": "string", "description": "Name of the carer."},
    join=(
        "LEFT JOIN people_membership member_row ON member_row.id = t.member_id"
        " LEFT JOIN people_carer member_carer ON member_carer.id = member_row.carer_id"
    ),
)


def register() -> None:
    """Register everything; called once, when the apps are ready."""
    kinds.register(TASK)
    register_type(
        RecordType(
            model=models.Routine,
            input=inputs.RoutineInput,
            plural="routines",
            doc="What recurs: by elapsed time or by wall times on rule days.",
            prepare=routines_prepare,
            filters=("kind", "is_active", "subject_type", "subject_uid", "source_type", "source_uid"),
        )
    )
    register_type(
        RecordType(
            model=models.Duty,
            input=inputs.DutyInput,
            plural="duties",
            doc="What is due, for which animals, and what became of each; closed when none is outstanding.",
            prepare=duties_prepare,
            filters=("state", "kind", "level"),
            order="due_at",
            computed={"animals": ANIMALS, "taken_by_name": TAKER, "seen_by": SEEN_BY},
        )
    )
    register_type(
        RecordType(
            model=models.DutyAction,
            input=inputs.DutyActionInput,
            plural="duty-actions",
            doc="Taps on duties: seen, taken, given back, skipped, deferred, done, undone.",
            prepare=actions_prepare,
            filters=("action",),
            computed={"held_by_name": HOLDER},
        )
    )
    register_type(
        RecordType(
            model=models.Shift,
            input=inputs.ShiftInput,
            plural="shifts",
            doc="Who is on duty when; added and removed, never replaced as a whole.",
            computed={"member_name": MEMBER_NAME},
        )
    )
    for below, view, name in views.PATHS:
        add_view(below, view, name)
    react(["routine"], routines_follow)
    react(["duty"], duties_follow)
    react(["duty-action"], actions_follow)

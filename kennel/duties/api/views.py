"""Board, agenda, inbox and what carers choose to be told."""

from datetime import datetime
from typing import Any, Literal

import orjson
from django.http import HttpResponse
from django.utils import timezone
from pydantic import BaseModel, ConfigDict, TypeAdapter
from rest_framework.views import APIView

from kennel.api import cursors
from kennel.api.base import KennelView
from kennel.api.components import INSTANT, UID, Json, page_like, page_of, reference
from kennel.api.preconditions import parse_uid
from kennel.api.records import page_limit
from kennel.api.rendering import dumps, json_response
from kennel.duties import board, channels, reading, selectors
from kennel.duties.choices import DutyState, ReminderState
from kennel.duties.services import receipts, unsubscribing
from kennel.people.choices import Role
from kennel.records import door, service
from kennel.records.fields import Instant, Line, YesNo
from kennel.records.refusals import Refusal, invalid

TEXT: Json = {"type": "string"}
MAYBE_TEXT: Json = {"type": ["string", "null"]}
MAYBE_INSTANT: Json = {"type": ["string", "null"], "format": "date-time"}
_instant: TypeAdapter[datetime] = TypeAdapter(Instant)


def query_of(model: type[BaseModel], query: Any) -> Any:
    """The checked query of a list.  Raises Refusal("malformed") for an unknown, doubled or bad parameter."""
    doubled = [name for name in query if len(query.getlist(name)) > 1]
    if doubled:
        raise Refusal("malformed", f"{doubled[0][:40]!a} stands twice.")
    given = {name: value for name, value in query.items() if name not in ("cursor", "limit")}
    try:
        return service.check(model, given)
    except Refusal as refusal:
        first = refusal.errors[0]
        raise Refusal("malformed", f"{first.pointer[:60]}: {first.detail}") from None


class AgendaQuery(BaseModel):
    """Which duties: due at or after, due before, in which state, of which kind."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    due_from: Instant | None = None
    due_before: Instant | None = None
    state: DutyState | None = None
    kind: Line | None = None


class Agenda(KennelView):
    """Duties in the order they are due, the next first; a device can hold the coming 24 hours of them."""

    query_input = AgendaQuery
    answer_schema = page_of(reference("Duty"))

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of duties in order of time."""
        limit = page_limit(request.query_params)
        asked = query_of(AgendaQuery, request.query_params)
        after = None
        if text := request.query_params.get("cursor"):
            due_at, identifier = cursors.unseal("agenda", self.here.uid, text)
            after = (datetime.fromisoformat(due_at), identifier)
        with door.read(self.here, self.actor, self.at) as opened:
            page = reading.agenda(
                opened,
                due_from=asked.due_from,
                due_before=asked.due_before,
                state=asked.state,
                kind=asked.kind,
                after=after,
                limit=limit,
            )
        return _page("agenda", self.here.uid, page)


def _page(purpose: str, kennel_uid: Any, page: reading.Page) -> HttpResponse:
    following = b"null"
    if page.next_key:
        following = dumps(cursors.seal(purpose, kennel_uid, page.next_key[0].isoformat(), page.next_key[1]))
    return json_response(f'{{"results":[{",".join(page.rows)}],"next":{following.decode()}}}')


_PERSON: Json = {
    "type": "object",
    "required": ["member", "name", "rank", "since", "until"],
    "properties": {
        "member": UID,
        "name": TEXT,
        "rank": {"type": "integer"},
        "since": INSTANT,
        "until": INSTANT,
    },
}
_ENTRY: Json = {
    "type": "object",
    "required": ["level", "text", "subject_type", "subject_uid", "name", "since", "reasons"],
    "properties": {
        "level": {"type": "string", "enum": ["info", "due", "critical"]},
        "text": TEXT,
        "subject_type": TEXT,
        "subject_uid": {"type": ["string", "null"], "format": "uuid"},
        "name": TEXT,
        "since": MAYBE_INSTANT,
        "reasons": {"type": "array", "items": TEXT},
    },
}
_AGE: Json = {
    "type": ["number", "null"],
    "description": "Seconds since the slowest tick ran; over 60 or null: reminders are not running.",
}
_DUTIES: Json = {"type": "array", "items": reference("Duty")}
_BOARD = ("at", "due", "next", "missed", "on_duty", "then_on_duty", "keep_an_eye_on", "reminders_age_s")


class BoardView(KennelView):
    """Due now and next, who is on it, who is on duty, and what to keep an eye on."""

    answer_schema = {
        "type": "object",
        "required": list(_BOARD),
        "properties": {
            "at": INSTANT,
            "due": _DUTIES,
            "next": _DUTIES,
            "missed": _DUTIES,
            "on_duty": {"type": "array", "items": _PERSON},
            "then_on_duty": {"type": "array", "items": _PERSON},
            "keep_an_eye_on": {"type": "array", "items": _ENTRY},
            "reminders_age_s": _AGE,
        },
    }

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """The board as it stands now."""
        with door.read(self.here, self.actor, self.at) as opened:
            found = board.board(opened, self.at)
        shown = {name: getattr(found, name) for name in _BOARD}
        for name in ("due", "next", "missed"):
            shown[name] = [orjson.Fragment(text) for text in shown[name]]
        return json_response(dumps(shown))


class RemindersQuery(BaseModel):
    """Which messages: the caller's inbox, or everybody's on all channels; in which state."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    whose: Literal["mine", "all"] = "mine"
    state: ReminderState | None = None
    unseen: Literal["true", "false"] = "false"


REMINDER: Json = {
    "type": "object",
    "required": ["uid", "kind", "duty", "carer", "channel", "level", "state", "subject", "body", "seen_at"],
    "properties": {
        "uid": UID,
        "kind": {"type": "string", "enum": ["duty", "digest"]},
        "duty": {"type": ["string", "null"], "format": "uuid"},
        "duties": {"type": "array", "items": UID, "description": "Duties a digest tells about."},
        "title": MAYBE_TEXT,
        "due_at": MAYBE_INSTANT,
        "duty_state": MAYBE_TEXT,
        "carer": TEXT,
        "channel": TEXT,
        "step": {"type": "integer", "description": "Step of the escalation, 0 first."},
        "level": {"type": "string", "enum": ["info", "due", "critical"]},
        "state": {"type": "string", "enum": list(ReminderState.values)},
        "problem": TEXT,
        "subject": TEXT,
        "body": TEXT,
        "released_at": INSTANT,
        "scheduled_at": INSTANT,
        "next_attempt_at": MAYBE_INSTANT,
        "attempts": {"type": "integer"},
        "useful_until": INSTANT,
        "accepted_at": MAYBE_INSTANT,
        "seen_at": MAYBE_INSTANT,
    },
}


class ReminderList(KennelView):
    """Messages: the caller's inbox, or all that were sent, held, missed or undelivered in this kennel."""

    query_input = RemindersQuery
    answer_schema = page_of(REMINDER)

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """A page of messages, newest first."""
        limit = page_limit(request.query_params)
        asked = query_of(RemindersQuery, request.query_params)
        after = None
        if text := request.query_params.get("cursor"):
            released_at, identifier = cursors.unseal("reminders", self.here.uid, text)
            after = (datetime.fromisoformat(released_at), identifier)
        with door.read(self.here, self.actor, self.at) as opened:
            page = reading.reminders(
                opened,
                mine=asked.whose == "mine",
                state=asked.state,
                unseen=asked.unseen == "true",
                after=after,
                limit=limit,
            )
        return _page("reminders", self.here.uid, page)


class ReminderSeen(KennelView):
    """The receipt of a message.  Seeing closes nothing."""

    write_role = Role.READER
    answer_schema = REMINDER

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Say that you have seen a message of yours."""
        identifier = parse_uid(uid)
        with door.write(self.here, self.actor, self.at) as opened:
            receipts.reminder_seen(identifier, opened)
            text = reading.reminder(identifier, opened)
        return json_response(text)


class ReminderRetry(KennelView):
    """Another try of an undelivered message."""

    answer_schema = REMINDER

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Try an undelivered message again."""
        identifier = parse_uid(uid)
        with door.write(self.here, self.actor, self.at) as opened:
            receipts.reminder_retry(identifier, opened)
            text = reading.reminder(identifier, opened)
        return json_response(text)


class ChoiceInput(BaseModel):
    """What to be told on a channel: messages at all, digests among them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    channel: Line
    is_on: YesNo = True
    digests_on: YesNo = True


_CHOICE: Json = {
    "type": "object",
    "required": ["channel", "title", "is_on", "digests_on", "is_reachable"],
    "properties": {
        "channel": TEXT,
        "title": TEXT,
        "is_on": {"type": "boolean"},
        "digests_on": {"type": "boolean"},
        "is_reachable": {"type": "boolean", "description": "False: the address is not confirmed yet."},
    },
}


class Choices(KennelView):
    """What the caller is told, by channel."""

    write_role = Role.READER
    body_input = ChoiceInput
    answer_schema = page_like(_CHOICE)

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """The caller's channels and choices."""
        with door.read(self.here, self.actor, self.at) as opened:
            found = reading.choices(opened)
        return json_response(dumps({"results": found}))

    def post(self, request: Any, kennel: str) -> HttpResponse:
        """Choose what to be told on one channel; choosing the same again changes nothing."""
        asked = service.check(ChoiceInput, request.data)
        if asked.channel not in {one.name for one in channels.every()}:
            raise invalid("channel", "unknown", "There is no channel of that name.")
        if self.actor.carer_id is None:
            raise Refusal("forbidden", "A device that speaks for nobody is told nothing.")
        with door.write(self.here, self.actor, self.at) as opened:
            unsubscribing.choose(
                self.actor.carer_id, asked.channel, opened, is_on=asked.is_on, digests_on=asked.digests_on
            )
            found = reading.choices(opened)
        return json_response(dumps({"results": found}))


class Unsubscribe(APIView):
    """Leaving the digests by one click (RFC 8058): the signed link is the permission."""

    authentication_classes: list[Any] = []
    permission_classes: list[Any] = []
    answer_schema = {"type": "object", "properties": {"digests_on": {"type": "boolean"}}}

    def get(self, request: Any, kennel: str, token: str) -> HttpResponse:
        """Say what the link does; looking at it changes nothing."""
        self._read(kennel, token)
        return json_response(
            dumps({"digests_on": True, "detail": "Send a POST to this address to leave the digests."})
        )

    def post(self, request: Any, kennel: str, token: str) -> HttpResponse:
        """Leave the digests; messages about single duties go on."""
        here, carer_id, channel = self._read(kennel, token)
        with door.write(here, door.SERVER, timezone.now()) as opened:
            unsubscribing.leave_digests(carer_id, channel, opened)
        return json_response(dumps({"digests_on": False}))

    @staticmethod
    def _read(kennel: str, token: str) -> tuple[door.KennelHere, int, str]:
        uid = parse_uid(kennel)
        found = unsubscribing.read_token(uid, token)
        here = selectors.kennel_here(uid)
        if found is None or here is None:
            raise Refusal("not-found")
        return here, *found


PATHS: list[tuple[str, Any, str]] = [
    ("agenda", Agenda, "agenda"),
    ("board", BoardView, "board"),
    ("reminders", ReminderList, "reminder-list"),
    ("reminders/<str:uid>/seen", ReminderSeen, "reminder-seen"),
    ("reminders/<str:uid>/retry", ReminderRetry, "reminder-retry"),
    ("reminder-choices", Choices, "reminder-choices"),
    ("digests/unsubscribe/<str:token>", Unsubscribe, "digests-unsubscribe"),
]

"""Pages of what is due: a panel on the kennel's first page, the list, one duty with its taps, the carer's inbox."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from kennel.duties import board, kinds
from kennel.duties.choices import ActionKind
from kennel.people.choices import Role
from kennel.records import door, service, store, types
from kennel.records.door import Door
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.home import Panel

UNDO = timedelta(seconds=10)
SAID = {
    ActionKind.TAKE: "You are on it; the others see that for 15 minutes.",
    ActionKind.RELEASE: "Given back.",
    ActionKind.DONE: "Done.",
    ActionKind.SKIP: "Skipped, with your reason.",
    ActionKind.UNDO: "Taken back.",
}


@dataclass(frozen=True)
class FactPage:
    """The page on which the fact that closes a duty is written down."""

    url: str
    label: str


FactLink = Callable[[UUID, Mapping[str, Any]], FactPage]
_facts: dict[str, FactLink] = {}


def record_fact_on(kind: str, link: FactLink) -> None:
    """Let a duty of this kind lead to where its fact is recorded; link(uid of the kennel, the duty as the API shows
    it) names that page."""
    _facts[kind] = link


def due_panel(page: KennelPage, opened: Door) -> Panel:
    """What is due now and next, who is on duty, what to keep an eye on."""
    return Panel("duties/panel.html", _board_values(opened, page.at) | {"most_next": 4})


def _board_values(opened: Door, at: datetime) -> dict[str, Any]:
    found = board.board(opened, at)
    return {
        "due": [store.load(text) for text in found.due],
        "next": [store.load(text) for text in found.next],
        "missed": [store.load(text) for text in found.missed],
        "on_duty": found.on_duty,
        "eye_on": found.keep_an_eye_on,
    }


class DuePage(KennelPage):
    """Everything that is due, next and missed."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list."""
        with door.read(self.here, self.actor, self.at) as opened:
            values = _board_values(opened, self.at)
        return self.page("duties/due.html", values)


class DutyPage(KennelPage):
    """One duty: what it asks for and why, its animals, and the taps."""

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The duty as it is now."""
        record_type = _type("duty")
        with door.read(self.here, self.actor, self.at):
            found = store.show(record_type, self.here.id, [uid_or_404(uid)])
        if not found:
            raise Http404
        duty = store.load(next(iter(found.values())).text)
        undo = request.session.pop("undo_tap", None)
        fresh = undo and self.at - datetime.fromisoformat(undo["at"]) < UNDO and undo["duty"] == uid
        link = _facts.get(duty["kind"])
        outstanding = {UUID(one["uid"]) for one in duty["animals"] if one["state"] == "outstanding"}
        return self.page(
            "duties/duty.html",
            {
                "duty": duty,
                "cautions": kinds.still_said(duty["cautions"], outstanding),
                "undoes": undo["uid"] if fresh else None,
                "fact": link and link(self.here.uid, duty),
            },
        )


class TapPage(KennelPage):
    """A tap on a duty from its page."""

    write_role = Role.CARER

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Record the tap; a refusal is said on the duty's page."""
        identifier = uid_or_404(uid)
        tap = new_uid()
        body: dict[str, Any] = {
            "duty": str(identifier),
            "action": request.POST.get("action", ""),
            "occurred_at": self.at.isoformat(),
            "note": request.POST.get("note", ""),
            "take_over": request.POST.get("take_over") == "yes",
        }
        if undoes := request.POST.get("undoes"):
            body["undoes"] = undoes
        try:
            self._record(tap, body)
        except Refusal as refusal:
            first = refusal.errors[0].detail if refusal.errors else refusal.detail
            messages.error(request, first)
        else:
            messages.success(request, SAID.get(ActionKind(body["action"]), "Recorded."))
            if body["action"] != ActionKind.UNDO:
                request.session["undo_tap"] = {"uid": str(tap), "duty": uid, "at": self.at.isoformat()}
        return redirect("web:duty", self.here.uid, uid)

    def _record(self, tap: UUID, body: dict[str, Any]) -> None:
        record_type = _type("duty-action")
        checked = service.check(record_type.input, body)
        with door.write(self.here, self.actor, self.at) as opened:
            outcome = service.create(record_type, [service.NewRecord(0, tap, checked)], opened)[0]
            if outcome.refusal:
                raise outcome.refusal


def _type(name: str) -> types.RecordType:
    record_type = types.by_name(name)
    assert record_type is not None
    return record_type


def register() -> None:
    """Add the pages, their place in the menu and on the first page; called once, from `apps.py`."""
    from kennel.web import home, menu
    from kennel.web.urls import add_page

    add_page("kennels/<str:kennel>/due", DuePage, "due")
    add_page("kennels/<str:kennel>/due/<str:uid>", DutyPage, "duty")
    add_page("kennels/<str:kennel>/due/<str:uid>/tap", TapPage, "duty-tap")
    menu.add("Due", "web:due", order=5)
    home.add_panel(due_panel, order=20)

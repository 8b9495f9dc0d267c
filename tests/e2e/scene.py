"""The kennel of the story: who and what there is, and small sentences to say what is due and what was told."""

import hashlib
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from tests.e2e.people import Device, Person, text_of
from tests.e2e.recomputed import Ledger
from tests.e2e.stack import MainStack


def uid(label: str) -> str:
    """A uid made of a word, so that two days of the same story write the same records."""
    return str(UUID(bytes=hashlib.sha256(label.encode()).digest()[:16], version=4))


def iso(at: datetime) -> str:
    """An instant as the API takes it."""
    return at.isoformat()


@dataclass
class Scene:
    """Hollin Bank, its people and its device, and what the test itself wrote down."""

    stack: MainStack
    maud: Person
    idris: Person
    oona: Person
    scale: Device
    kennel: str
    ledger: Ledger
    pups: dict[str, str] = field(default_factory=dict)
    seen_letters: dict[str, int] = field(default_factory=dict)

    @property
    def litter(self) -> str:
        """The litter's uid."""
        return uid("litter")

    @property
    def people(self) -> tuple[Person, ...]:
        """Keeper and carers."""
        return self.maud, self.idris, self.oona

    # --- duties --------------------------------------------------------------------------------------------

    def duty(self, kind: str, due_at: datetime) -> dict[str, Any]:
        """The one duty of a kind at an instant."""
        found = self.duties(kind, due_at, due_at + timedelta(seconds=1))
        assert len(found) == 1, (kind, due_at, found)
        return found[0]

    def duties(self, kind: str, from_at: datetime, before: datetime) -> list[dict[str, Any]]:
        """Duties of a kind due in [from_at, before)."""
        window = {"due_from": iso(from_at), "due_before": iso(before)}
        query = "&".join(f"{name}={value.replace('+', '%2B')}" for name, value in window.items())
        return self.maud.every(f"agenda?kind={kind}&{query}")

    def tap(self, who: Person, action: str, duty: dict[str, Any], at: datetime) -> dict[str, Any]:
        """A tap on a duty."""
        label = f"{who.name} {action} {duty['kind']} {duty['due_at']}"
        body = {"uid": uid(label), "duty": duty["uid"], "action": action, "occurred_at": iso(at)}
        found: dict[str, Any] = who.post("duty-actions", body)
        return found

    def messages(self, duty: dict[str, Any]) -> list[dict[str, Any]]:
        """All messages about a duty, of everybody on all channels."""
        return [one for one in self.maud.every("reminders?whose=all") if one["duty"] == duty["uid"]]

    def until_all_ticks_ran(self) -> None:
        """Wait until every tick (plan, release, send) ran on the clock as it is now: for moves of over a minute."""

        def ran() -> bool:
            age_s = self.maud.get("board")["reminders_age_s"]
            return age_s is not None and age_s < 60

        self.stack.until("a run of every tick", ran)

    # --- mail ----------------------------------------------------------------------------------------------

    def mailed(self, *people: Person, subject: str, nth: int = 1) -> str:
        """Wait until each of them has the nth letter with this subject, and nobody else any; gives its words.

        The same stands in their inboxes.
        """
        names = ", ".join(one.name for one in people)
        self.stack.until(
            f"mail to {names}: {subject}", lambda: all(one.subjects().count(subject) >= nth for one in people)
        )
        self.stack.until(
            f"inbox of {names}: {subject}", lambda: all(one.inbox().count(subject) >= nth for one in people)
        )
        counted = {one.name: one.subjects().count(subject) for one in self.people}
        assert counted == {one.name: nth if one in people else 0 for one in self.people}
        return text_of([one for one in people[0].letters() if str(one["Subject"]) == subject][-1])

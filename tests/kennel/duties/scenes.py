"""Hollin Bank, ready for duties: people, a litter, and short ways to plan, release, send and look."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta
from typing import Any
from uuid import UUID

from allauth.account.models import EmailAddress
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kennel.duties.services import planning, releasing, sending, ticks
from kennel.people.choices import Role
from kennel.people.models import Carer, Membership
from kennel.records import door, service, types
from kennel.records.door import Actor, Door
from kennel.records.ids import new_uid
from tests.factories.people import Place, add_member, make_kennel

# A Tuesday in winter: London is at UTC.
AT = datetime(2026, 2, 3, 12, 0, tzinfo=UTC)
DAILY = {"kind": "at", "wall_times": ["17:00"], "first_on": "2026-01-01"}

CountQueries = Callable[..., CaptureQueriesContext]


def minutes(count: float) -> timedelta:
    """So many minutes."""
    return timedelta(minutes=count)


class Scene:
    """One kennel and everything a test does in it."""

    def __init__(self, zone: str = "Europe/London", pups: int = 3) -> None:
        self.place: Place = make_kennel(zone=zone)
        self.maud = self.place.keeper
        self.idris = add_member(self.place, Role.CARER)
        self.oona = add_member(self.place, Role.CARER)
        self.piet = add_member(self.place, Role.READER)
        for carer in (self.maud, self.idris, self.oona, self.piet):
            self.confirm(carer)
        self.litter, self.pups = self._litter(pups)

    def confirm(self, carer: Carer) -> None:
        """The carer has shown that the address is theirs."""
        EmailAddress.objects.create(user=carer, email=carer.email, verified=True, primary=True)

    def actor(self, carer: Carer | None) -> Actor:
        """The carer in this kennel; None: the server."""
        if carer is None:
            return door.SERVER
        role = Membership.objects.get(kennel_id=self.place.here.id, carer=carer).role
        return Actor(role=Role(role), carer_id=carer.pk, name=carer.name)

    @contextmanager
    def write(self, at: datetime = AT, by: Carer | None = None) -> Iterator[Door]:
        """An open write door."""
        with door.write(self.place.here, self.actor(by), at) as opened:
            yield opened

    def create(
        self, type_name: str, data: dict[str, Any], at: datetime = AT, by: Carer | None = None
    ) -> UUID:
        """Create a record through the service; a refusal is raised."""
        record_type = types.by_name(type_name)
        assert record_type is not None
        uid = UUID(data.pop("uid")) if "uid" in data else new_uid()
        with self.write(at, by) as opened:
            checked = service.check(record_type.input, data)
            outcome = service.create(record_type, [service.NewRecord(0, uid, checked)], opened)[0]
        if outcome.refusal is not None:
            raise outcome.refusal
        return uid

    def change(self, type_name: str, uid: UUID, patch: dict[str, Any], at: datetime = AT) -> None:
        """Correct a record through the service."""
        record_type = types.by_name(type_name)
        assert record_type is not None
        with self.write(at) as opened:
            outcome = service.update(record_type, [service.Change(0, uid, None, patch)], opened)[0]
        if outcome.refusal is not None:
            raise outcome.refusal

    def remove(self, type_name: str, uid: UUID, at: datetime = AT) -> None:
        """Delete a record through the service."""
        record_type = types.by_name(type_name)
        assert record_type is not None
        with self.write(at) as opened:
            service.delete(record_type, [service.Change(0, uid, None, {})], opened)

    def _litter(self, pups: int) -> tuple[UUID, list[UUID]]:
        dam = self.create("dog", {"name": "Bramble", "sex": "female"})
        litter = self.create(
            "litter", {"name": "Bramble's", "dam": str(dam), "whelped_at": "2026-01-07T03:00:00Z"}
        )
        bands = ("moss", "rust", "slate", "straw", "plum", "fern", "clay", "sky")
        made = [
            self.create(
                "pup",
                {
                    "litter": str(litter),
                    "band": bands[n % 8] + (str(n // 8) if n >= 8 else ""),
                    "born_at": f"2026-01-07T03:{n:02}:00Z",
                },
            )
            for n in range(pups)
        ]
        return litter, made

    def routine(self, at: datetime = AT, **fields: Any) -> UUID:
        """A routine; softened food for the litter at 17:00 each day unless said otherwise."""
        given = {
            "kind": "test-round",
            "rule": DAILY,
            "subject_type": "litter",
            "subject_uid": str(self.litter),
            **fields,
        }
        if given["subject_type"] == "":
            del given["subject_uid"]
        return self.create("routine", given, at)

    def shift(self, carer: Carer, begin: str, end: str, *, rank: int = 1, **fields: Any) -> UUID:
        """The carer is on duty from and until these wall times, every day."""
        member = Membership.objects.get(kennel_id=self.place.here.id, carer=carer)
        given = {"member": str(member.uid), "first_on": "2026-01-01", "from_time": begin, "until_time": end}
        return self.create("shift", {**given, "rank": rank, **fields})

    def quiet(self, carer: Carer, begin: str, end: str, zone: str = "Europe/London") -> None:
        """The carer sleeps between these wall times."""
        Carer.objects.filter(pk=carer.pk).update(
            quiet_from=time.fromisoformat(begin), quiet_until=time.fromisoformat(end), zone=zone
        )

    def plan(self, at: datetime = AT) -> int:
        """One plan tick."""
        return ticks.plan_tick(at)

    def release(self, at: datetime) -> releasing.Released:
        """Release what is due in this kennel."""
        with self.write(at) as opened:
            return releasing.release_due(opened)

    def replan(self, at: datetime = AT) -> None:
        """Plan the routines of the litter again, now."""
        with self.write(at) as opened:
            planning.replan(planning.routines_of(opened, subjects=[("litter", self.litter)]), opened)

    def send(self, at: datetime, channel: str = "email", limit: int = 100) -> sending.Round:
        """Send what is due on a channel."""
        return sending.send_batch(channel, at, limit=limit)

    def tick(self, at: datetime) -> None:
        """All ticks, once."""
        ticks.plan_tick(at)
        ticks.release_tick(at)
        ticks.send_tick("inbox", at)
        ticks.send_tick("email", at)

    def act(self, duty: UUID, action: str, by: Carer, at: datetime, **fields: Any) -> UUID:
        """A tap on a duty."""
        data = {"duty": str(duty), "action": action, "occurred_at": at.isoformat(), **fields}
        return self.create("duty-action", data, at, by)

    def weigh(
        self, pup: UUID, at: datetime, by: Carer | None = None, recorded_at: datetime | None = None
    ) -> UUID:
        """A weighing of a pup."""
        data = {"pup": str(pup), "occurred_at": at.isoformat(), "weight_g": 900}
        return self.create("weighing", data, recorded_at or at, by)

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
        """Rows of this kennel; %(k)s stands for its id."""
        with door.read(self.place.here, door.SERVER, AT), connection.cursor() as cursor:
            cursor.execute(sql.replace("%(k)s", str(int(self.place.here.id))), values)
            names = [column.name for column in cursor.description or ()]
            return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def duties(self, where: str = "true") -> list[dict[str, Any]]:
        """Duties in order of time."""
        return self.rows(f"SELECT * FROM duties_duty WHERE kennel_id = %(k)s AND {where} ORDER BY due_at, id")

    def animals(self, duty: UUID) -> dict[str, str]:
        """Name -> state of a duty's animals."""
        found = self.rows(
            "SELECT a.name, a.state FROM duties_dutyanimal a JOIN duties_duty d ON d.id = a.duty_id"
            f" WHERE d.uid = '{duty}' ORDER BY a.place"
        )
        return {row["name"]: row["state"] for row in found}

    def messages(self, channel: str = "email", where: str = "true") -> list[dict[str, Any]]:
        """Messages of a channel with the carer's name, by schedule."""
        return self.rows(
            "SELECT r.*, c.name AS carer, d.uid AS duty_uid FROM duties_reminder r JOIN people_carer c"
            " ON c.id = r.carer_id LEFT JOIN duties_duty d ON d.id = r.duty_id"
            f" WHERE r.kennel_id = %(k)s AND r.channel = '{channel}' AND {where}"
            " ORDER BY r.scheduled_at, r.step, c.name"
        )


def utc(text: str) -> datetime:
    """An instant in UTC from "2026-02-03 17:00"."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)

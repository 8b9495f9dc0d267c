"""What is known of the health of one litter, dog or pup: plans, watches, what was given, what happened."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse

from health.choices import WatchLevel
from health.web import reads
from health.web.plans import scheme_words
from kennel.records import door
from kennel.records.types import RecordType
from kennel.web.base import KennelPage, uid_or_404
from litters.registrations import DOG, LITTER, PUP
from litters.web.entries import pup_label

TYPES: dict[str, RecordType] = {"litter": LITTER, "dog": DOG, "pup": PUP}


class AboutPage(KennelPage):
    """The newest of everything about the litter, dog or pup of the path; the address says which."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The page.  A litter shows what concerns its pups; a pup also the plans and events of its litter."""
        return self._show(self.kwargs["kind"], uid_or_404(uid))

    def _show(self, kind: str, uid: UUID) -> HttpResponse:
        with door.read(self.here, self.actor, self.at):
            subject = reads.row(TYPES[kind], self.here.id, uid)
            plans = reads.plans_about(self.here.id, kind, uid)
            treatments = reads.treatments_about(self.here.id, kind, uid)
            events = reads.health_events_about(self.here.id, kind, uid)
            watches = reads.watches_about(self.here.id, kind, uid)
            names = reads.names(self.here.id, [*plans, *treatments, *events, *watches])
            medicines = {one["uid"]: one["name"] for one in reads.medicines(self.here.id)}
        for one in [*treatments, *events, *watches]:
            one["animal"] = names.get(reads.animal_of(one), "")
        for one in treatments:
            one["medicine_name"] = medicines.get(one["medicine"], "")
        for one in watches:
            one["level_words"] = WatchLevel(one["level"]).label
        for one in plans:
            one["scheme_words"] = scheme_words(one["scheme"])
        values = {
            "kind": kind,
            "subject": subject,
            "name": pup_label(subject) if kind == "pup" else subject["name"],
            "has_pups": kind == "litter" and subject["whelped_at"] is not None,
            "plans": plans,
            "treatments": treatments,
            "events": events,
            "watches": watches,
        }
        return self.page("health/about.html", values)

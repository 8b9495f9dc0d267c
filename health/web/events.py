"""Pages about what happened, and about animals to keep an eye on."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from health.choices import WatchLevel
from health.registrations import WATCH
from health.web import entries, reads
from health.web.animal_form import AnimalFormPage
from kennel.records import door, service, store
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, version_of


class HealthPage(KennelPage):
    """Where to begin: what was given, what happened, whom to keep an eye on, which animal to write about."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The newest events, and the animals."""
        with door.read(self.here, self.actor, self.at):
            rows = reads.health_events(self.here.id)
            names = reads.names(self.here.id, rows)
            animals = reads.animals(self.here.id)
        for one in rows:
            one["animal"] = names.get(reads.animal_of(one), "")
        found = [{"kind": key.split(":")[0], "uid": key.split(":")[1], "name": name} for key, name in animals]
        return self.page("health/health.html", {"events": rows, "animals": found})


class NewHealthEventPage(AnimalFormPage):
    """Something that happened to an animal."""

    record = "health-event"
    back_to = "web:health"
    caution = (
        "Something worse than it was an hour ago, a limp or cold pup, blood: ring the vet before writing."
    )

    def fields(self) -> list[Entry]:
        """What happened, when, what was seen."""
        return entries.health_event_entries()

    def title(self) -> str:
        """Title."""
        return f"What happened to {self.animal.called}?"


class NewWatchPage(AnimalFormPage):
    """Somebody wants an eye kept on an animal."""

    record = "watch"
    back_to = "web:watches"

    def fields(self) -> list[Entry]:
        """How urgent, since when, why."""
        return entries.watch_entries()

    def title(self) -> str:
        """Title."""
        return f"Keep an eye on {self.animal.called}"


class WatchesPage(KennelPage):
    """Whom to keep an eye on and why; who was watched before."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Open ones first, the most urgent on top."""
        return self._show()

    def _show(self, error: str = "", uid: str = "", status: int = 200) -> HttpResponse:
        with door.read(self.here, self.actor, self.at):
            rows = reads.watches(self.here.id)
            names = reads.names(self.here.id, rows)
        order = ("emergency", "act_today", "watch")
        for one in rows:
            one["animal"] = names.get(reads.animal_of(one), "")
            one["level_words"] = WatchLevel(one["level"]).label
            one["error"] = error if one["uid"] == uid else ""
        standing = [one for one in rows if one["closed_at"] is None]
        standing.sort(key=lambda one: order.index(one["level"]))
        closed = [one for one in rows if one["closed_at"] is not None]
        return self.page("health/watches.html", {"watches": standing, "closed": closed[:30]}, status)

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Close a watch with who and why."""
        uid = uid_or_404(request.POST.get("uid", ""))
        patch = {
            "closed_at": self.at.isoformat(),
            "closed_by": "vet" if request.POST.get("closed_by") == "vet" else "carer",
            "closing_reason": request.POST.get("closing_reason", "").strip()[:200],
        }
        known = version_of(request.POST)
        with door.write(self.here, self.actor, self.at) as opened:
            if uid not in store.show(WATCH, self.here.id, [uid]):
                raise Http404
            outcome = service.update(WATCH, [service.Change(0, uid, frozenset({known}), patch)], opened)[0]
        if outcome.refusal is not None:
            return self._show(_words(outcome.refusal), str(uid), 422)
        messages.success(request, "Closed, with the reason.")
        return redirect("web:watches", self.here.uid)


def _words(refusal: Refusal) -> str:
    if refusal.slug == "version-mismatch":
        return "A new weight changed this meanwhile. Look at it as it is now."
    return " ".join(error.detail for error in refusal.errors) or "This could not be closed."

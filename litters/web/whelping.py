"""The whelping log and the card to read to the vet."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm
from litters import selectors_breeding
from litters.choices import WhelpingKind
from litters.selectors_litters import litter_heads
from litters.services.labour import Labour, labour_of
from litters.web import entries
from litters.web.litters import head_or_404
from litters.web.readings import LitterEntryPage

CAUTION = (
    "Ring the vet whenever you are worried; you need no flag to ring. Never give oxytocin or calcium unless the vet "
    "tells you to now."
)


class WhelpingPage(LitterEntryPage):
    """A line of the whelping log, above the lines there are, the flags and what comes next."""

    template = "litters/whelping.html"
    caution = CAUTION

    def form(self) -> RecordForm:
        """What happened, and when."""
        self.read_litter()
        initial = {"litter": self.litter["uid"], "occurred_at": self.at}
        fields = entries.whelping_entries(self.litter_choice(), self.pup_choices())
        return RecordForm("whelping-entry", fields, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Whelping: {self.litter['name']}"

    def more(self) -> dict[str, Any]:
        """The labour as it stands, and the log with the newest line first."""
        uid = uid_or_404(self.kwargs["uid"])
        with door.read(self.here, self.actor, self.at):
            head = litter_heads([uid], self.here.id).get(uid)
            labour = labour_of(head, self.here, self.at) if head else None
            log = selectors_breeding.log_of(head.id, self.here.id, self.at) if head else []
        return {
            "litter": self.litter,
            "labour": labour.report if labour else None,
            "lines": [{"row": row, "words": WhelpingKind(row.kind).label} for row in reversed(log)],
            "offline_type": "whelping-entry",
            "offline_label": f"Whelping log, {self.litter['name']}",
        }

    def saved_url(self, uid: UUID) -> str:
        """The log, ready for the next line."""
        return reverse("web:whelping", args=[self.here.uid, self.kwargs["uid"]])


class VetCardPage(KennelPage):
    """What to say to the vet, in one screen."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The words to read aloud, the flags, and the figures they stand on."""
        with door.read(self.here, self.actor, self.at):
            head = head_or_404(uid_or_404(uid), self.here.id)
            found: Labour = labour_of(head, self.here, self.at)
        return self.page("litters/vet_card.html", {"litter": head, "labour": found, "report": found.report})

"""Pages about litters."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse

from kennel.clock.wall_clock import local_day
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import RecordForm
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.choices import Fate
from litters.domain.watch_reasons import LEVEL_WORDS, rank
from litters.registrations import DOG, LITTER
from litters.selectors_litters import LitterHead, litter_heads
from litters.services.assessments import assess_litters
from litters.services.due_windows import predict
from litters.web import entries, links, reads
from litters.web.entries import pup_label


def with_pups(litters: list[reads.Row], kennel_id: int) -> list[reads.Row]:
    """The litters, each with its `pups` (living and here), those `gone` home, the `lost` ones, and the dogs named.  Two queries."""
    pups = reads.pups_of(kennel_id, [litter["uid"] for litter in litters])
    dogs = reads.rows_by_uid(DOG, kennel_id, [uid for r in litters for uid in (r["dam"], r["sire"])])
    for litter in litters:
        mine = pups.get(litter["uid"], [])
        for pup in mine:
            pup["label"] = pup_label(pup)
        living = [pup for pup in mine if pup["fate"] == Fate.LIVING]
        litter["pups"] = [pup for pup in living if not pup["left_at"]]
        litter["gone"] = [pup for pup in living if pup["left_at"]]
        litter["lost"] = [pup for pup in mine if pup["fate"] != Fate.LIVING]
        litter["dam_row"], litter["sire_row"] = dogs.get(litter["dam"]), dogs.get(litter["sire"] or "")
    return litters


def head_or_404(uid: UUID, kennel_id: int) -> LitterHead:
    """A litter with its parents, inside an open door.  Raises Http404."""
    found = litter_heads([uid], kennel_id).get(uid)
    if found is None:
        raise Http404
    return found


class LittersPage(KennelPage):
    """Litters expected or being raised, and the closed ones by name."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list."""
        with door.read(self.here, self.actor, self.at):
            found = with_pups(reads.litters(self.here.id), self.here.id)
            closed = reads.litters(self.here.id, closed=True)
        return self.page("litters/litters.html", {"litters": found, "closed": closed})


class LitterPage(KennelPage):
    """One litter: its pups with their last weights."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The litter."""
        identifier = uid_or_404(uid)
        with door.read(self.here, self.actor, self.at):
            litter = with_pups([reads.row(LITTER, self.here.id, identifier)], self.here.id)[0]
            last = reads.last_weights(self.here.id, identifier)
            head = litter_heads([identifier], self.here.id).get(identifier)
            shown = self._outlook(head) if head else {}
        for pup in litter["pups"] + litter["gone"] + litter["lost"]:
            weights = last.get(pup["uid"], [])
            pup["newest"] = weights[0] if weights else None
            pup["previous"] = weights[1] if len(weights) > 1 else None
        today = local_day(self.at, self.here.zone).isoformat()
        ways = links.of(links.LITTER, identifier, self.here, self.actor)
        return self.page("litters/litter.html", {"litter": litter, "links": ways, "today": today, **shown})

    def _outlook(self, head: LitterHead) -> dict[str, Any]:
        """When an expected litter is due; how a born one grows."""
        if head.whelped_at is None:
            found = predict(head, self.here, self.at)
            return {
                "due": {
                    "window": found.window,
                    "milestones": found.milestones,
                    "earlier": found.history[:-1],
                }
            }
        judged = assess_litters([head.uid], self.here.id, self.at)[head.uid]
        watched = [one for one in judged.pups if one.found.reasons]
        watched.sort(key=lambda one: -rank(one.found.level))
        return {
            "growth": {
                "watched": [
                    {
                        "pup": one.pup,
                        "label": one.found.pup.capitalize(),
                        "words": LEVEL_WORDS[one.found.level],
                        "found": one.found,
                    }
                    for one in watched
                ],
                "where_to_look": judged.where_to_look,
                "slips": judged.slips,
            }
            if judged.pups
            else None
        }


class NewLitterPage(NewRecordPage):
    """Adding a litter, expected or born."""

    caution = "Close relatives: have the inbreeding worked out before a mating, not after it."

    def form(self) -> RecordForm:
        """A litter's fields; dam and sire are chosen among the dogs known here."""
        with door.read(self.here, self.actor, self.at):
            self.dogs = reads.dogs(self.here.id)
        return RecordForm(
            "litter",
            entries.litter_entries(self.dogs),
            self.here.zone,
            initial={"dam": self.request.GET.get("dam", "")},
        )

    def title(self) -> str:
        """Title."""
        return "Add a litter"

    def more(self) -> dict[str, Any]:
        """Without a dam there is no litter: the page says so first."""
        if any(dog["sex"] == "female" for dog in self.dogs):
            return {}
        return {"intro": "A litter needs its dam. Add her first, under Dogs."}

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:litters", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the litter."""
        return reverse("web:litter", args=[self.here.uid, uid])


class ChangeLitterPage(ChangeRecordPage):
    """Changing what is known of a litter."""

    def form(self) -> RecordForm:
        """The same fields, filled in, and the days that end something."""
        with door.read(self.here, self.actor, self.at):
            self.litter = reads.row(LITTER, self.here.id, self.uid)
            dogs = reads.dogs(self.here.id)
        return RecordForm("litter", entries.litter_change_entries(dogs), self.here.zone, row=self.litter)

    def title(self) -> str:
        """Title."""
        return f"Change {self.litter['name']}"

    def cancel_url(self) -> str:
        """Back to the litter."""
        return reverse("web:litter", args=[self.here.uid, self.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the litter."""
        return self.cancel_url()

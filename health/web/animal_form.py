"""A form about one animal, kept on the device first."""

from typing import Any, ClassVar
from uuid import UUID

from django.http import Http404
from django.urls import reverse

from health import selectors
from kennel.records import door
from kennel.web.base import uid_or_404
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import NewRecordPage


class AnimalFormPage(NewRecordPage):
    """A form about the animal named in the path.

    record: the type that is written.  back_to: the page to return to, by name.
    """

    keep_offline = True
    record: ClassVar[str] = ""
    back_to: ClassVar[str] = ""

    def fields(self) -> list[Entry]:
        """The fields beside the animal; asked inside an open door."""
        raise NotImplementedError

    def form(self) -> RecordForm:
        """The animal, then the fields."""
        kind, uid = self.kwargs["kind"], uid_or_404(self.kwargs["uid"])
        with door.read(self.here, self.actor, self.at) as opened:
            found = selectors.animal_facts([(kind, uid, self.at)], opened)[0]
            fields = self.fields()
        if found is None:
            raise Http404
        self.animal = found
        fixed = Entry(kind, "For", choices=[(str(uid), found.called)], is_hidden=True)
        initial = {kind: str(uid), "occurred_at": self.at, "opened_at": self.at}
        return RecordForm(self.record, [fixed, *fields], self.here.zone, initial=initial)

    def more(self) -> dict[str, Any]:
        """The entry is kept on the device first."""
        return {"offline_type": self.record, "offline_label": self.title()}

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse(self.back_to, args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the list, where advice stands beside it."""
        return self.cancel_url()

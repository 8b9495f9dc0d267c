"""The figures behind warnings and predictions: what is published, what stands, and agreeing another with the vet."""

from itertools import groupby
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse

from kennel.clock.wall_clock import local_day
from kennel.people.choices import Role
from kennel.records import door
from kennel.web.base import KennelPage
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import NewRecordPage
from litters.api.figures import CAUTION
from litters.choices import FigureArea
from litters.services.figure_list import ListedFigure, figures_of


class FiguresPage(KennelPage):
    """Every figure a kennel may replace, by what it belongs to."""

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list; what was agreed stands first."""
        with door.read(self.here, self.actor, self.at):
            found = figures_of(self.here.id)
        areas = [
            {"title": area.label.capitalize(), "figures": list(figures)}
            for area, figures in groupby(found, key=lambda one: one.area)
        ]
        values = {"areas": areas, "caution": CAUTION, "may_agree": self.actor.may(Role.KEEPER)}
        return self.page("litters/figures.html", values)


class AgreeFigurePage(NewRecordPage):
    """Agreeing a figure with the vet; of several the newest stands."""

    least_role = Role.KEEPER
    write_role = Role.KEEPER
    caution = CAUTION

    def _figure(self) -> ListedFigure:
        with door.read(self.here, self.actor, self.at):
            found = figures_of(self.here.id)
        for one in found:
            if (one.area.value, one.key) == (self.kwargs["area"], self.kwargs["key"]):
                return one
        raise Http404

    def form(self) -> RecordForm:
        """The value, with whom and when it was agreed."""
        self.figure = self._figure()
        area = FigureArea(self.figure.area)
        entries = [
            Entry("area", "Belongs to", choices=[(area.value, area.label)], is_hidden=True),
            Entry("key", "Figure", choices=[(self.figure.key, self.figure.note.about)], is_hidden=True),
            Entry("value", "Agreed value", self._says(), unit=self.figure.note.unit, is_large=True),
            Entry("agreed_with", "Agreed with", "The vet's name."),
            Entry("agreed_on", "Agreed on"),
            Entry("note", "Note", is_more=True),
        ]
        initial = {
            "area": area.value,
            "key": self.figure.key,
            "agreed_on": local_day(self.at, self.here.zone),
        }
        return RecordForm("agreed-figure", entries, self.here.zone, initial=initial)

    def _says(self) -> str:
        note = self.figure.note
        other = f" Other sources: {note.differs}." if note.differs else ""
        return f"Published: {self.figure.published_text} ({note.source}; {note.status}).{other}"

    def title(self) -> str:
        """Title."""
        about = self.figure.note.about
        return about[0].upper() + about[1:]

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:figures", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the list."""
        return self.cancel_url()

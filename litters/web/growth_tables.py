"""Growth tables that the vet supplied: the list, one table, entering, correcting and removing one."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.clock.wall_clock import local_day
from kennel.people.choices import Role
from kennel.records import door, service
from kennel.records.refusals import FieldError, Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm, remove, save_changes, version_of
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.domain.centiles import LmsTable
from litters.domain.growth_table_text import COLUMNS, NotATable, rows_from_text
from litters.registrations import GROWTH_TABLE
from litters.services.growth_positions import POSITION_CAUTION
from litters.web import reads

SEXES = {"": "both sexes", "female": "bitches", "male": "dogs"}
AGE_UNITS = ("days", "weeks")


def for_whom(row: reads.Row) -> str:
    """Which dogs a table is for."""
    low, high = row["adult_from_kg"], row["adult_below_kg"]
    sex = SEXES[row["sex"]]
    if low is None and high is None:
        return f"{sex}, any adult weight"
    if low is None:
        return f"{sex}, adult weight below {high:g} kg"
    if high is None:
        return f"{sex}, adult weight from {low:g} kg"
    return f"{sex}, adult weight from {low:g} to below {high:g} kg"


def _shown(row: reads.Row) -> reads.Row:
    table = LmsTable.of(row["name"], row["rows"])
    return row | {
        "for_whom": for_whom(row),
        "from_day": table.from_day,
        "to_day": table.to_day,
        "questions": table.questions(),
    }


class GrowthTablesPage(KennelPage):
    """The tables of the kennel, the one entered last first."""

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list."""
        with door.read(self.here, self.actor, self.at):
            tables = [_shown(row) for row in reads.growth_tables(self.here.id)]
        values = {"tables": tables, "caution": POSITION_CAUTION, "may_add": self.actor.may(Role.KEEPER)}
        return self.page("litters/growth_tables.html", values)


class GrowthTablePage(KennelPage):
    """One table with its rows; a keeper removes it or brings it back."""

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The rows."""
        return self._show(uid_or_404(uid))

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Remove it, or bring it back."""
        refusal = remove(
            self,
            "growth-table",
            uid_or_404(uid),
            version_of(request.POST),
            request.POST.get("reason", "").strip()[:500],
            restore="restore" in request.POST,
        )
        if refusal:
            return self._show(
                uid_or_404(uid), "Somebody changed this meanwhile. Look at it as it is now.", 409
            )
        messages.success(request, "Brought back." if "restore" in request.POST else "Removed.")
        return redirect("web:growth-table", self.here.uid, uid)

    def _show(self, uid: UUID, error: str = "", status: int = 200) -> HttpResponse:
        with door.read(self.here, self.actor, self.at):
            table = _shown(reads.row(GROWTH_TABLE, self.here.id, uid))
        values = {"table": table, "error": error, "may_change": self.actor.may(Role.KEEPER)}
        return self.page("litters/growth_table.html", values, status)


class _LinesForm(KennelPage):
    """A form of everything but the lines, and the lines as text."""

    least_role = Role.KEEPER
    write_role = Role.KEEPER
    rows_text = ""
    rows_basis = ""
    age_unit = "weeks"
    row_errors: tuple[str, ...] = ()

    def entries(self) -> list[Entry]:
        """The fields of the record."""
        return [
            Entry("name", "Name", "As you will know it again, with the sex and size it is for."),
            Entry("sex", "For", choices=[("", "Both sexes"), ("female", "Bitches"), ("male", "Dogs")]),
            Entry("adult_from_kg", "Adult weight from", unit="kg"),
            Entry("adult_below_kg", "Adult weight below", unit="kg"),
            Entry("supplied_by", "Supplied by", "The vet's name."),
            Entry("supplied_on", "Supplied on"),
            Entry("source", "Where the values are from", "The publication or data the vet took them from."),
            Entry("note", "Note", is_more=True),
        ]

    def read_rows(self) -> list[dict[str, float]]:
        """The lines that were sent as rows of the record, or none and `row_errors`."""
        self.rows_text = self.request.POST.get("rows_text", "").replace("\r\n", "\n")
        sent_unit = self.request.POST.get("age_unit", "")
        self.age_unit = sent_unit if sent_unit in AGE_UNITS else self.age_unit
        try:
            rows = rows_from_text(self.rows_text, self.age_unit)
            service.check(GROWTH_TABLE.input, _SOUND | {"rows": rows})
        except NotATable as error:
            self.row_errors = tuple(f"Line {one.line}: {one.text}" for one in error.problems)
        except Refusal as refusal:
            self.row_errors = tuple(_row_error(error) for error in refusal.errors[:10])
        return [] if self.row_errors else rows

    def more(self) -> dict[str, Any]:
        """The lines as they stand."""
        return {
            "rows_text": self.rows_text,
            "rows_basis": self.rows_basis,
            "age_unit": self.age_unit,
            "age_units": AGE_UNITS,
            "row_errors": self.row_errors,
        }

    def saved_url(self, uid: UUID) -> str:
        """To the table, to look it over."""
        return reverse("web:growth-table", args=[self.here.uid, uid])


class NewGrowthTablePage(_LinesForm, NewRecordPage):
    """Entering a table: who supplied it, for which dogs, and its lines pasted from a sheet."""

    template = "litters/growth_table_form.html"
    caution = POSITION_CAUTION

    def form(self) -> RecordForm:
        """Everything but the lines."""
        initial = {"supplied_on": local_day(self.at, self.here.zone)}
        return RecordForm("growth-table", self.entries(), self.here.zone, initial=initial)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store it; lines that cannot be read are named, and everything typed stays."""
        form = self.form()
        data = form.read(request.POST) | {"rows": self.read_rows()}
        if self.row_errors:
            self._look_at_the_rest(form, data)
            return self.show(form, 422)
        return self.store(form, data)

    def _look_at_the_rest(self, form: RecordForm, data: dict[str, Any]) -> None:
        """Say at once what else is wrong, not only after the lines are mended."""
        try:
            service.check(GROWTH_TABLE.input, data | {"rows": _SOUND["rows"]})
        except Refusal as refusal:
            form.refuse(refusal)

    def title(self) -> str:
        """Title."""
        return "Add a growth table"

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:growth-tables", args=[self.here.uid])


class ChangeGrowthTablePage(_LinesForm, ChangeRecordPage):
    """Correcting a table; what stood before stays in its history."""

    template = "litters/growth_table_form.html"
    caution = POSITION_CAUTION

    def form(self) -> RecordForm:
        """The fields and the lines, filled in."""
        with door.read(self.here, self.actor, self.at):
            self.table = reads.row(GROWTH_TABLE, self.here.id, self.uid)
        self.rows_text = self.rows_basis = self._lines()
        self.age_unit = "days"
        return RecordForm("growth-table", self.entries(), self.here.zone, row=self.table)

    def _lines(self) -> str:
        return "\n".join(
            " ".join(f"{float(row[column]):.10g}" for column in COLUMNS) for row in self.table["rows"]
        )

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Store what was changed since the page was opened; lines that cannot be read are named."""
        form = self.form()
        stands = self.rows_text
        patch = form.read_changes(request.POST)
        rows = self.read_rows()
        opened_with = request.POST.get("rows_basis", "").replace("\r\n", "\n")
        is_touched = (self.rows_text, self.age_unit) != (opened_with, "days")
        if self.row_errors:
            self.rows_basis = opened_with
            return self.show(form, 422)
        if save_changes(self, form, patch | {"rows": rows} if is_touched else patch):
            messages.success(request, "Saved.")
            return redirect(self.saved_url(self.uid))
        if not is_touched:
            self.rows_text = stands
        elif stands != opened_with:
            form.meanwhile.append("Lines, as they stand now: " + "; ".join(stands.split("\n")))
        return self.show(form, 422)

    def title(self) -> str:
        """Title."""
        return f"Correct {self.table['name']}"

    def cancel_url(self) -> str:
        """Back to the table."""
        return self.saved_url(self.uid)


# What stands in for the fields that are not looked at.
_SOUND: dict[str, Any] = {
    "name": "table",
    "supplied_by": "vet",
    "supplied_on": "2026-01-05",
    "source": "paper",
    "rows": [
        {"age_days": 84, "power": 1, "median_kg": 5, "spread": 0.1},
        {"age_days": 168, "power": 1, "median_kg": 10, "spread": 0.1},
    ],
}
_COLUMN_WORDS = {"age_days": "age", "power": "L", "median_kg": "M", "spread": "S"}


def _row_error(error: FieldError) -> str:
    _, name, *where = error.pointer.split("/")
    if name == "rows" and len(where) == 2:
        return f"Row {int(where[0]) + 1}, {_COLUMN_WORDS.get(where[1], where[1])}: {error.detail}"
    return error.detail

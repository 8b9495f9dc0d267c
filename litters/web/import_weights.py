"""Import of a litter's weights: choose a file, look at what would happen line by line, then store it.

The server keeps nothing between the two steps: the page carries the file back, and the second step checks it anew.
"""

import base64
import binascii
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from kennel.people.choices import MassUnit, Role
from kennel.records import door
from kennel.records.refusals import Refusal
from kennel.web import menu
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.urls import add_page
from litters.services.weight_files import MOST_FILE_BYTES, unreadable
from litters.services.weight_import import Line, Report, weights_import
from litters.web import reads

MOST_SHOWN = 400


class ImportWeightsPage(KennelPage):
    """Weights from a file, for one litter."""

    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """Litter, file and unit."""
        return self._ask(request.GET.get("litter", ""))

    def post(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The report of the file sent; with `confirm` the weights are stored."""
        litter = uid_or_404(request.POST.get("litter", ""))
        unit = request.POST.get("unit", "")
        if unit not in MassUnit.values:
            unit = ""
        is_confirmed = request.POST.get("confirm") == "yes"
        try:
            name, content = _file(request)
            report = self._run(litter, name, content, unit, is_dry_run=not is_confirmed)
        except Refusal as refusal:
            if refusal.slug != "validation":
                raise
            return self._ask(str(litter), unit, refusal.errors[0].detail, 422)
        if is_confirmed and not report.counts()["refused"]:
            messages.success(request, _said(report))
            return redirect(reverse("web:litter", args=[self.here.uid, litter]))
        return self._show(litter, name, content, unit, report)

    def _run(self, litter: UUID, name: str, content: bytes, unit: str, *, is_dry_run: bool) -> Report:
        return weights_import(
            litter,
            name,
            content,
            unit=unit or None,
            is_dry_run=is_dry_run,
            kennel=self.here,
            actor=self.actor,
            at=self.at,
        )

    def _ask(self, litter: str = "", unit: str = "", error: str = "", status: int = 200) -> HttpResponse:
        with door.read(self.here, self.actor, self.at):
            litters = reads.litters(self.here.id) + reads.litters(self.here.id, closed=True)
        values = {
            "litters": litters,
            "chosen": litter,
            "unit": unit,
            "units": MassUnit.choices,
            "error": error,
        }
        return self.page("litters/import_weights.html", values, status)

    def _show(self, litter: UUID, name: str, content: bytes, unit: str, report: Report) -> HttpResponse:
        # What needs a look comes first; lines without doubts are only shown as far as the page stays readable.
        lines = sorted(report.lines, key=_by_need)
        values: dict[str, Any] = {
            "report": report,
            "counts": report.counts(),
            "lines": lines[:MOST_SHOWN],
            "more": max(0, len(lines) - MOST_SHOWN),
            "litter_uid": str(litter),
            "unit": unit,
            "file_name": name,
            "content": base64.b64encode(content).decode() if report.is_dry_run else "",
        }
        return self.page("litters/import_report.html", values)


def _file(request: HttpRequest) -> tuple[str, bytes]:
    """Name and bytes of the file sent, or of the one the report page carries.  Raises Refusal when there is none."""
    sent = request.FILES.get("file")
    if sent is not None:
        if (sent.size or 0) > MOST_FILE_BYTES:
            raise unreadable(
                "too_large", f"A file of at most {MOST_FILE_BYTES // 1_000_000} MB can be imported."
            )
        return (sent.name or "")[:255], sent.read()
    try:
        content = base64.b64decode(request.POST.get("content", ""), validate=True)
    except (binascii.Error, ValueError):
        raise unreadable("base64", "Choose the file again.") from None
    if not content:
        raise unreadable("empty", "Choose a file.")
    return request.POST.get("file_name", "")[:255], content


def _by_need(line: Line) -> tuple[int, int, int]:
    rank = 0 if line.refusal else 1 if line.doubts else 2
    return rank, line.row, line.column


def _said(report: Report) -> str:
    counts = report.counts()
    here = f" {counts['already_here']} were here already." if counts["already_here"] else ""
    return f"Stored: {counts['added']} weights.{here}"


def register() -> None:
    """Add the page and its place in the menu; called once, from `apps.py`."""
    add_page("kennels/<str:kennel>/import-weights", ImportWeightsPage, "import-weights")
    menu.add("Import weights", "web:import-weights", Role.CARER, order=70)

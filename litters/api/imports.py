"""Import of a litter's weights from a file."""

import base64
from typing import Annotated, Any

from django.http import HttpResponse
from pydantic import BaseModel, ConfigDict, Field

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.api.urls import add_view
from kennel.people.choices import MassUnit
from kennel.records import service
from kennel.records.fields import FileName
from kennel.records.refusals import invalid
from litters.services.weight_files import MOST_FILE_BYTES
from litters.services.weight_import import Line, Report, weights_import

_WORDS = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["code", "text"],
        "properties": {"code": {"type": "string"}, "text": {"type": "string"}},
    },
}
_LINE = {
    "type": "object",
    "required": ["row", "column", "pup", "shown", "outcome", "doubts", "refusal"],
    "properties": {
        "row": {"type": "integer", "description": "Row in the file, from 1."},
        "column": {"type": "integer", "description": "Column in the file, from 1."},
        "pup": {"type": ["string", "null"], "format": "uuid"},
        "label": {"type": "string", "description": "What the pup is called here."},
        "shown": {"type": "string", "description": "What stands in the cell."},
        "uid": {"type": ["string", "null"], "format": "uuid"},
        "occurred_at": {"type": ["string", "null"], "format": "date-time"},
        "weight_g": {"type": ["number", "null"]},
        "outcome": {"type": "string", "enum": ["add", "added", "already_here", "refused"]},
        "doubts": _WORDS,
        "refusal": {"anyOf": [_WORDS["items"], {"type": "null"}]},
    },
}


class ImportInput(BaseModel):
    """A file with a litter's weights."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    file_name: FileName = ""
    content: Annotated[
        str,
        Field(min_length=1, max_length=MOST_FILE_BYTES * 4 // 3 + 8, description="XLSX or CSV, in base64."),
    ]
    unit: Annotated[MassUnit | None, Field(description="Unit of weights for which the file names none.")] = (
        None
    )
    dry_run: Annotated[bool, Field(strict=True, description="Only report; store nothing.")] = True


class LitterImports(KennelView):
    """Import of a litter's weights from a list or a grid in XLSX or CSV; running it again changes nothing."""

    body_input = ImportInput
    answer_schema = {
        "type": "object",
        "required": ["dry_run", "form", "sheet", "counts", "notes", "lines"],
        "properties": {
            "dry_run": {"type": "boolean"},
            "form": {"type": "string", "enum": ["list", "grid"]},
            "sheet": {"type": "string"},
            "counts": {"type": "object", "additionalProperties": {"type": "integer"}},
            "notes": _WORDS,
            "lines": {"type": "array", "items": _LINE},
        },
    }

    def units(self, request: Any) -> int:
        """One unit for the request and one for each 20 000 characters of the file."""
        content = request.data.get("content") if isinstance(request.data, dict) else None
        return 1 + (len(content) // 20_000 if isinstance(content, str) else 0)

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Report line by line what importing the file does, or with dry_run (the default) would do."""
        asked = service.check(ImportInput, request.data)
        try:
            content = base64.b64decode(asked.content, validate=True)
        except ValueError:  # binascii.Error is one; text beyond ASCII raises the plain one
            raise invalid("content", "base64", "The file's bytes in base64 are expected.") from None
        report = weights_import(
            parse_uid(uid),
            asked.file_name,
            content,
            unit=asked.unit,
            is_dry_run=asked.dry_run,
            kennel=self.here,
            actor=self.actor,
            at=self.at,
        )
        return json_response(dumps(_shown(report)))


def _shown(report: Report) -> dict[str, Any]:
    return {
        "dry_run": report.is_dry_run,
        "form": report.form,
        "sheet": report.sheet,
        "counts": report.counts(),
        "notes": _words(report.notes),
        "lines": [_shown_line(line) for line in report.lines],
    }


def _shown_line(line: Line) -> dict[str, Any]:
    return {
        "row": line.row,
        "column": line.column,
        "pup": line.pup,
        "label": line.label,
        "shown": line.shown,
        "uid": line.uid,
        "occurred_at": line.input.occurred_at if line.input else None,
        "weight_g": line.input.weight_g if line.input else None,
        "outcome": line.outcome,
        "doubts": _words(line.doubts),
        "refusal": _words([line.refusal])[0] if line.refusal else None,
    }


def _words(pairs: list[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"code": code, "text": text} for code, text in pairs]


def register() -> None:
    """Add the path; called once, from `apps.py`."""
    add_view("litters/<str:uid>/imports", LitterImports, "litter-imports")

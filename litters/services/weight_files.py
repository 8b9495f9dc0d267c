"""A file somebody keeps weights in -> sheets of cells.  Hostile files cost no more than the limits below.

XLSX is read by openpyxl with defusedxml beneath it (no entities, no document types) and never unpacked beyond
`MOST_UNPACKED_BYTES`; CSV in its usual encodings and with whichever separator its lines agree on.
"""

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from xml.etree.ElementTree import ParseError

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from kennel.records.refusals import FieldError, Refusal
from litters.domain.weight_cells import Cell, Formula

MOST_FILE_BYTES = 3_500_000  # in base64 this still fits the largest body the API takes
# Measured: openpyxl needs up to 1.6 s and 45 MB for a MiB of hostile XML; 30 000 honest cells are 1.5 MiB.
MOST_UNPACKED_BYTES = 3 * 1024 * 1024
MOST_STYLE_BYTES = 512 * 1024
MOST_PARTS, MOST_SHEETS = 400, 12
MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 4000, 200, 30_000
_SEPARATORS = (";", "\t", "|", ",")  # a comma may be a decimal mark, so it comes last
_UNIT_IN_FORMAT = re.compile(r'"?\s*\b(kg|g|oz|lbs?)\b\s*"?', re.IGNORECASE)
# What openpyxl, zipfile and the XML parser raise for files that are not what they seem (defusedxml's are ValueErrors).
_BROKEN = (
    zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, InvalidFileException, ParseError, KeyError, ValueError,
    TypeError, AttributeError, IndexError, EOFError, OverflowError, NotImplementedError, RuntimeError, OSError,
)  # fmt: skip


@dataclass
class Sheet:
    """One sheet: its name and its lines of cells, without empty lines and cells at the end."""

    name: str
    rows: list[list[Cell]] = field(default_factory=list)


def unreadable(code: str, text: str) -> Refusal:
    """The refusal of a file's content."""
    return Refusal("validation", text, [FieldError("#/content", code, text)])


def sheets_of(file_name: str, content: bytes) -> list[Sheet]:
    """Sheets of a file, told apart by content, not by name.  Raises Refusal for what cannot be read or is too large."""
    if not content:
        raise unreadable("empty", "The file is empty.")
    if len(content) > MOST_FILE_BYTES:
        raise unreadable("too_large", f"A file of at most {MOST_FILE_BYTES} bytes can be imported.")
    if content.startswith(b"PK\x03\x04"):
        return _workbook(content)
    if content.startswith((b"\xd0\xcf\x11\xe0", b"%PDF", b"{\\rtf", b"\x89PNG", b"\xff\xd8\xff")):
        raise unreadable("kind", "Save the sheet as XLSX or CSV; this kind of file is not read.")
    return [_text(file_name, content)]


def _workbook(content: bytes) -> list[Sheet]:
    if not openpyxl.DEFUSEDXML:
        raise Refusal("unavailable", "XLSX files are not read here: the XML guard is not installed.")
    try:
        _check_size(content)
        # Twice: what formulas say, and what they last came to.
        formulas = openpyxl.load_workbook(
            io.BytesIO(content), read_only=True, data_only=False, keep_links=False
        )
        results = openpyxl.load_workbook(
            io.BytesIO(content), read_only=True, data_only=True, keep_links=False
        )
        found = [
            _sheet(str(one.title), one, other)
            for one, other in zip(formulas.worksheets[:MOST_SHEETS], results.worksheets, strict=False)
            if one.sheet_state == "visible"
        ]
    except _BROKEN as error:
        raise unreadable(
            "broken", "This is no XLSX workbook that can be read; save it again, or save it as CSV."
        ) from error
    return [sheet for sheet in found if sheet.rows] or [Sheet("")]


def _check_size(content: bytes) -> None:
    """Refuse an archive that would unpack to too much.

    The sizes declared in the directory bound the work: zipfile never unpacks a part beyond its declared size.
    """
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = archive.infolist()
        if any(part.flag_bits & 1 for part in parts):
            raise unreadable("locked", "The workbook is locked with a password; save it without one.")
        if not any(part.filename == "[Content_Types].xml" for part in parts):
            raise unreadable("kind", "Save the sheet as XLSX or CSV; this kind of file is not read.")
        everything = sum(part.file_size for part in parts)
        styles = sum(part.file_size for part in parts if "styles" in part.filename.casefold())
        is_large = everything > MOST_UNPACKED_BYTES or styles > MOST_STYLE_BYTES
        if len(parts) > MOST_PARTS or is_large:
            raise unreadable(
                "too_large",
                "Unpacked, this workbook is too large for a weight sheet; leave pictures out, or save it as CSV.",
            )


def _sheet(name: str, formulas: Any, results: Any) -> Sheet:
    bounds = {"max_row": MOST_ROWS + 1, "max_col": MOST_COLUMNS + 1}
    pairs = zip(formulas.iter_rows(**bounds), results.iter_rows(**bounds), strict=False)
    return Sheet(name, _bounded([_cell(*both) for both in zip(*pair, strict=False)] for pair in pairs))


def _cell(formula: Any, result: Any) -> Cell:
    if formula.data_type == "f":
        return Formula(str(formula.value), result.value)
    value: Any = result.value
    if isinstance(value, int | float) and not isinstance(value, bool) and result.number_format != "General":
        # A format such as 0.0" oz" shows the unit with every number; it belongs to what people see in the cell.
        shown = (
            _UNIT_IN_FORMAT.search(str(result.number_format)) if '"' in str(result.number_format) else None
        )
        if shown:
            return f"{value!r} {shown[1]}"
    return value if isinstance(value, Cell) else str(value)


def _bounded(lines: Iterable[list[Cell]]) -> list[list[Cell]]:
    """Lines without what is empty at their ends.  Raises Refusal beyond the limits, before more is read."""
    rows: list[list[Cell]] = []
    cells, last = 0, 0
    for number, line in enumerate(lines, 1):
        while line and (line[-1] is None or line[-1] == ""):
            line.pop()
        if line:
            last = number
            cells += len(line)
        if last > MOST_ROWS or len(line) > MOST_COLUMNS or cells > MOST_CELLS:
            raise unreadable(
                "too_large",
                f"A sheet of at most {MOST_ROWS} rows, {MOST_COLUMNS} columns and {MOST_CELLS} cells can be imported.",
            )
        if number > MOST_ROWS:
            break
        rows.append(line)
    return rows[:last]


def _text(file_name: str, content: bytes) -> Sheet:
    text = _decoded(content)
    if "\0" in text:
        raise unreadable("kind", "Save the sheet as XLSX or CSV; this kind of file is not read.")
    separator, text = _separator(text)
    try:
        rows = _bounded(_lines(text, separator))
    except csv.Error as error:
        raise unreadable(
            "broken", "This CSV file cannot be read; save it again, or save it as XLSX."
        ) from error
    return Sheet("", rows)


def _lines(text: str, separator: str) -> Iterator[list[Cell]]:
    for line in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
        yield [cell.strip() for cell in line]


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")  # what older spreadsheets save


def _separator(text: str) -> tuple[str, str]:
    """The separator most lines agree on, and the text without a "sep=" line."""
    first, _, rest = text.partition("\n")
    if (said := first.strip().strip('"')).casefold().startswith("sep=") and len(said) == 5:
        return said[4], rest
    lines = [line for line in text.splitlines()[:200] if line.strip()][:50]
    for separator in _SEPARATORS:
        try:
            widths = [len(line) for line in csv.reader(lines, delimiter=separator)]
        except csv.Error:
            continue
        wide = [width for width in widths if width > 1]
        # A title above the table has no separators; below it every line has.
        if len(wide) * 2 > len(widths) and wide.count(max(set(wide), key=wide.count)) * 2 > len(wide):
            return separator, text
    return ",", text

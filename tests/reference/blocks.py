"""Finds the blocks of a reference file: case rows, pedigrees, weight series, plain or inside Markdown."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

CASES = "cases"
PEDIGREE = "pedigree"
SERIES = "series"

_REQUIRED = {
    CASES: ("case_id", "formula", "inputs", "output", "expected"),
    PEDIGREE: ("pedigree", "animal", "sire", "dam"),
    SERIES: ("age_days", "weight_kg"),
}


@dataclass(frozen=True)
class Row:
    """One row by column name, with the number of its line in the file."""

    line: int
    values: dict[str, str]


@dataclass(frozen=True)
class Block:
    """Rows under one header; `kind` is CASES, PEDIGREE or SERIES."""

    kind: str
    line: int
    rows: tuple[Row, ...]


@dataclass
class Contents:
    """What a file holds: its blocks in order, and one sentence for everything that fits no format."""

    blocks: list[Block] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


def read_contents(path: Path) -> Contents:
    """Blocks and problems of a file; a file without a row is a problem.  OSError, UnicodeDecodeError."""
    lines = list(enumerate(path.read_text(encoding="utf-8-sig").splitlines(), start=1))
    contents = Contents()
    fenced = any(_fence(text) for _, text in lines)
    pieces = _fenced_csv(lines, contents) if fenced or path.suffix.lower() == ".md" else [lines]
    for piece in pieces:
        _read_piece(piece, contents)
    if not contents.blocks and not contents.problems:
        contents.problems.append("no row in any known format")
    return contents


def _fence(text: str) -> str:
    """The opening or closing mark of a fenced block, or nothing."""
    stripped = text.strip()
    return stripped[:3] if stripped[:3] in ("```", "~~~") else ""


def _fenced_csv(lines: Iterable[tuple[int, str]], contents: Contents) -> list[list[tuple[int, str]]]:
    """The content of every fenced block marked csv; other fences are prose to us."""
    pieces: list[list[tuple[int, str]]] = []
    mark, is_csv = "", False
    for number, text in lines:
        found = _fence(text)
        if not mark and found:
            mark = found
            is_csv = text.strip().strip(found[0]).strip().lower() == "csv"
            if is_csv:
                pieces.append([])
        elif mark and found == mark:
            mark = ""
        elif mark and is_csv:
            pieces[-1].append((number, text))
    if mark:
        contents.problems.append("a fenced block is not closed")
    return pieces


def _read_piece(lines: Sequence[tuple[int, str]], contents: Contents) -> None:
    """Adds the blocks of one piece; a further header line starts a further block."""
    header: list[str] = []
    kind, start = "", 0
    rows: list[Row] = []
    for number, text in lines:
        if not text.strip() or text.lstrip().startswith("#"):
            continue
        cells = _cells(text)
        new_kind = _kind(cells)
        if new_kind:
            _close(kind, start, rows, contents)
            header, kind, start, rows = cells, new_kind, number, []
        elif not kind:
            contents.problems.append(f"line {number}: unknown header {text.strip()!r}")
            return
        elif len(cells) != len(header):
            contents.problems.append(f"line {number}: {len(cells)} cells under a header of {len(header)}")
        else:
            rows.append(Row(number, dict(zip(header, cells, strict=True))))
    _close(kind, start, rows, contents)


def _cells(text: str) -> list[str]:
    """The cells of one line; a line that is no CSV is one cell, which fits no header."""
    try:
        return [cell.strip() for cell in next(csv.reader([text.strip()], strict=True))]
    except csv.Error:
        return [text]


def _close(kind: str, line: int, rows: list[Row], contents: Contents) -> None:
    if rows:
        contents.blocks.append(Block(kind, line, tuple(rows)))
    elif kind:
        contents.problems.append(f"line {line}: a {kind} header without a row")


def _kind(cells: Sequence[str]) -> str:
    """The kind of block these cells are the header of, or nothing when they are a row."""
    for kind, required in _REQUIRED.items():
        if set(required) <= set(cells) and len(set(cells)) == len(cells):
            return kind
    return ""

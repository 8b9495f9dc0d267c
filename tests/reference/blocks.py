"""Finds the blocks of a reference file: case rows, pedigrees, weight series, plain or inside Markdown."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

CASES = "cases"
PEDIGREE = "pedigree"
SERIES = "series"

_REQUIRED = {
    CASES: ("case_id", "formula", "inputs", "output", "expected"),
    PEDIGREE: ("pedigree", "animal", "sire", "dam"),
    SERIES: ("age_days", "weight_kg"),
}


class BlockError(ValueError):
    """A file or block that is not in one of the formats."""


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


def read_blocks(path: Path) -> list[Block]:
    """All blocks of a file in order.  BlockError for an unknown header, a broken row or no block at all."""
    lines = list(enumerate(path.read_text(encoding="utf-8-sig").splitlines(), start=1))
    fenced = any(_fence(text) for _, text in lines)
    pieces = list(_fenced_csv(lines)) if fenced or path.suffix.lower() == ".md" else [lines]
    blocks = [block for piece in pieces for block in _blocks_of(piece)]
    if not blocks:
        raise BlockError("no block with a known header")
    return blocks


def _fence(text: str) -> str:
    """The opening or closing mark of a fenced block, or nothing."""
    stripped = text.strip()
    return stripped[:3] if stripped[:3] in ("```", "~~~") else ""


def _fenced_csv(lines: Iterable[tuple[int, str]]) -> Iterable[list[tuple[int, str]]]:
    """The content of every fenced block marked csv; other fences are prose to us."""
    mark, is_csv, content = "", False, []
    for number, text in lines:
        found = _fence(text)
        if not mark and found:
            mark, is_csv, content = found, text.strip().strip(found[0]).strip().lower() == "csv", []
        elif mark and found == mark:
            if is_csv:
                yield content
            mark = ""
        elif mark:
            content.append((number, text))
    if mark:
        raise BlockError("a fenced block is not closed")


def _blocks_of(lines: Sequence[tuple[int, str]]) -> list[Block]:
    """Blocks of one piece; a further header line starts a further block."""
    blocks: list[Block] = []
    header: list[str] = []
    kind, start, rows = "", 0, []
    for number, text in lines:
        if not text.strip() or text.lstrip().startswith("#"):
            continue
        cells = [cell.strip() for cell in next(csv.reader([text.strip()], strict=True))]
        new_kind = _kind(cells)
        if new_kind:
            if kind:
                blocks.append(_closed(kind, start, rows))
            header, kind, start, rows = cells, new_kind, number, []
        elif not kind:
            raise BlockError(f"line {number}: unknown header {text.strip()!r}")
        elif len(cells) != len(header):
            raise BlockError(f"line {number}: {len(cells)} cells under a header of {len(header)}")
        else:
            rows.append(Row(number, dict(zip(header, cells, strict=True))))
    if kind:
        blocks.append(_closed(kind, start, rows))
    return blocks


def _closed(kind: str, line: int, rows: list[Row]) -> Block:
    if not rows:
        raise BlockError(f"line {line}: a {kind} block without a row")
    return Block(kind, line, tuple(rows))


def _kind(cells: Sequence[str]) -> str:
    """The kind of block these cells are the header of, or nothing when they are a row."""
    for kind, required in _REQUIRED.items():
        if set(required) <= set(cells) and len(set(cells)) == len(cells):
            return kind
    return ""

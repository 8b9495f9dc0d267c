"""Compares an adapter's answer with the text a reference row expects."""

import math
import re
from collections.abc import Sequence
from datetime import date, datetime

ROUNDING_NOISE = 1e-12
ZERO_TOLERANCE = 1e-9
REFUSED = "ValueError"


def difference(answer: object, expected: str, rel_tol: float) -> str:
    """What is wrong with `answer`, in words; empty when it matches.

    rel_tol 0 compares exactly (floating-point noise of 1e-12 allowed), otherwise
    abs(answer - expected) <= rel_tol * abs(expected), plus 1e-9 when 0 is expected.
    Lists of dates are written with blanks between, other lists with `|`.
    """
    shown = render(answer)
    matches = _list_matches if _is_list(answer) else _matches
    return "" if matches(answer, expected.strip(), rel_tol) else f"got {shown}, expected {expected}"


def render(answer: object) -> str:
    """An answer as the reference files write it."""
    if isinstance(answer, bool):
        return "true" if answer else "false"
    if isinstance(answer, datetime | date):
        return answer.isoformat()
    if isinstance(answer, list | tuple):
        separator = " " if answer and isinstance(answer[0], date) else "|"
        return separator.join(render(part) for part in answer)
    return str(answer)


def pedigree_tolerance(expected: str) -> float:
    """How far a coefficient may lie from its printed value: half a unit of the last figure, four at least."""
    value = abs(float(expected))
    if value == 0:
        return ZERO_TOLERANCE
    figures = max(4, len(re.sub(r"[eE].*", "", expected).replace(".", "").strip("-+ ").lstrip("0")))
    return 0.5 * 10.0 ** (math.floor(math.log10(value)) - figures + 1) + ZERO_TOLERANCE


def _is_list(answer: object) -> bool:
    return isinstance(answer, list | tuple)


def _list_matches(answer: object, expected: str, rel_tol: float) -> bool:
    if not isinstance(answer, Sequence):
        return False
    parts = re.split(r"\s*\|\s*|\s+", expected) if expected else []
    return len(parts) == len(answer) and all(
        _matches(one, part, rel_tol) for one, part in zip(answer, parts, strict=True)
    )


def _matches(answer: object, expected: str, rel_tol: float) -> bool:
    if isinstance(answer, bool):
        return expected.lower() == render(answer)
    if isinstance(answer, int | float):
        return _number_matches(answer, expected, rel_tol)
    if isinstance(answer, datetime):
        return _moment_matches(answer, expected)
    if isinstance(answer, date):
        return expected == answer.isoformat()
    return isinstance(answer, str) and answer.strip() == expected


def _number_matches(answer: float, expected: str, rel_tol: float) -> bool:
    try:
        wanted = float(expected)
    except ValueError:
        return False
    if not (math.isfinite(answer) and math.isfinite(wanted)):
        return False
    if isinstance(answer, int) and rel_tol == 0 and wanted.is_integer():
        return answer == int(wanted)
    allowed = ZERO_TOLERANCE if wanted == 0 and rel_tol > 0 else max(rel_tol, ROUNDING_NOISE) * abs(wanted)
    return abs(answer - wanted) <= allowed


def _moment_matches(answer: datetime, expected: str) -> bool:
    try:
        return answer == datetime.fromisoformat(expected)
    except ValueError:
        return False

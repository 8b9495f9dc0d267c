"""Advice: what is said beside an action, with its reason and its source. It never refuses a fact."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How loudly advice is said."""

    INFO = "info"  # worth knowing
    NOTICE = "notice"  # look a second time before going on
    WARNING = "warning"  # advised against; say why if it is done all the same


_LOUDEST_FIRST = (Level.WARNING, Level.NOTICE, Level.INFO)


@dataclass(frozen=True)
class Advice:
    """One piece of advice: level, a code that never changes, the reason in words, and its source."""

    level: Level
    code: str
    text: str
    source: str = "common practice, no source"


def loudest_first(advice: Iterable[Advice]) -> tuple[Advice, ...]:
    """The same advice, warnings before notices before information, otherwise in the order given."""
    return tuple(sorted(advice, key=lambda one: _LOUDEST_FIRST.index(one.level)))

"""The shapes evidence takes on its way into the due window: curves, parts, pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from math import ceil
from typing import TypeVar

from litters.domain.day_distribution import Bell
from litters.domain.due_window_result import Contribution, EvidenceFlag
from litters.domain.gestation_evidence import Evidence
from litters.domain.gestation_figures import WINDOW_SHARE

BLOOD, CYTOLOGY, ULTRASOUND, MATINGS = "blood", "cytology", "ultrasound", "matings"

AnyEvidence = TypeVar("AnyEvidence", bound=Evidence)


@dataclass(frozen=True, slots=True)
class Part:
    """One reading inside a piece: its published curve of whelping days, its 90 % window, its text."""

    bell: Bell
    observed_on: date
    earliest_on: date
    latest_on: date
    contribution: Contribution

    def meets(self, other: Part) -> bool:
        """Whether the 90 % windows of two readings have a day in common."""
        return self.earliest_on <= other.latest_on and other.earliest_on <= self.latest_on


@dataclass(frozen=True, slots=True)
class Piece:
    """One independent piece of evidence; `parts` hold the readings that count, best first."""

    name: str
    parts: tuple[Part, ...]


@dataclass(slots=True)
class Gathered:
    """Everything made of the evidence: pieces that count, contributions that do not, and flags."""

    pieces: list[Piece] = field(default_factory=list)
    unused: list[Contribution] = field(default_factory=list)
    flags: list[EvidenceFlag] = field(default_factory=list)


def day_of(instant: float) -> date:
    """The calendar day an instant falls in: a day reaches from half a day before to half a day after."""
    return date.fromordinal(ceil(instant - 0.5))


def shown(
    bell: Bell,
    observed_on: date,
    *,
    key: str,
    piece: str,
    rank: int,
    refs: tuple[str, ...],
    title: str,
    method: str,
    source: str,
    status: str,
    caution: str,
) -> Part:
    """A part with the due day and 90 % window of its own curve filled into its contribution."""
    tail = (1 - WINDOW_SHARE) / 2
    earliest_on, latest_on = day_of(bell.quantile(tail)), day_of(bell.quantile(1 - tail))
    contribution = Contribution(
        key=key,
        piece=piece,
        rank=rank,
        refs=refs,
        title=title,
        is_used=True,
        method=method,
        source=source,
        status=status,
        caution=caution,
        due_on=day_of(bell.peak),
        earliest_on=earliest_on,
        latest_on=latest_on,
        sd_days=round(bell.sd(), 2),
    )
    return Part(bell, observed_on, earliest_on, latest_on, contribution)


def normal(peak: float, sd: float) -> Bell:
    """A normal curve around `peak`."""
    return Bell(peak, sd, sd)


def of_kind(evidence: Sequence[Evidence], kind: type[AnyEvidence]) -> list[AnyEvidence]:
    """The statements of one kind, by date."""
    return sorted((item for item in evidence if isinstance(item, kind)), key=lambda item: item.on)

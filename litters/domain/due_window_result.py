"""What a due window says: plain frozen values, ready to be stored or sent as JSON (dates become text)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class EvidenceFlag:
    """Something about the evidence a person should look at; `refs` are the statements it concerns."""

    key: str
    text: str
    refs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Contribution:
    """One reading of the evidence, what it says alone, and how much of the window it decides.

    piece: the independent source it belongs to; readings of one piece count once.  rank: place in the
    published order, 1 = best.  share: part of the information, 0..1, by the published spreads.
    """

    key: str
    piece: str
    rank: int
    refs: tuple[str, ...]
    title: str
    is_used: bool
    method: str
    source: str
    status: str
    caution: str
    due_on: date | None = None
    earliest_on: date | None = None
    latest_on: date | None = None
    sd_days: float | None = None
    share: float = 0.0
    reason_unused: str = ""


@dataclass(frozen=True, slots=True)
class DayProbability:
    """Probability, 0..1, that whelping falls on one day."""

    on: date
    probability: float


@dataclass(frozen=True, slots=True)
class DueWindow:
    """When whelping is to be expected, how sure that is, and what it rests on.

    earliest_on..latest_on hold 90 %: 5 % lies before and 5 % after.  probability_by_day leaves out days under
    0.01 %.  driver: key of the contribution that decides most.  known_until: the evidence known by the end of
    that day was used (None: all).  is_conflicting: pieces contradict each other, so the window covers both
    answers.
    """

    earliest_on: date
    likeliest_on: date
    latest_on: date
    share_in_window: float
    sd_days: float
    driver: str
    driver_title: str
    contributions: tuple[Contribution, ...]
    flags: tuple[EvidenceFlag, ...]
    is_conflicting: bool
    probability_by_day: tuple[DayProbability, ...]
    known_until: date | None
    method: str
    source: str
    caution: str

    @property
    def width_days(self) -> int:
        """Days from the earliest to the latest day of the window."""
        return (self.latest_on - self.earliest_on).days


class NoUsableEvidence(ValueError):
    """Nothing that is known dates the pregnancy; says what was set aside and why."""

    def __init__(self, contributions: tuple[Contribution, ...], flags: tuple[EvidenceFlag, ...]) -> None:
        super().__init__("no evidence that dates this pregnancy is known yet")
        self.contributions = contributions
        self.flags = flags

"""What a watch rule is and what it says: levels, findings, reasons with their source.

A rule looks at one pup (and its littermates) at one moment and finds something or nothing.  Rules of
published or common origin are always on; rules of ours only add to them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from litters.domain.growth_series import PupView
from litters.domain.watch_limits import Limits

NONE, WATCH, ACT_TODAY, EMERGENCY = "none", "watch", "act_today", "emergency"
LEVELS = (NONE, WATCH, ACT_TODAY, EMERGENCY)
LEVEL_WORDS = {
    NONE: "nothing found",
    WATCH: "keep an eye on",
    ACT_TODAY: "act today",
    EMERGENCY: "emergency: within the hour, call the vet",
}

PUBLISHED, PRACTICE, OURS = "published", "common practice", "ours"
ORIGINS = (PUBLISHED, PRACTICE, OURS)

VERIFIED = "verified in text"
SECONDARY = "verified in a secondary quotation"
MEMORY = "from memory, unverified"
NO_SOURCE = "common practice, no source"
TRIED = "ours, tried on simulated litters only"


@dataclass(frozen=True)
class Finding:
    """What a check found: level, words for a carer, the numbers behind them."""

    level: str
    words: str
    values: Mapping[str, float] = field(default_factory=dict)


Check = Callable[[PupView, Sequence[PupView], Limits], Finding | None]


@dataclass(frozen=True)
class Rule:
    """A watch rule: key, origin (published, common practice, ours), source, how sure, and its check."""

    key: str
    origin: str
    source: str
    status: str
    check: Check

    @property
    def is_published(self) -> bool:
        """Whether the limit was published by somebody else."""
        return self.origin == PUBLISHED

    def reason(self, view: PupView, littermates: Sequence[PupView], limits: Limits) -> Reason | None:
        """The reason for a watch this rule gives, or None."""
        finding = self.check(view, littermates, limits)
        if finding is None:
            return None
        return Reason(
            rule=self.key,
            level=finding.level,
            words=finding.words,
            source=self.source,
            status=self.status,
            origin=self.origin,
            published=self.is_published,
            values=finding.values,
            weight_age_h=view.weight_age_h,
        )


@dataclass(frozen=True)
class Reason:
    """One reason to watch a pup, in words, with rule, source and the numbers it stands on.

    weight_age_h: how old the newest weight is; None when there is none.
    """

    rule: str
    level: str
    words: str
    source: str
    status: str
    origin: str
    published: bool
    values: Mapping[str, float]
    weight_age_h: float | None


def rank(level: str) -> int:
    """The place of a level, 0 for none to 3 for an emergency; ValueError for an unknown one."""
    return LEVELS.index(level)


def highest(levels: Sequence[str]) -> str:
    """The most severe of the levels, none without any."""
    return max(levels, key=rank, default=NONE)


def hours_words(hours: float) -> str:
    """A duration as a carer says it: minutes under an hour, hours to two days, then days."""
    if hours < 1.0:
        return f"{max(0, round(hours * 60))} min"
    return f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.1f} days"


def weight_words(view: PupView) -> str:
    """The newest weight with its age, so that an old weight is never read as today's."""
    if view.last_g is None or view.weight_age_h is None:
        return "No weight on record."
    return f"Last weight {view.last_g:g} g, {hours_words(view.weight_age_h)} old."

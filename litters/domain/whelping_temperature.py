"""The fall of the dam's temperature before whelping, found against her own mean.

Published: the fall reaches a mean of 37.1 C (range 36.7-37.8 C), 8 to 24 h before labour in most bitches
(Merck Veterinary Manual, Whelping and Queening [verified in text]).  The alert, below 37.2 C or 0.6 to 1.0 C
under her own three-day mean, is common practice without a source.  The fall can be brief or missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isfinite

from litters.domain.gestation_figures import COMMON_PRACTICE, MERCK_WHELPING
from litters.domain.labour_log import require_offset

LOWEST_POSSIBLE_C = 30.0
HIGHEST_POSSIBLE_C = 43.0
NEVER_REASSURING = "No fall seen is never reassurance: it can be brief or missed."


@dataclass(frozen=True, slots=True)
class TemperatureReading:
    """One rectal temperature of the dam.

    Raises ValueError outside 30..43 C or for an instant without offset.
    """

    at: datetime
    temperature_c: float

    def __post_init__(self) -> None:
        require_offset(self.at)
        if not isfinite(self.temperature_c) or not (
            LOWEST_POSSIBLE_C <= self.temperature_c <= HIGHEST_POSSIBLE_C
        ):
            raise ValueError(
                f"a dam's temperature lies between {LOWEST_POSSIBLE_C:g} and {HIGHEST_POSSIBLE_C:g} C"
            )


@dataclass(frozen=True, slots=True)
class FallRule:
    """When a reading counts as the fall; every figure may be replaced by what the vet says.

    below_c: this low is a fall by itself.  possible_drop_c, clear_drop_c: this far under her own mean.
    """

    below_c: float = 37.2
    possible_drop_c: float = 0.6
    clear_drop_c: float = 1.0
    mean_over: timedelta = timedelta(hours=72)
    fewest_readings: int = 3
    longest_gap: timedelta = timedelta(hours=14)


@dataclass(frozen=True, slots=True)
class FallFound:
    """A fall: the first reading that shows it, how clear it is, and when labour is likely.

    own_mean_c is None with too few readings.  recovered_at: the first later reading that no longer shows it.
    """

    at: datetime
    temperature_c: float
    own_mean_c: float | None
    is_clear: bool
    reason: str
    labour_likely_from_at: datetime
    labour_likely_until_at: datetime
    recovered_at: datetime | None


@dataclass(frozen=True, slots=True)
class FallReport:
    """What the temperatures say: falls by time, gaps in the rounds, and the words that go with them."""

    falls: tuple[FallFound, ...]
    own_mean_c: float | None
    gaps: tuple[str, ...]
    method: str
    source: str
    caution: str


PUBLISHED_FALL_RULE = FallRule()


def temperature_falls(
    readings: Sequence[TemperatureReading], rule: FallRule = PUBLISHED_FALL_RULE
) -> FallReport:
    """The falls among a dam's readings before whelping, each against her mean of the three days before.

    Readings may come in any order.  A low reading never lowers the mean the next one is held against.
    """
    ordered = sorted(readings, key=lambda reading: reading.at)
    falls: list[FallFound] = []
    usual: list[TemperatureReading] = []
    is_low = False
    for reading in ordered:
        mean_c = _mean(usual, reading.at, rule)
        reason, is_clear = _judge(reading.temperature_c, mean_c, rule)
        if not reason:
            usual.append(reading)
            if is_low:
                falls[-1] = replace(falls[-1], recovered_at=reading.at)
        elif not is_low:
            falls.append(_fall(reading, mean_c, reason, is_clear))
        elif is_clear and not falls[-1].is_clear:
            falls[-1] = replace(falls[-1], is_clear=True, reason=f"{falls[-1].reason}; then {reason}")
        is_low = bool(reason)
    latest_mean = _mean(usual, ordered[-1].at + timedelta(seconds=1), rule) if ordered else None
    return FallReport(
        falls=tuple(falls),
        own_mean_c=latest_mean,
        gaps=tuple(_gaps(ordered, rule)),
        method=(
            f"below {rule.below_c:g} C, or {rule.possible_drop_c:g} C (clear: {rule.clear_drop_c:g} C) under "
            f"her own mean of the last {rule.mean_over.total_seconds() / 3600:g} h"
        ),
        source=f"alert: {COMMON_PRACTICE}; lead time: {MERCK_WHELPING}",
        caution=NEVER_REASSURING,
    )


def _mean(usual: Sequence[TemperatureReading], at: datetime, rule: FallRule) -> float | None:
    recent = [reading.temperature_c for reading in usual if at - rule.mean_over <= reading.at < at]
    if len(recent) < rule.fewest_readings:
        return None
    return sum(recent) / len(recent)


def _judge(temperature_c: float, mean_c: float | None, rule: FallRule) -> tuple[str, bool]:
    """The reason a reading counts as a fall ("" if it does not) and whether it is a clear one."""
    # Thermometers show tenths; comparing hundredths keeps 38.2 - 37.6 from falling short of 0.6.
    drop_c = 0.0 if mean_c is None else round(mean_c - temperature_c, 2)
    is_cold = temperature_c < rule.below_c
    if not is_cold and drop_c < rule.possible_drop_c:
        return "", False
    words = []
    if is_cold:
        words.append(f"{temperature_c:.1f} C is below {rule.below_c:g} C")
    if mean_c is not None and drop_c >= rule.possible_drop_c:
        words.append(f"{drop_c:.1f} C under her own mean of {mean_c:.1f} C")
    return " and ".join(words), is_cold or drop_c >= rule.clear_drop_c


def _fall(reading: TemperatureReading, mean_c: float | None, reason: str, is_clear: bool) -> FallFound:
    return FallFound(
        at=reading.at,
        temperature_c=reading.temperature_c,
        own_mean_c=mean_c,
        is_clear=is_clear,
        reason=reason,
        labour_likely_from_at=reading.at + timedelta(hours=8),
        labour_likely_until_at=reading.at + timedelta(hours=24),
        recovered_at=None,
    )


def _gaps(ordered: Sequence[TemperatureReading], rule: FallRule) -> list[str]:
    found = []
    for index in range(1, len(ordered)):
        gap = ordered[index].at - ordered[index - 1].at
        if gap > rule.longest_gap:
            hours = gap.total_seconds() / 3600
            found.append(
                f"{hours:.0f} h without a reading before {ordered[index].at.isoformat()}: "
                "a brief fall may have been missed"
            )
    return found

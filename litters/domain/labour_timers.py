"""The timers of labour: since when each sign has been there, read from the log.

A timer starts again at the birth of a pup where the sign is "no pup", and after a vet has seen the dam,
because the vet's word then stands in place of the count.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from litters.domain.calendar_days import checked_day
from litters.domain.labour_limits import FlagKey
from litters.domain.labour_log import (
    DischargeColour,
    EntryKind,
    LabourLog,
    Straining,
    StrainingStrength,
    joined,
)

SHORT_PAUSE = timedelta(minutes=10)
"""A rest shorter than this does not start the straining timer again [common practice, no source]."""
STILL_ACTIVE = timedelta(hours=4)
"""Labour counts as active this long after the last straining or birth, the published longest rest."""
PLACENTAL_COLOURS = (DischargeColour.GREEN, DischargeColour.DARK)
AT_ONCE_KINDS = {
    EntryKind.PUP_STUCK: FlagKey.PUP_STUCK,
    EntryKind.FETAL_HEART_SLOW: FlagKey.FETAL_HEART_SLOW,
    EntryKind.COLLAPSE: FlagKey.COLLAPSE,
    EntryKind.FRESH_BLEEDING: FlagKey.FRESH_BLEEDING,
    EntryKind.FOUL_SMELL: FlagKey.FOUL_SMELL,
}


@dataclass(frozen=True, slots=True)
class Pregnancy:
    """What is known of the dam before labour; every field may be missing.

    expected_pups: the count and how it was made ("X-ray", "ultrasound").  window_latest_on: end of the due
    window.
    """

    expected_pups: int | None = None
    expected_by: str = ""
    first_mating_on: date | None = None
    last_mating_on: date | None = None
    lh_surge_on: date | None = None
    window_latest_on: date | None = None

    def __post_init__(self) -> None:
        if self.expected_pups is not None and self.expected_pups < 0:
            raise ValueError("the expected number of pups cannot be negative")
        for name in ("first_mating_on", "last_mating_on", "lh_surge_on", "window_latest_on"):
            if getattr(self, name) is not None:
                checked_day(getattr(self, name), name)


@dataclass(frozen=True, slots=True)
class Timer:
    """How long one sign has been there, in the unit of its limit.

    counts_from_at: the begin of the count that still runs and may reach a limit without a new entry; None
    when nothing runs.  may_advise, may_go: whether the rule's own condition for that level holds now.
    holds_until_at: when the sign lapses if nothing new is written down.
    """

    key: FlagKey
    since_at: datetime | None
    elapsed: float
    counts_from_at: datetime | None
    words: str
    may_advise: bool = True
    may_go: bool = True
    holds_until_at: datetime | None = None


def timers(log: LabourLog, pregnancy: Pregnancy) -> list[Timer]:
    """Every timer that applies to the log at its instant."""
    if log.is_finished:
        return []
    found = [
        _strong_straining(log),
        _any_straining(log),
        _green_discharge(log),
        _gap(log, pregnancy),
        _stage_one(log),
        _after_fall(log),
        _active_labour(log, pregnancy),
    ]
    return [timer for timer in found if timer is not None]


def overdue_timers(log: LabourLog, pregnancy: Pregnancy, today: date) -> list[Timer]:
    """Days past mating, LH surge or window, as long as no pup has been born."""
    if log.births or log.is_finished:
        return []
    anchors = (
        (FlagKey.OVERDUE_FIRST_MATING, pregnancy.first_mating_on, "since the first mating"),
        (FlagKey.OVERDUE_LAST_MATING, pregnancy.last_mating_on, "since the last mating"),
        (FlagKey.OVERDUE_LH, pregnancy.lh_surge_on, "since the LH surge"),
        (FlagKey.OVERDUE_WINDOW, pregnancy.window_latest_on, "past the end of her due window"),
    )
    return [
        Timer(key, None, float((today - on).days), None, f"{(today - on).days} days {words}")
        for key, on, words in anchors
        if on is not None
    ]


def at_once_signs(log: LabourLog) -> list[tuple[FlagKey, datetime]]:
    """The signs that mean go now, each with its newest instant, unless a vet has seen her since."""
    seen_at = log.last_at(EntryKind.VET_SEEN)
    found: dict[FlagKey, datetime] = {}
    for entry in log.entries:
        key = AT_ONCE_KINDS.get(entry.kind)
        if entry.kind == EntryKind.DISCHARGE_SEEN and entry.colour == DischargeColour.FRESH_RED:
            key = FlagKey.FRESH_BLEEDING
        if key is not None and (seen_at is None or entry.at > seen_at):
            found[key] = entry.at
        if entry.kind == EntryKind.PUP_BORN:
            # The pup that was stuck has come.
            found.pop(FlagKey.PUP_STUCK, None)
    return list(found.items())


def more_expected(log: LabourLog, pregnancy: Pregnancy) -> bool | None:
    """Whether more pups are to come: None when nobody counted them."""
    if pregnancy.expected_pups is None:
        return None
    return len(log.births) < pregnancy.expected_pups


def minutes_between(earlier: datetime, later: datetime) -> float:
    """Minutes from one instant to another."""
    return (later - earlier).total_seconds() / 60


def span_words(minutes: float) -> str:
    """A span as a carer says it: "25 min", "2 h", "2 h 40 min"."""
    whole = int(minutes)
    if whole < 60:
        return f"{whole} min"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _reset_at(log: LabourLog) -> datetime | None:
    return log.last_at(EntryKind.PUP_BORN, EntryKind.VET_SEEN)


def _spells_since(log: LabourLog, moment: datetime | None) -> list[Straining]:
    """The spells that reach past `moment`, cut at it."""
    if moment is None:
        return list(log.spells)
    reaching = [spell for spell in log.spells if spell.ended_at is None or spell.ended_at > moment]
    return [Straining(spell.strength, max(spell.began_at, moment), spell.ended_at) for spell in reaching]


def _strong_straining(log: LabourLog) -> Timer | None:
    strong = [
        spell for spell in _spells_since(log, _reset_at(log)) if spell.strength == StrainingStrength.STRONG
    ]
    spells = joined(strong, SHORT_PAUSE)
    if not spells:
        return None
    # A long spell without a pup stays a sign after the straining stops: tiring is not progress.
    longest = max(spells, key=lambda spell: spell.minutes(log.at))
    minutes = longest.minutes(log.at)
    if longest.ended_at is None:
        words = f"strong straining for {span_words(minutes)} and no pup"
    else:
        words = f"strong straining for {span_words(minutes)} without a pup, then it stopped"
    runs_from_at = spells[-1].began_at if spells[-1].ended_at is None else None
    return Timer(FlagKey.STRONG_STRAINING, longest.began_at, minutes, runs_from_at, words)


def _any_straining(log: LabourLog) -> Timer | None:
    spells = _spells_since(log, _reset_at(log))
    if not spells:
        return None
    minutes = minutes_between(spells[0].began_at, log.at)
    words = f"straining on and off for {span_words(minutes)} and no pup"
    return Timer(FlagKey.WEAK_STRAINING, spells[0].began_at, minutes, spells[0].began_at, words)


def _green_discharge(log: LabourLog) -> Timer | None:
    if log.births:
        return None
    seen_at = log.last_at(EntryKind.VET_SEEN)
    green = [entry.at for entry in log.all_of(EntryKind.DISCHARGE_SEEN) if entry.colour in PLACENTAL_COLOURS]
    if not green:
        return None
    since_at = green[0] if seen_at is None else max(green[0], seen_at)
    minutes = minutes_between(since_at, log.at)
    words = f"green or dark discharge {span_words(minutes)} ago and no pup yet"
    return Timer(FlagKey.GREEN_DISCHARGE, since_at, minutes, since_at, words)


def _gap(log: LabourLog, pregnancy: Pregnancy) -> Timer | None:
    expected = more_expected(log, pregnancy)
    if not log.births or expected is False:
        return None
    last_birth_at = log.births[-1].at
    since_at = max(last_birth_at, log.last_at(EntryKind.VET_SEEN) or last_birth_at)
    minutes = minutes_between(since_at, log.at)
    worried_at = log.last_at(EntryKind.WORRY)
    is_worrying = bool(_spells_since(log, since_at)) or (worried_at is not None and worried_at > since_at)
    more = "more expected" if expected else "nobody knows whether more are to come"
    words = f"{span_words(minutes_between(last_birth_at, log.at))} since the last pup, {more}"
    # Nobody counted the pups: without straining or worry a long rest may be the end, so it asks for advice
    # only.
    return Timer(
        FlagKey.GAP_SINCE_PUP,
        since_at,
        minutes,
        since_at,
        words,
        may_advise=is_worrying,
        may_go=is_worrying or expected is True,
    )


def _stage_one(log: LabourLog) -> Timer | None:
    begins = log.all_of(EntryKind.STAGE_ONE_BEGAN)
    if not begins or log.births or log.spells:
        return None
    since_at = max(begins[0].at, log.last_at(EntryKind.VET_SEEN) or begins[0].at)
    minutes = minutes_between(since_at, log.at)
    words = f"restless for {span_words(minutes)} without straining"
    return Timer(FlagKey.STAGE_ONE_LONG, since_at, minutes, since_at, words)


def _after_fall(log: LabourLog) -> Timer | None:
    falls = log.all_of(EntryKind.TEMPERATURE_FELL)
    if not falls or log.births or log.spells or log.all_of(EntryKind.STAGE_ONE_BEGAN):
        return None
    since_at = max(falls[0].at, log.last_at(EntryKind.VET_SEEN) or falls[0].at)
    minutes = minutes_between(since_at, log.at)
    has_recovered = log.last_at(EntryKind.TEMPERATURE_RECOVERED) is not None
    verb = "fell and recovered" if has_recovered else "fell"
    words = f"temperature {verb}, first low {span_words(minutes)} ago, no labour"
    return Timer(FlagKey.NO_LABOUR_AFTER_FALL, since_at, minutes, since_at, words)


def _active_labour(log: LabourLog, pregnancy: Pregnancy) -> Timer | None:
    if more_expected(log, pregnancy) is False:
        return None
    begins = [spell.began_at for spell in log.spells[:1]] + [entry.at for entry in log.births[:1]]
    if not begins:
        return None
    lapses_at = _rest_ends_at(log)
    if lapses_at is not None and log.at >= lapses_at:
        return None
    minutes = minutes_between(min(begins), log.at)
    words = f"active labour for {span_words(minutes)}: stillbirths climb after about 6 h"
    return Timer(
        FlagKey.ACTIVE_LABOUR_LONG, min(begins), minutes, min(begins), words, holds_until_at=lapses_at
    )


def _rest_ends_at(log: LabourLog) -> datetime | None:
    """When labour that has brought a pup and now rests is no longer active: then the gap speaks.

    None while she strains, and before the first pup, where nothing else would take over.
    """
    if log.running is not None or not log.births:
        return None
    efforts = [spell.ended_at for spell in log.spells if spell.ended_at is not None]
    return max(log.births[-1].at, *efforts) + STILL_ACTIVE if efforts else log.births[-1].at + STILL_ACTIVE

"""Flags of labour in two levels, and when the next one will come, from the whelping log at one instant.

Times follow `labour_limits`.  Two different signs at once mean go now.  Nothing here reads a clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from litters.domain.gestation_figures import QUOTED
from litters.domain.labour_limits import (
    AT_ONCE_SOURCE,
    PUBLISHED,
    PUBLISHED_LIMITS,
    FlagKey,
    Level,
    Limit,
    VetAgreedLimit,
    limits_with,
)
from litters.domain.labour_log import EntryKind, LabourEntry, LabourLog, Straining, read_log
from litters.domain.labour_timers import (
    Pregnancy,
    Timer,
    at_once_signs,
    minutes_between,
    more_expected,
    overdue_timers,
    span_words,
    timers,
)

FINISHED = "finished"
SECOND_SIGN = "a second sign has joined"
NEVER_INJECT = (
    "Never give oxytocin or calcium unless the vet tells you to now: "
    "a womb with a pup blocked in it can tear."
)
CAUTIONS: Mapping[FlagKey, str] = {
    FlagKey.STRONG_STRAINING: NEVER_INJECT,
    FlagKey.WEAK_STRAINING: NEVER_INJECT,
    FlagKey.GREEN_DISCHARGE: "Green before the first pup means a placenta is coming away.",
    FlagKey.GAP_SINCE_PUP: f"A count of pups is an estimate. {NEVER_INJECT}",
    FlagKey.STAGE_ONE_LONG: "Stage I usually takes 6-12 h, sometimes up to 24 h.",
    FlagKey.NO_LABOUR_AFTER_FALL: "Labour usually begins 8-24 h after the fall.",
    FlagKey.ACTIVE_LABOUR_LONG: NEVER_INJECT,
    FlagKey.PUP_STUCK: "Do not pull against her; ring while you get ready to go.",
}
URGENCY = (
    FlagKey.COLLAPSE,
    FlagKey.FRESH_BLEEDING,
    FlagKey.PUP_STUCK,
    FlagKey.FETAL_HEART_SLOW,
    FlagKey.FOUL_SMELL,
    FlagKey.STRONG_STRAINING,
    FlagKey.GREEN_DISCHARGE,
    FlagKey.GAP_SINCE_PUP,
    FlagKey.WEAK_STRAINING,
    FlagKey.ACTIVE_LABOUR_LONG,
    FlagKey.STAGE_ONE_LONG,
    FlagKey.NO_LABOUR_AFTER_FALL,
    FlagKey.OVERDUE_LAST_MATING,
    FlagKey.OVERDUE_FIRST_MATING,
    FlagKey.OVERDUE_LH,
    FlagKey.OVERDUE_WINDOW,
)
"""Order in which flags of one level are shown and said."""
OVERDUE_CAUTION = "A fetus kept more than about 2 days past its due day outgrows its placenta."
AT_ONCE_WORDS: Mapping[FlagKey, str] = {
    FlagKey.PUP_STUCK: "a pup is stuck in the canal",
    FlagKey.FETAL_HEART_SLOW: "a fetal heart is slow",
    FlagKey.COLLAPSE: "the dam has collapsed",
    FlagKey.FRESH_BLEEDING: "fresh red bleeding",
    FlagKey.FOUL_SMELL: "foul smell",
}
OVERDUE_KEYS = frozenset(
    {
        FlagKey.OVERDUE_FIRST_MATING,
        FlagKey.OVERDUE_LAST_MATING,
        FlagKey.OVERDUE_LH,
        FlagKey.OVERDUE_WINDOW,
    }
)
GENERAL_CAUTION = (
    "The published limits disagree and none replaces a vet. "
    "If you are worried, ring; you need no flag to ring."
)


@dataclass(frozen=True, slots=True)
class LabourFlag:
    """One sign that asks for the vet: the level, the reason in words, and the figure behind it."""

    key: FlagKey
    level: Level
    reason: str
    since_at: datetime | None
    limit_after: float | None
    limit_unit: str
    limit_set_by: str
    source: str
    status: str
    caution: str


@dataclass(frozen=True, slots=True)
class Deadline:
    """The instant at which a sign will reach a level if nothing new is written down.

    Ask for a new report then: a second sign may have raised the level meanwhile.
    """

    key: FlagKey
    level: Level
    due_at: datetime


@dataclass(frozen=True, slots=True)
class LabourReport:
    """The state of labour at one instant.

    level: the highest of the flags, None without any.  deadlines: what the timers will reach next, by time.
    """

    at: datetime
    level: Level | None
    flags: tuple[LabourFlag, ...]
    stage: str
    born: int
    born_alive: int
    still_expected: int | None
    minutes_since_last_pup: float | None
    straining: Straining | None
    placentas: int
    placenta_hint: str
    deadlines: tuple[Deadline, ...]
    caution: str


def labour_report(
    entries: Sequence[LabourEntry],
    at: datetime,
    *,
    pregnancy: Pregnancy | None = None,
    agreed: Sequence[VetAgreedLimit] = (),
    today: date | None = None,
) -> LabourReport:
    """The flags, deadlines and counts of labour at an instant.

    at: with its offset; entries after it are left out.  agreed: limits a vet agreed with the kennel.  today:
    the kennel's calendar day, for an overdue dam; left out, the day of `at` in its own offset.
    Raises ValueError for an instant without offset or a limit that is not valid.
    """
    log = read_log(entries, at)
    known = pregnancy or Pregnancy()
    limits = limits_with(agreed)
    running = timers(log, known)
    found = [*running, *overdue_timers(log, known, today or at.date())]
    flags = [flag for timer in found if (flag := _flag(timer, limits[timer.key])) is not None]
    flags = _joined_by_second_sign([*flags, *_at_once(log)])
    flags.sort(key=lambda flag: (flag.level != Level.GO_NOW, URGENCY.index(flag.key)))
    return LabourReport(
        at=at,
        level=flags[0].level if flags else None,
        flags=tuple(flags),
        stage=_stage(log),
        born=len(log.births),
        born_alive=sum(entry.is_alive for entry in log.births),
        still_expected=_still_expected(log, known),
        minutes_since_last_pup=minutes_between(log.births[-1].at, at) if log.births else None,
        straining=log.running,
        placentas=len(log.all_of(EntryKind.PLACENTA_PASSED)),
        placenta_hint=placenta_hint(len(log.births), len(log.all_of(EntryKind.PLACENTA_PASSED))),
        deadlines=tuple(sorted(_deadlines(running, limits, at), key=lambda deadline: deadline.due_at)),
        caution=GENERAL_CAUTION,
    )


def placenta_hint(born: int, placentas: int) -> str:
    """What the count of placentas says, in words; never a flag, because the dam often eats them.

    Source: Louisiana State University theriogenology notes [verified in text].  Raises ValueError below zero.
    """
    if born < 0 or placentas < 0:
        raise ValueError("counts cannot be negative")
    counts = f"Placentas seen: {placentas}, pups born: {born}"
    if placentas >= born:
        return f"{counts}."
    return (
        f"{counts}: only a hint, the dam often eats them. "
        "Green-black discharge beyond 24 h is the sign to ring about."
    )


def _flag(timer: Timer, limit: Limit) -> LabourFlag | None:
    level, reached = _level(timer, limit)
    if level is None:
        return None
    return LabourFlag(
        key=timer.key,
        level=level,
        reason=timer.words,
        since_at=timer.since_at,
        limit_after=reached,
        limit_unit=limit.unit,
        limit_set_by=limit.set_by,
        source=limit.source,
        status=limit.status,
        caution=OVERDUE_CAUTION if timer.key in OVERDUE_KEYS else CAUTIONS.get(timer.key, ""),
    )


def _level(timer: Timer, limit: Limit) -> tuple[Level | None, float | None]:
    go_now, advice = limit.go_now_after, limit.advice_after
    if go_now is not None and _reached(timer, limit, go_now):
        return (Level.GO_NOW if timer.may_go else Level.ADVICE), go_now
    if advice is not None and timer.may_advise and _reached(timer, limit, advice):
        return Level.ADVICE, advice
    return None, None


def _reached(timer: Timer, limit: Limit, after: float) -> bool:
    # "More than 70 days" begins on day 71; minutes count as soon as they are full.
    return timer.elapsed > after if limit.unit == "d" else timer.elapsed >= after


def _joined_by_second_sign(flags: Iterable[LabourFlag]) -> list[LabourFlag]:
    listed = list(flags)
    # Being overdue is one sign, however many dates say so.
    signs = {"overdue" if flag.key in OVERDUE_KEYS else flag.key.value for flag in listed}
    if len(signs) < 2:
        return listed
    return [
        flag
        if flag.level == Level.GO_NOW
        else replace(flag, level=Level.GO_NOW, reason=f"{flag.reason}; {SECOND_SIGN}")
        for flag in listed
    ]


def _at_once(log: LabourLog) -> list[LabourFlag]:
    return [
        LabourFlag(
            key=key,
            level=Level.GO_NOW,
            reason=AT_ONCE_WORDS[key],
            since_at=since_at,
            limit_after=0,
            limit_unit="min",
            limit_set_by=PUBLISHED,
            source=AT_ONCE_SOURCE,
            status=QUOTED,
            caution=CAUTIONS.get(key, "Ring while you get ready to go."),
        )
        for key, since_at in at_once_signs(log)
    ]


def _deadlines(running: Iterable[Timer], limits: Mapping[FlagKey, Limit], at: datetime) -> list[Deadline]:
    found = []
    for timer in running:
        if timer.counts_from_at is None:
            continue
        limit = limits[timer.key]
        go_level = Level.GO_NOW if timer.may_go else Level.ADVICE
        steps = [(limit.go_now_after, go_level)]
        if timer.may_advise:
            steps.append((limit.advice_after, Level.ADVICE))
        for after, level in steps:
            if after is None:
                continue
            due_at = timer.counts_from_at + timedelta(minutes=after)
            if due_at > at and (timer.holds_until_at is None or due_at < timer.holds_until_at):
                found.append(Deadline(timer.key, level, due_at))
    return found


def _stage(log: LabourLog) -> str:
    if log.is_finished:
        return FINISHED
    if log.births or log.spells:
        return "stage II and III"
    return "stage I" if log.all_of(EntryKind.STAGE_ONE_BEGAN) else "not in labour"


def _still_expected(log: LabourLog, pregnancy: Pregnancy) -> int | None:
    if more_expected(log, pregnancy) is None or pregnancy.expected_pups is None:
        return None
    return max(pregnancy.expected_pups - len(log.births), 0)


__all__ = [
    "FINISHED",
    "PUBLISHED_LIMITS",
    "Deadline",
    "LabourFlag",
    "LabourReport",
    "labour_report",
    "placenta_hint",
    "span_words",
]

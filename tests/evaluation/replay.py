"""Runs watch rules over simulated litters round by round and counts what they would have told the carers.

How it is counted
* After every weighing round each living pup is judged on what was known by then, nothing later.
* A failing pup is found when an alarm is on between the beginning of its trouble and its death.  Lead is
  counted from that alarm, or from the beginning of the trouble if the alarm was on before; not found = no
  lead.
* A false alarm is a new alarm (off at the last round, on at this one) on a pup that lives, or on a pup that
  fails later but has switched off again before its trouble begins.  Pups in a bad spell that they survive
  count as false alarms too, and are also counted apart, since a carer would want to know of them.
* Litter-weeks run from the first birth to the last round at which a pup lives.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from litters.domain.growth_series import PupRecord, PupView, Weighing
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import Rule, rank
from tests.evaluation.simulator import SimulatedLitter, SimulatedPup

FIRST_BIRTH_AT = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
AFTER_THE_BIRTHS_H = 7.0
HOURS_PER_WEEK = 168.0


@dataclass(frozen=True)
class Judgement:
    """What the rules said of one pup at one round: level by rule key."""

    at_h: float
    levels: dict[str, int]


@dataclass(frozen=True)
class PupStory:
    """A simulated pup with the judgements of its life."""

    pup: SimulatedPup
    judgements: tuple[Judgement, ...]


@dataclass(frozen=True)
class Replay:
    """Everything that was judged, and how long it was watched."""

    stories: tuple[PupStory, ...]
    litter_weeks: float


@dataclass(frozen=True)
class Score:
    """What a set of rules achieves: counts over failing pups, false alarms per litter-week, hours of lead."""

    failing: int
    found: int
    false_alarms: int
    false_in_bad_spell: int
    litter_weeks: float
    lead_h: tuple[float, ...]

    @property
    def sensitivity(self) -> float:
        """Share of failing pups found."""
        return self.found / self.failing if self.failing else 0.0

    @property
    def false_per_litter_week(self) -> float:
        """False alarms per litter and week."""
        return self.false_alarms / self.litter_weeks if self.litter_weeks else 0.0

    @property
    def mean_lead_h(self) -> float:
        """Mean lead over all failing pups, 0 for the ones not found."""
        return statistics.fmean(self.lead_h) if self.lead_h else 0.0

    @property
    def median_lead_h(self) -> float:
        """Median lead of the pups that were found."""
        found = [lead for lead in self.lead_h if lead > 0]
        return statistics.median(found) if found else 0.0


def pup_records(litter: SimulatedLitter, with_limits: bool) -> list[PupRecord]:
    """The litter as the product knows it; with_limits: the kennel set its breed's birth-weight limits."""
    return [
        PupRecord(
            pup=pup.name,
            born_at=_instant(pup.born_h),
            weighings=tuple(
                Weighing(_instant(reading.at_h), reading.weight_g, reading.is_birth_weight)
                for reading in pup.readings
            ),
            low_below_g=litter.breed.low_below_g if with_limits else None,
            very_low_below_g=litter.breed.very_low_below_g if with_limits else None,
        )
        for pup in litter.pups
    ]


def _instant(litter_h: float) -> datetime:
    return FIRST_BIRTH_AT + timedelta(hours=litter_h)


def replay(
    litters: Iterable[SimulatedLitter],
    rules: Sequence[Rule],
    limits: Limits | None = None,
    with_limits: bool = False,
) -> Replay:
    """Judge every pup of every litter after every round by every rule."""
    settings = limits or Limits()
    stories: list[PupStory] = []
    hours = 0.0
    for litter in litters:
        records = pup_records(litter, with_limits)
        judgements: list[list[Judgement]] = [[] for _ in records]
        last_h = 0.0
        for at_h in (AFTER_THE_BIRTHS_H, *litter.rounds_h):
            at = _instant(at_h)
            views = [PupView(record, at) for record in records]
            for index, pup in enumerate(litter.pups):
                if pup.died_h is not None and pup.died_h <= at_h:
                    continue
                last_h = at_h
                judgements[index].append(_judge(views, index, at_h, rules, settings))
        hours += last_h
        stories.extend(
            PupStory(pup, tuple(judged)) for pup, judged in zip(litter.pups, judgements, strict=True)
        )
    return Replay(tuple(stories), hours / HOURS_PER_WEEK)


def _judge(
    views: Sequence[PupView], index: int, at_h: float, rules: Sequence[Rule], limits: Limits
) -> Judgement:
    littermates = [view for other, view in enumerate(views) if other != index]
    levels = {}
    for rule in rules:
        finding = rule.check(views[index], littermates, limits)
        if finding is not None:
            levels[rule.key] = rank(finding.level)
    return Judgement(at_h, levels)


def score(run: Replay, is_alarm: Callable[[Judgement], bool]) -> Score:
    """What the replay yields when those judgements count as alarms."""
    failing = found = false_alarms = in_bad_spell = 0
    leads: list[float] = []
    for story in run.stories:
        pup = story.pup
        trouble_h = pup.trouble_h if pup.fails and pup.trouble_h is not None else None
        lead, false_starts = _lead_and_false_starts(story, is_alarm, trouble_h)
        false_alarms += false_starts
        if pup.cause == "setback":
            in_bad_spell += false_starts
        if trouble_h is not None:
            failing += 1
            found += lead > 0
            leads.append(lead)
    return Score(failing, found, false_alarms, in_bad_spell, run.litter_weeks, tuple(leads))


def _lead_and_false_starts(
    story: PupStory, is_alarm: Callable[[Judgement], bool], trouble_h: float | None
) -> tuple[float, int]:
    """Hours from the alarm to death (0 when none), and alarms that turn out to mean nothing."""
    started_h: float | None = None
    false_starts = 0
    for judgement in story.judgements:
        on = is_alarm(judgement)
        if on and started_h is None:
            started_h = judgement.at_h
        elif not on and started_h is not None:
            if trouble_h is None or judgement.at_h <= trouble_h:
                false_starts += 1
                started_h = None
            else:
                break
        if on and trouble_h is not None and judgement.at_h >= trouble_h:
            break
    if trouble_h is None:
        return 0.0, false_starts + (started_h is not None)
    died_h = story.pup.died_h
    if started_h is None or died_h is None:
        return 0.0, false_starts
    return died_h - max(started_h, trouble_h), false_starts


def any_of(keys: Iterable[str], level: str) -> Callable[[Judgement], bool]:
    """An alarm when one of those rules is at that level or above."""
    wanted, least = frozenset(keys), rank(level)
    return lambda judgement: any(found >= least for key, found in judgement.levels.items() if key in wanted)

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
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from litters.domain.growth_series import PupRecord, PupView, Weighing
from litters.domain.our_rules import OUR_RULES
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import Rule, rank
from litters.domain.weight_rules import WEIGHT_RULES, is_slow
from tests.evaluation.simulator import SimulatedLitter, SimulatedPup

FIRST_BIRTH_AT = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
AFTER_THE_BIRTHS_H = 7.0
HOURS_PER_WEEK = 168.0

# A missing weighing is the carers' to see to; it says nothing about the pup.
PUBLISHED_RULES = tuple(rule for rule in WEIGHT_RULES if rule.key != "weighing_missing")
OURS = OUR_RULES[0]

Scorer = Callable[[PupView, Sequence[PupView]], float]


@dataclass(frozen=True)
class Judgement:
    """What was said of one pup at one round.

    levels: rank by rule key.  scores: numbers by name, the higher the worse, of anything that needs a
    threshold.
    """

    at_h: float
    levels: Mapping[str, int]
    scores: Mapping[str, float]
    is_slow: bool | None


Alarm = Callable[[Judgement], bool]


@dataclass(frozen=True)
class PupStory:
    """A simulated pup with the judgements of its life."""

    pup: SimulatedPup
    judgements: tuple[Judgement, ...]


@dataclass(frozen=True)
class Replay:
    """Everything that was judged, and how long it was watched."""

    litters: tuple[tuple[SimulatedLitter, tuple[PupStory, ...]], ...]
    litter_weeks: float

    @property
    def stories(self) -> list[PupStory]:
        """The stories of all pups."""
        return [story for _, stories in self.litters for story in stories]


@dataclass(frozen=True)
class Score:
    """What an alarm achieves: false alarms, and cause and hours of lead of every failing pup."""

    false_alarms: int
    false_in_bad_spell: int
    litter_weeks: float
    causes: tuple[str, ...]
    lead_h: tuple[float, ...]

    @property
    def failing(self) -> int:
        """Failing pups."""
        return len(self.lead_h)

    @property
    def found(self) -> int:
        """Failing pups found before they died."""
        return sum(lead > 0 for lead in self.lead_h)

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


def instant(litter_h: float) -> datetime:
    """The moment of a litter hour."""
    return FIRST_BIRTH_AT + timedelta(hours=litter_h)


def pup_records(litter: SimulatedLitter, with_limits: bool = False) -> list[PupRecord]:
    """The litter as the product knows it; with_limits: the kennel set its breed's birth-weight limits."""
    return [
        PupRecord(
            pup=pup.name,
            born_at=instant(pup.born_h),
            weighings=tuple(
                Weighing(instant(reading.at_h), reading.weight_g, reading.is_birth_weight)
                for reading in pup.readings
            ),
            low_below_g=litter.breed.low_below_g if with_limits else None,
            very_low_below_g=litter.breed.very_low_below_g if with_limits else None,
        )
        for pup in litter.pups
    ]


def replay(
    litters: Iterable[SimulatedLitter],
    rules: Sequence[Rule] = PUBLISHED_RULES,
    scorers: Mapping[str, Scorer] | None = None,
    limits: Limits | None = None,
    with_limits: bool = False,
) -> Replay:
    """Judge every pup of every litter after every round by every rule, by ours and by every scorer."""
    settings = limits or Limits()
    judged = []
    hours = 0.0
    for litter in litters:
        records = pup_records(litter, with_limits)
        judgements: list[list[Judgement]] = [[] for _ in records]
        last_h = 0.0
        for at_h in (AFTER_THE_BIRTHS_H, *litter.rounds_h):
            views = [PupView(record, instant(at_h)) for record in records]
            for index, pup in enumerate(litter.pups):
                if pup.died_h is None or pup.died_h > at_h:
                    last_h = at_h
                    judgements[index].append(_judge(views, index, at_h, rules, scorers or {}, settings))
        hours += last_h
        stories = tuple(PupStory(pup, tuple(one)) for pup, one in zip(litter.pups, judgements, strict=True))
        judged.append((litter, stories))
    return Replay(tuple(judged), hours / HOURS_PER_WEEK)


def _judge(
    views: Sequence[PupView],
    index: int,
    at_h: float,
    rules: Sequence[Rule],
    scorers: Mapping[str, Scorer],
    limits: Limits,
) -> Judgement:
    view, littermates = views[index], [other for n, other in enumerate(views) if n != index]
    levels = {}
    for rule in rules:
        finding = rule.check(view, littermates, limits)
        if finding is not None:
            levels[rule.key] = rank(finding.level)
    scores = {name: scorer(view, littermates) for name, scorer in scorers.items()}
    # the rule itself, with its limit at nothing, so that its chance is known at every round
    ours = OURS.check(view, littermates, ALWAYS)
    scores[OURS.key] = 0.0 if ours is None else float(ours.values["chance"])
    return Judgement(at_h, levels, scores, is_slow(view, limits))


ALWAYS = Limits(falling_behind_chance=0.0)


def score(run: Replay, is_alarm: Alarm) -> Score:
    """What the replay yields when those judgements count as alarms."""
    false_alarms = in_bad_spell = 0
    causes: list[str] = []
    leads: list[float] = []
    for story in run.stories:
        pup = story.pup
        trouble_h = pup.trouble_h if pup.fails else None
        lead, false_starts = _lead_and_false_starts(story, is_alarm, trouble_h)
        false_alarms += false_starts
        if pup.cause == "setback":
            in_bad_spell += false_starts
        if trouble_h is not None:
            causes.append(pup.cause)
            leads.append(lead)
    return Score(false_alarms, in_bad_spell, run.litter_weeks, tuple(causes), tuple(leads))


def _lead_and_false_starts(story: PupStory, is_alarm: Alarm, trouble_h: float | None) -> tuple[float, int]:
    """Hours from the alarm to death (0 when none), and alarms that turn out to mean nothing."""
    started_h: float | None = None
    false_starts = 0
    for judgement in story.judgements:
        on = is_alarm(judgement)
        if on and started_h is None:
            started_h = judgement.at_h
        elif not on and started_h is not None and (trouble_h is None or judgement.at_h <= trouble_h):
            false_starts += 1
            started_h = None
    died_h = story.pup.died_h
    if trouble_h is None or died_h is None:
        return 0.0, false_starts + (started_h is not None)
    if started_h is None:
        return 0.0, false_starts
    return died_h - max(started_h, trouble_h), false_starts


def any_of(keys: Iterable[str], level: str) -> Alarm:
    """An alarm when one of those rules is at that level or above."""
    wanted, least = frozenset(keys), rank(level)
    return lambda judgement: any(found >= least for key, found in judgement.levels.items() if key in wanted)


def above(name: str, threshold: float) -> Alarm:
    """An alarm when that score reaches the threshold."""
    return lambda judgement: judgement.scores[name] >= threshold


def either(one: Alarm, other: Alarm) -> Alarm:
    """An alarm when one of two is on."""
    return lambda judgement: one(judgement) or other(judgement)


def threshold_for_rate(run: Replay, name: str, rate: float, beside: Alarm | None = None) -> float:
    """The lowest threshold of a score that keeps false alarms, with those of `beside`, under a rate."""
    values = sorted({judgement.scores[name] for story in run.stories for judgement in story.judgements})
    low, high = 0, len(values) - 1
    while low < high:
        middle = (low + high) // 2
        alarm = above(name, values[middle])
        found = score(run, alarm if beside is None else either(beside, alarm))
        if found.false_per_litter_week > rate:
            low = middle + 1
        else:
            high = middle
    return values[low]

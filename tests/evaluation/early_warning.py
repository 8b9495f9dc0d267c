"""Measures how early watch rules find failing pups: `python -m tests.evaluation.early_warning`.

Prints sensitivity, false alarms per litter-week and hours of lead for (a) each published rule, (b) all of
them, (c) all of them and ours, on simulated litters; how to read it stands in README.md beside this file.

    --seeds 1,2,3        which litters (default 1,2,3)
    --litters 400        litters per seed
    --shift name=factor  multiply a parameter of the simulated world; may be repeated
    --breed-limits       the kennel has set its breed's birth-weight limits
    --ideas              also the ideas that were tried and dropped
"""

from __future__ import annotations

import argparse
import statistics
import sys
from collections.abc import Sequence

from litters.domain.pup_or_dam import DAM_OR_BOX, pup_or_dam
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import ACT_TODAY, WATCH
from tests.evaluation.ideas import IDEAS
from tests.evaluation.replay import (
    OURS,
    PUBLISHED_RULES,
    Alarm,
    Replay,
    Score,
    above,
    any_of,
    either,
    replay,
    score,
    threshold_for_rate,
)
from tests.evaluation.simulator import simulate_litters
from tests.evaluation.slip_trial import slip_trial
from tests.evaluation.world import World

KEYS = tuple(rule.key for rule in PUBLISHED_RULES)
# Thresholds are set on other litters of the same world than the ones they are judged on.
OTHER_LITTERS = 100_000
SLOW = "slow_gain_pct"


def _line(name: str, found: Score) -> str:
    return (
        f"  {name:46s} {100 * found.sensitivity:5.1f} %  {found.false_per_litter_week:6.2f}"
        f"  {found.false_in_bad_spell / max(found.litter_weeks, 1e-9):6.2f}"
        f"  {found.mean_lead_h:7.1f}  {found.median_lead_h:7.1f}"
    )


HEADER = (
    f"  {'':46s} {'found':>7s}  {'false':>6s}  {'spell':>6s}  {'lead':>7s}  {'median':>7s}\n"
    f"  {'':46s} {'':>7s}  {'/lit-wk':>6s} {'/lit-wk':>6s}  {'h, all':>7s}  {'h, found':>7s}"
)


def _alarms(level: str) -> tuple[Alarm, Alarm]:
    published = any_of(KEYS, level)
    return published, either(published, above(OURS.key, Limits().falling_behind_chance))


def _table(run: Replay, level: str) -> tuple[Score, Score]:
    """Print (a), (b), (c) of a level and give (b) and (c)."""
    published, with_ours = _alarms(level)
    print(HEADER)
    for rule in PUBLISHED_RULES:
        if (one := score(run, any_of([rule.key], level))).found or one.false_alarms:
            print(_line(f"(a) {rule.key}" + ("" if rule.is_published else " *"), one))
    both = score(run, published), score(run, with_ours)
    print(_line("(b) all rules", both[0]))
    print(_line("(c) all rules and ours", both[1]))
    return both


def _compare(name: str, found: Score, beside: Score) -> str:
    """How many more failing pups, how much earlier over all, and over the pups both find."""
    overall = found.mean_lead_h - beside.mean_lead_h
    more = 100.0 * (found.found / beside.found - 1.0) if beside.found else float("nan")
    pairs = [(a, b) for a, b in zip(found.lead_h, beside.lead_h, strict=True) if a > 0 and b > 0]
    earlier = statistics.fmean(a - b for a, b in pairs) if pairs else float("nan")
    return (
        f"  {name}: {more:+.0f} % failing pups found, {overall:+.1f} h lead over all failing "
        f"pups, {earlier:+.1f} h over those both find; "
        f"{found.false_per_litter_week - beside.false_per_litter_week:+.2f} false alarms per litter-week"
    )


def _causes(run: Replay, alarms: Sequence[tuple[str, Score]]) -> None:
    for cause in sorted({story.pup.cause for story in run.stories if story.pup.fails}):
        cells = []
        for name, found in alarms:
            leads = [lead for one, lead in zip(found.causes, found.lead_h, strict=True) if one == cause]
            share = sum(lead > 0 for lead in leads) / len(leads)
            cells.append(f"{name} {100 * share:3.0f} % {statistics.fmean(leads):6.1f} h")
        print(f"  {cause:10s} {len(leads):4d} pups   " + "   ".join(cells))


def _pup_or_dam(run: Replay) -> None:
    """How soon a failing dam's milk is called that, and how often a well dam is suspected."""
    delays, failures, false_calls = [], 0, 0
    for litter, stories in run.litters:
        rounds = sorted({judgement.at_h for story in stories for judgement in story.judgements})
        failure = litter.milk_failure_h
        called, was_on = None, False
        for at_h in rounds:
            slow = [
                (story.pup.name, judgement.is_slow)
                for story in stories
                for judgement in story.judgements
                if judgement.at_h == at_h
            ]
            on = pup_or_dam(slow).verdict == DAM_OR_BOX
            during = failure is not None and failure[0] <= at_h <= failure[1] + 24.0
            if on and during and called is None and failure is not None:
                called = at_h - failure[0]
            false_calls += on and not was_on and not during
            was_on = on
        if failure is not None and len(litter.pups) >= 3:
            failures += 1
            delays += [] if called is None else [called]
    middle = f"{statistics.median(delays):.0f} h" if delays else "-"
    print(
        f"  dam or box called in {len(delays)} of {failures} litters whose milk failed, median {middle} "
        f"after it began; {false_calls / run.litter_weeks:.2f} calls per litter-week otherwise"
    )


def _arguments(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="early_warning", description="How early failing pups are found.")
    parser.add_argument("--seeds", default="1,2,3", type=_seeds)
    parser.add_argument("--litters", default=400, type=int)
    parser.add_argument("--shift", action="append", default=[], type=_shift, metavar="name=factor")
    parser.add_argument("--breed-limits", action="store_true")
    parser.add_argument("--ideas", action="store_true")
    return parser.parse_args(arguments)


def _seeds(text: str) -> list[int]:
    return [int(part) for part in text.split(",")]


def _shift(text: str) -> tuple[str, float]:
    name, _, factor = text.partition("=")
    return name, float(factor)


def main(arguments: Sequence[str]) -> int:
    """Run the evaluation; 0 when it could be run, 2 for a wrong parameter."""
    given = _arguments(arguments)
    try:
        world = World().shifted(dict(given.shift))
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    scorers = dict(IDEAS) if given.ideas else {}
    litters = [litter for seed in given.seeds for litter in simulate_litters(world, seed, given.litters)]
    others = [
        litter
        for seed in given.seeds
        for litter in simulate_litters(world, seed + OTHER_LITTERS, given.litters)
    ]
    run = replay(litters, scorers=scorers, with_limits=given.breed_limits)
    tuning = replay(others, scorers=scorers, with_limits=given.breed_limits)
    shifts = ", ".join(f"{name} x {factor:g}" for name, factor in given.shift) or "none"
    pups = sum(len(litter.pups) for litter in litters)
    print(
        f"{len(litters)} litters, {pups} pups, {sum(story.pup.fails for story in run.stories)} failing, "
        f"{run.litter_weeks:.0f} litter-weeks; seeds {', '.join(map(str, given.seeds))}; shifted: {shifts}"
    )
    print("\nEverything that puts a pup on the list (level watch or more); * = common practice, no source")
    _table(run, WATCH)
    print("\nWhat asks for action (level act today or more)")
    rules, with_ours = _table(run, ACT_TODAY)
    published, _ = _alarms(ACT_TODAY)
    alone_at = threshold_for_rate(tuning, OURS.key, score(tuning, published).false_per_litter_week)
    alone = score(run, above(OURS.key, alone_at))
    print(_line(f"ours alone, from a chance of {100 * alone_at:.0f} %", alone))
    print("\nAgainst (b)")
    print(_compare("(c)", with_ours, rules))
    print(_compare("ours alone at (b)'s rate", alone, rules))
    print("\nBy what befell the pup: share found, mean lead")
    _causes(run, [("(b)", rules), ("(c)", with_ours), ("ours alone", alone)])
    if given.ideas:
        print("\nOther ideas, each alone, at (b)'s rate of false alarms")
        print(HEADER)
        rate = score(tuning, published).false_per_litter_week
        for name in IDEAS:
            print(_line(name, score(run, above(name, threshold_for_rate(tuning, name, rate)))))
    print("\nPup or dam")
    _pup_or_dam(run)
    print("\nSlips of the pencil")
    for line in slip_trial(world, given.seeds, given.litters):
        print("  " + line)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""The measurement of early warning: counting, parameters, and the claims the README makes."""

from __future__ import annotations

import pytest

from litters.domain.watch_limits import Limits
from tests.evaluation import early_warning
from tests.evaluation.replay import (
    OURS,
    PUBLISHED_RULES,
    Alarm,
    Judgement,
    PupStory,
    Replay,
    above,
    any_of,
    either,
    replay,
    score,
    threshold_for_rate,
)
from tests.evaluation.simulator import SimulatedPup, simulate_litters
from tests.evaluation.slip_trial import slip_trial
from tests.evaluation.world import World

KEYS = tuple(rule.key for rule in PUBLISHED_RULES)


def story(alarm_at: set[float], trouble_h: float | None, died_h: float | None) -> PupStory:
    """A pup judged every day at noon for ten days, with an alarm on at the given hours."""
    pup = SimulatedPup("red", 0.0, 300.0, "normal", "fade" if died_h else "thrives", trouble_h, died_h, ())
    hours = [24.0 * day for day in range(1, 11) if died_h is None or 24.0 * day < died_h]
    return PupStory(pup, tuple(Judgement(h, {"rule": 2} if h in alarm_at else {}, {}, None) for h in hours))


def counted(*stories: PupStory) -> Replay:
    litter = simulate_litters(World(), 1, 1)[0]
    return Replay(((litter, stories),), litter_weeks=2.0)


RINGS: Alarm = any_of(["rule"], "act_today")


def test_an_alarm_on_a_pup_that_lives_is_false_once_per_time_it_begins() -> None:
    found = score(counted(story({24.0, 48.0, 120.0}, None, None)), RINGS)
    assert (found.false_alarms, found.false_per_litter_week, found.failing) == (2, 1.0, 0)


def test_lead_runs_from_the_alarm_to_the_death() -> None:
    found = score(counted(story({120.0, 144.0}, 100.0, 150.0)), RINGS)
    assert (found.found, found.lead_h, found.false_alarms) == (1, (30.0,), 0)


def test_lead_never_begins_before_the_trouble() -> None:
    found = score(counted(story({72.0, 96.0, 120.0}, 110.0, 150.0)), RINGS)
    assert found.lead_h == (40.0,)


def test_an_alarm_that_is_off_again_before_the_trouble_is_false_and_finds_nothing() -> None:
    found = score(counted(story({48.0}, 110.0, 150.0)), RINGS)
    assert (found.found, found.lead_h, found.false_alarms) == (0, (0.0,), 1)


def test_a_pup_that_is_never_noticed_counts_with_no_lead() -> None:
    found = score(counted(story(set(), 110.0, 150.0), story({120.0}, 110.0, 150.0)), RINGS)
    assert (found.sensitivity, found.mean_lead_h, found.median_lead_h) == (0.5, 15.0, 30.0)


@pytest.fixture(scope="module")
def run() -> Replay:
    return replay(simulate_litters(World(), seed=7, litters=250))


def test_all_rules_find_at_least_what_each_of_them_finds(run: Replay) -> None:
    everything = score(run, any_of(KEYS, "act_today"))
    for key in KEYS:
        assert score(run, any_of([key], "act_today")).found <= everything.found


def test_ours_only_adds(run: Replay) -> None:
    published = any_of(KEYS, "act_today")
    rules = score(run, published)
    with_ours = score(run, either(published, above(OURS.key, Limits().falling_behind_chance)))
    assert all(c >= b for b, c in zip(rules.lead_h, with_ours.lead_h, strict=True))


def test_a_threshold_keeps_to_its_rate_and_a_lower_one_would_not(run: Replay) -> None:
    rate = score(run, any_of(KEYS, "act_today")).false_per_litter_week
    threshold = threshold_for_rate(run, OURS.key, rate)
    assert score(run, above(OURS.key, threshold)).false_per_litter_week <= rate
    assert score(run, above(OURS.key, threshold * 0.5)).false_per_litter_week > rate


# The claim of the README: a fifth more failing pups, 12 h earlier, at the rate of false alarms of all published rules.
def test_ours_finds_a_fifth_more_and_12_h_earlier_at_the_false_alarms_of_all_rules(run: Replay) -> None:
    rules = score(run, any_of(KEYS, "act_today"))
    threshold = threshold_for_rate(run, OURS.key, rules.false_per_litter_week)
    alone = score(run, above(OURS.key, threshold))
    assert alone.found >= 1.2 * rules.found
    assert alone.mean_lead_h >= rules.mean_lead_h + 12.0


def test_the_slip_trial_reports_needless_questions_and_every_kind_of_slip() -> None:
    lines = list(slip_trial(World(), [3], 20))
    assert lines[0].endswith("needless questions per litter-week without any slip")
    assert {line.split(":")[0] for line in lines[1:]} >= {"a factor of ten", "ounces or pounds for grams"}


def test_the_command_prints_every_part_for_given_seeds_and_shifts(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--seeds", "4", "--litters", "12", "--shift", "fill_noise=1.5", "--shift", "missed_round=2"]
    assert early_warning.main(arguments) == 0
    printed = capsys.readouterr().out
    assert "shifted: fill_noise x 1.5, missed_round x 2" in printed
    for part in (
        "(a) no_gain",
        "(b) all rules",
        "(c) all rules and ours",
        "ours alone",
        "Pup or dam",
        "Slips",
    ):
        assert part in printed
    assert early_warning.main(["--seeds", "4", "--litters", "12"]) == 0
    assert capsys.readouterr().out != printed


def test_the_command_refuses_an_unknown_parameter(capsys: pytest.CaptureFixture[str]) -> None:
    assert early_warning.main(["--shift", "luck=2", "--litters", "1"]) == 2
    assert "no parameter named luck" in capsys.readouterr().err

"""Watch rules of ours: they only add to the published ones and say what they were tried on."""

from __future__ import annotations

from collections.abc import Sequence

from litters.domain.falling_behind import failing_chance
from litters.domain.growth_series import PupView
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import ACT_TODAY, OURS, TRIED, Finding, Rule, weight_words


def falling_behind(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """The pup's curve bends away from health and its littermates: act today, before it loses weight."""
    found = failing_chance(view, littermates)
    if found is None or found.chance < limits.falling_behind_chance:
        return None
    beside = "" if found.littermates_pct is None else f", its littermates {found.littermates_pct:+.1f} %"
    words = (
        f"Falling behind: {found.step_pct:+.1f} % in {found.step_hours:.0f} h{beside}; our estimate of "
        f"trouble {100.0 * found.chance:.0f} % (tried on simulated litters only). {weight_words(view)}"
    )
    return Finding(ACT_TODAY, words, {"chance": found.chance, "step_pct": found.step_pct})


OUR_RULES = (Rule("falling_behind", OURS, "a rule of ours", TRIED, falling_behind),)

"""The watch rule on centile lines, for pups old enough for a table that the kennel's vet supplied."""

from __future__ import annotations

from collections.abc import Sequence

from litters.domain.centiles import centile_path
from litters.domain.growth_series import HOURS_PER_DAY, PupView
from litters.domain.watch_limits import Limits
from litters.domain.watch_reasons import PUBLISHED, VERIFIED, WATCH, Finding, Rule, weight_words


def too_many_lines(view: PupView, littermates: Sequence[PupView], limits: Limits) -> Finding | None:
    """More centile lines crossed than healthy dogs cross, up or down, since the first weighing the table covers."""
    table = view.record.growth_table
    if table is None:
        return None
    weights = [
        (age_h / HOURS_PER_DAY, g / 1000.0) for age_h, g in zip(view.ages_h, view.weights_g, strict=True)
    ]
    path = centile_path(table, weights, limits.centile_lines_crossed, limits.centile_line_spacing_sd)
    if path is None or not path.is_too_many:
        return None
    words = f"{table.name}: {path.words} Show the vet, with its body condition. {weight_words(view)}"
    values = {"lines_crossed": float(path.lines_crossed), "z": path.newest.z, "z_first": path.first.z}
    return Finding(WATCH, words, values)


CENTILE_RULES = (
    Rule("centile_lines", PUBLISHED, "Salt et al. 2020, PLoS ONE 15(9):e0238521", VERIFIED, too_many_lines),
)

"""Between stored treatment plans and the domain's schemes and series."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from health.domain.record_json import scheme_as_json, scheme_from_json
from health.domain.vaccination import RULES, SeriesRule
from health.domain.worming_schemes import SCHEMES, Scheme

SERIES_FIELDS = (
    "first_age_days",
    "first_age_until_days",
    "gap_min_days",
    "gap_max_days",
    "doses",
    "last_age_days",
    "booster_years",
)
SCHEME_KEYS = (*(key for key, one in SCHEMES.items() if one.phases), *RULES)


def is_vaccination(scheme: str) -> bool:
    """Whether a scheme's key names a vaccination series."""
    return scheme in RULES


def default_phases(scheme: str) -> list[dict[str, Any]]:
    """The published phases of a worming scheme as plain values."""
    phases: list[dict[str, Any]] = scheme_as_json(SCHEMES[scheme])["phases"]
    return phases


def default_series(scheme: str) -> dict[str, int]:
    """The published rule of a vaccination series as plain values."""
    rule = asdict(RULES[scheme])
    return {name: rule[name] for name in SERIES_FIELDS}


def scheme_of(row: Mapping[str, Any]) -> Scheme:
    """The worming scheme a plan follows, with its own phases.  Raises ValueError for phases that do not fit."""
    value = scheme_as_json(SCHEMES[row["scheme"]])
    if row["phases"] is not None:
        value["phases"] = row["phases"]
    return scheme_from_json(value)


def rule_of(row: Mapping[str, Any]) -> SeriesRule:
    """The vaccination rule a plan follows, with its own figures."""
    return replace(RULES[row["scheme"]], **(row["series"] or {}))

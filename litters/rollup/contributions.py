"""Aggregates that other apps add to a litter's day."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Contribution:
    """A named aggregate.  sql: a SELECT giving (litter_id, day, payload jsonb) for the windows in the temporary table
    `rollup_window (kennel_id, litter_id, day, from_at, to_at)`; set-based, bounds are [from_at, to_at)."""

    name: str
    sql: str


_contributions: list[Contribution] = []
_leaving: list[str] = []


def add(contribution: Contribution) -> None:
    """Add an aggregate; called from an app's `apps.py`."""
    _contributions.append(contribution)


def add_leaving(sql: str) -> None:
    """Say how pups leave: a SELECT giving (kennel_id, pup_id, left_at, back_at)."""
    _leaving.append(sql)


def every() -> list[Contribution]:
    """All aggregates in order of name."""
    return sorted(_contributions, key=lambda c: c.name)


def leaving() -> str:
    """One SELECT of all stays away, empty when no app says how pups leave."""
    nothing = "SELECT NULL::bigint kennel_id, NULL::bigint pup_id, NULL::timestamptz left_at, NULL::timestamptz back_at WHERE false"
    return " UNION ALL ".join(_leaving) or nothing

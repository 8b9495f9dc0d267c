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
_authors: list[str] = []


def add(contribution: Contribution) -> None:
    """Add an aggregate; called from an app's `apps.py`."""
    _contributions.append(contribution)


def add_leaving(sql: str) -> None:
    """Say how pups leave: a SELECT giving (kennel_id, pup_id, left_at, back_at)."""
    _leaving.append(sql)


def add_authors(table: str, *, by: str) -> None:
    """Say that whoever records facts of this table contributes to a litter's day.  by: `pup` or `litter`, what they name.

    Late facts of the table must mark their days, or the names of a stored day would not follow.
    """
    of_pup = (
        "JOIN litters_pup p ON p.kennel_id = f.kennel_id AND p.id = f.pup_id AND p.litter_id = w.litter_id"
    )
    of_litter = "AND f.litter_id = w.litter_id"
    _authors.append(
        "SELECT w.litter_id, w.day, f.recorded_by_id AS actor FROM rollup_window w"  # noqa: S608 - a table of ours
        f" JOIN {table} f ON f.kennel_id = w.kennel_id AND f.deleted_at IS NULL AND f.occurred_at >= w.from_at"
        f" AND f.occurred_at < w.to_at {of_pup if by == 'pup' else of_litter}"
    )


def authors() -> str:
    """SELECTs of everybody who recorded something, (litter_id, day, actor), to follow another one."""
    return "".join(f" UNION ALL {sql}" for sql in _authors)


def every() -> list[Contribution]:
    """All aggregates in order of name."""
    return sorted(_contributions, key=lambda c: c.name)


def leaving() -> str:
    """One SELECT of all stays away, empty when no app says how pups leave."""
    nothing = "SELECT NULL::bigint kennel_id, NULL::bigint pup_id, NULL::timestamptz left_at, NULL::timestamptz back_at WHERE false"
    return " UNION ALL ".join(_leaving) or nothing

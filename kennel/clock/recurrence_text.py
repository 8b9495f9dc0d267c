"""Recurrence rules as people's calendars and our storage write them.

Only the part of RFC 5545 that `At` can mean is read; everything else is refused by name, because a rule
that is half understood would ring at the wrong time.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta

from kennel.clock.recurrence import At, Every, Frequency, Rule
from kennel.clock.wall_clock import as_utc

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_PARTS = ("FREQ", "INTERVAL", "BYDAY", "BYMONTHDAY", "COUNT", "UNTIL")


def at_from_rrule(text: str, wall_times: tuple[time, ...], first_on: date) -> At:
    """The wall-time rule of an RRULE such as `FREQ=WEEKLY;BYDAY=MO,TH;INTERVAL=2`.

    Understood: FREQ (DAILY, WEEKLY, MONTHLY), INTERVAL, BYDAY without numbers (WEEKLY), BYMONTHDAY
    (MONTHLY), and COUNT or UNTIL (a date, included). Raises ValueError for any other part, naming it.
    """
    parts: dict[str, str] = {}
    for piece in text.strip().removeprefix("RRULE:").upper().split(";"):
        name, _, value = piece.partition("=")
        if name not in _PARTS or not value:
            raise ValueError(f"{piece!r} is not a part of a rule that can be kept here: {', '.join(_PARTS)}")
        if name in parts:
            raise ValueError(f"{name} is given twice")
        parts[name] = value
    frequency = parts.get("FREQ")
    if frequency not in set(Frequency):
        raise ValueError("FREQ must be DAILY, WEEKLY or MONTHLY")
    return At(
        frequency=Frequency(frequency),
        wall_times=wall_times,
        first_on=first_on,
        interval=_whole(parts.get("INTERVAL", "1"), "INTERVAL"),
        weekdays=tuple(_weekday(one) for one in _listed(parts.get("BYDAY"))),
        month_days=tuple(_whole(one, "BYMONTHDAY") for one in _listed(parts.get("BYMONTHDAY"))),
        count=_whole(parts["COUNT"], "COUNT") if "COUNT" in parts else None,
        until_on=_until(parts["UNTIL"]) if "UNTIL" in parts else None,
    )


def rrule_of(rule: At) -> str:
    """The RRULE text of a wall-time rule; `at_from_rrule` reads it back to the same rule."""
    parts = [f"FREQ={rule.frequency.value}"]
    if rule.interval != 1:
        parts.append(f"INTERVAL={rule.interval}")
    if rule.weekdays:
        parts.append("BYDAY=" + ",".join(WEEKDAYS[one] for one in rule.weekdays))
    if rule.month_days:
        parts.append("BYMONTHDAY=" + ",".join(str(one) for one in rule.month_days))
    if rule.count is not None:
        parts.append(f"COUNT={rule.count}")
    if rule.until_on is not None:
        parts.append(f"UNTIL={rule.until_on:%Y%m%d}")
    return ";".join(parts)


def rule_as_json(rule: Rule) -> dict[str, object]:
    """A rule as plain JSON values; `rule_from_json` reads it back to the same rule."""
    if isinstance(rule, Every):
        return {
            "kind": "every",
            "interval_s": int(rule.interval.total_seconds()),
            "anchor_at": as_utc(rule.anchor_at).isoformat(),
            "from": "completion" if rule.from_completion else "anchor",
            "until_at": None if rule.until_at is None else as_utc(rule.until_at).isoformat(),
            "count": rule.count,
        }
    return {
        "kind": "at",
        "rrule": rrule_of(rule),
        "wall_times": [one.isoformat("minutes") for one in rule.wall_times],
        "first_on": rule.first_on.isoformat(),
    }


def rule_from_json(value: Mapping[str, object]) -> Rule:
    """The rule of a JSON object as `rule_as_json` writes it.

    Raises ValueError for missing, unknown or ill-typed members.
    """
    kind = value.get("kind")
    if kind == "every":
        _only(value, {"kind", "interval_s", "anchor_at", "from", "until_at", "count"})
        start_from = value.get("from", "anchor")
        if start_from not in ("anchor", "completion"):
            raise ValueError("'from' must be 'anchor' or 'completion'")
        until_at, count = value.get("until_at"), value.get("count")
        return Every(
            interval=timedelta(seconds=_integer(value.get("interval_s"), "interval_s")),
            anchor_at=datetime.fromisoformat(_text(value.get("anchor_at"), "anchor_at")),
            from_completion=start_from == "completion",
            until_at=None if until_at is None else datetime.fromisoformat(_text(until_at, "until_at")),
            count=None if count is None else _integer(count, "count"),
        )
    if kind != "at":
        raise ValueError("'kind' must be 'every' or 'at'")
    _only(value, {"kind", "rrule", "wall_times", "first_on"})
    wall_times = value.get("wall_times")
    if not isinstance(wall_times, list):
        raise ValueError("'wall_times' must be a list of times such as '08:00'")
    return at_from_rrule(
        _text(value.get("rrule"), "rrule"),
        tuple(time.fromisoformat(_text(one, "wall_times")) for one in wall_times),
        date.fromisoformat(_text(value.get("first_on"), "first_on")),
    )


def _listed(value: str | None) -> list[str]:
    return value.split(",") if value else []


def _whole(value: str, name: str) -> int:
    if not re.fullmatch(r"-?[0-9]{1,6}", value):
        raise ValueError(f"{name} must be a whole number, not {value!r}")
    return int(value)


def _weekday(value: str) -> int:
    if value not in WEEKDAYS:
        raise ValueError(f"BYDAY takes {', '.join(WEEKDAYS)}, not {value!r}")
    return WEEKDAYS.index(value)


def _until(value: str) -> date:
    if not re.fullmatch(r"[0-9]{8}", value):
        raise ValueError("UNTIL must be a date such as 20261231; it is the last day, included")
    return date(int(value[:4]), int(value[4:6]), int(value[6:]))


def _only(value: Mapping[str, object], names: set[str]) -> None:
    unknown = sorted(set(value) - names)
    if unknown:
        raise ValueError(f"unknown members: {', '.join(unknown)}")


def _text(value: object, name: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f"'{name}' must be text")
    return value


def _integer(value: object, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"'{name}' must be a whole number")
    return value

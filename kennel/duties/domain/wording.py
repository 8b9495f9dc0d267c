"""Subject and body of messages, from plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from kennel.clock.wall_clock import Zone, zone_of

MOST_LISTED = 20


@dataclass(frozen=True)
class Item:
    """A duty as a message tells of it; text and cautions are ready for whoever reads it."""

    title: str
    due_at: datetime
    text: str
    cautions: tuple[str, ...] = ()
    is_missed: bool = False


@dataclass(frozen=True)
class Words:
    """A finished message."""

    subject: str
    body: str


def for_duty(item: Item, *, kennel: str, zone: Zone, now: datetime, is_escalated: bool, url: str) -> Words:
    """The message about one duty.  One that waits since a while, or went on to the next, says so."""
    when = _clock(item.due_at, zone, now)
    waits = is_escalated or (now - item.due_at).total_seconds() > 300
    head = f"{item.title}: was due {when}, not confirmed" if waits else f"{item.title}: due {when}"
    lines = [head + ".", ""]
    if item.text:
        lines += [item.text, ""]
    lines += [f"Take care: {caution}" for caution in item.cautions]
    if item.cautions:
        lines.append("")
    lines += [f"Say that you are on it, or record it: {url}"]
    return Words(_subject(f"{kennel}: {head}"), "\n".join(lines) + "\n")


def for_digest(items: Sequence[Item], *, kennel: str, zone: Zone, now: datetime, url: str) -> Words:
    """One message about several duties: what is still to do, then what was missed.

    It never asks to make up for a dose or a meal that was missed.
    """
    todo = sorted((i for i in items if not i.is_missed), key=lambda i: i.due_at)
    missed = sorted((i for i in items if i.is_missed), key=lambda i: i.due_at)
    counts = [f"{len(todo)} still to do"] * bool(todo) + [f"{len(missed)} not confirmed"] * bool(missed)
    lines: list[str] = []
    if todo:
        lines += ["Still to do:", ""]
        for item in todo[:MOST_LISTED]:
            lines.append(f"- {item.title}: was due {_clock(item.due_at, zone, now)}. {item.text}".rstrip())
            lines += [f"  Take care: {caution}" for caution in item.cautions]
        lines += _rest(todo)
    if missed:
        lines += ["Not confirmed (somebody may have done it without writing it down):", ""]
        for item in missed[-MOST_LISTED:]:
            lines.append(f"- {item.title}: was due {_clock(item.due_at, zone, now)}, not confirmed.")
        lines += _rest(missed)
        lines += [
            "Do not make up for what was missed; write down what was done, and go on with what is due.",
            "",
        ]
    lines.append(url)
    return Words(_subject(f"{kennel}: {', '.join(counts)}"), "\n".join(lines) + "\n")


def _rest(items: Sequence[Item]) -> list[str]:
    more = len(items) - MOST_LISTED
    return [f"- and {more} more.", ""] if more > 0 else [""]


def _clock(instant: datetime, zone: Zone, now: datetime) -> str:
    """Wall time in the kennel's zone, with the day when it is another one."""
    place = zone_of(zone)
    local, today = instant.astimezone(place), now.astimezone(place).date()
    return f"{local:%H:%M}" if local.date() == today else f"{local:%a} {local.day} {local:%b} {local:%H:%M}"


def _subject(text: str) -> str:
    """One line, as a mail subject must be."""
    return " ".join(text.split())[:300]

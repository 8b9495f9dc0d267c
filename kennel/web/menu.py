"""The menu of a kennel.  Apps add entries in `apps.py`; people see those their role may use.

Places by `order`: up to 29 what is done many times a day, 30 to 59 who lives here, 60 to 79 files in and out
(imports 70, reports 75), 80 and up people and settings.  The first four are the bar at the thumb on a phone.
"""

from dataclasses import dataclass

from django.urls import reverse

from kennel.people.choices import Role
from kennel.records.door import Actor, KennelHere

AT_THE_THUMB = 4


@dataclass(frozen=True)
class _Entry:
    order: int
    text: str
    url_name: str
    least_role: Role
    is_quick: bool


@dataclass(frozen=True)
class Link:
    """A menu entry as one carer sees it: text, address, whether it stands on the first page as a button."""

    text: str
    url: str
    is_quick: bool
    is_current: bool


_entries: list[_Entry] = []


def add(
    text: str, url_name: str, least_role: Role = Role.READER, *, order: int = 50, quick: bool = False
) -> None:
    """Add an entry that leads to a page of the kennel (`web:<name>` with the kennel in its path).

    quick: also a large button on the kennel's first page.
    """
    _entries.append(_Entry(order, text, url_name, Role(least_role), quick))
    _entries.sort(key=lambda entry: entry.order)


def links(here: KennelHere, actor: Actor, path: str = "") -> list[Link]:
    """Entries this actor may use, in order; the one whose address is `path` is current."""
    found = []
    for entry in _entries:
        if actor.may(entry.least_role):
            url = reverse(entry.url_name, args=[here.uid])
            found.append(Link(entry.text, url, entry.is_quick, url == path))
    return found

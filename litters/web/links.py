"""Ways on from a litter, a dog or a pup to what other apps know of it; apps add theirs in `apps.py`."""

from dataclasses import dataclass
from uuid import UUID

from django.urls import reverse

from kennel.people.choices import Role
from kennel.records.door import Actor, KennelHere

LITTER, DOG, PUP = "litter", "dog", "pup"


@dataclass(frozen=True)
class _Way:
    about: str
    order: int
    text: str
    url_name: str
    least_role: Role
    by_query: bool
    keep_offline: bool


@dataclass(frozen=True)
class Link:
    """A link as one carer sees it."""

    text: str
    url: str
    keep_offline: bool


_ways: list[_Way] = []


def add(
    about: str,
    text: str,
    url_name: str,
    least_role: Role = Role.READER,
    *,
    order: int = 50,
    by_query: bool = False,
    keep_offline: bool = False,
) -> None:
    """Add a link to the page `web:<name>` of an animal or litter.

    The page has the uid in its path; by_query: it is a page of the kennel that takes `?litter=uid` and the like.
    keep_offline: devices keep a copy of it.
    """
    _ways.append(_Way(about, order, text, url_name, Role(least_role), by_query, keep_offline))
    _ways.sort(key=lambda way: way.order)


def of(about: str, uid: UUID | str, here: KennelHere, actor: Actor) -> list[Link]:
    """Links from one litter, dog or pup that this actor may follow, in order."""
    found = []
    for way in _ways:
        if way.about == about and actor.may(way.least_role):
            path = reverse(way.url_name, args=[here.uid] if way.by_query else [here.uid, uid])
            found.append(Link(way.text, f"{path}?{about}={uid}" if way.by_query else path, way.keep_offline))
    return found

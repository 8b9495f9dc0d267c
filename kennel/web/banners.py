"""Sentences across the top of every page of a kennel, such as "reminders are not running"."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from kennel.records.door import KennelHere


@dataclass(frozen=True)
class Banner:
    """One sentence; `danger` is for what may hurt an animal if nobody acts."""

    text: str
    level: Literal["info", "danger"] = "info"
    url: str = ""


Source = Callable[[KennelHere | None], Banner | None]
_sources: list[Source] = []


def add(source: Source) -> None:
    """Ask this function on every page: source(kennel or None) gives a banner or None.  It must be cheap."""
    _sources.append(source)


def standing(here: KennelHere | None) -> list[Banner]:
    """Banners that stand now."""
    return [banner for source in _sources if (banner := source(here))]

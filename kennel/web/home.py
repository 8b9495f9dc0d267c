"""The kennel's first page is put together from panels; apps add theirs in `apps.py`."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from kennel.records.door import Door
from kennel.web.base import KennelPage


@dataclass(frozen=True)
class Panel:
    """A piece of the first page: a template and what it needs."""

    template: str
    values: dict[str, Any]


Build = Callable[[KennelPage, Door], Panel | None]
_builders: list[tuple[int, Build]] = []


def add_panel(build: Build, order: int = 50) -> None:
    """build(page, door) gives a panel or None, inside one open read door.  Low orders stand on top."""
    _builders.append((order, build))
    _builders.sort(key=lambda item: item[0])


def panels(page: KennelPage, door: Door) -> list[Panel]:
    """Panels that have something to show."""
    return [panel for _, build in _builders if (panel := build(page, door))]

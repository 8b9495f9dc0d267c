"""Paths under /api/v1/, made from the registered record types."""

from functools import lru_cache
from typing import Any

from django.urls import URLPattern, path

from kennel.api import batch, feeds, kennels, records
from kennel.records import types

KENNEL = "kennels/<str:kennel>"
# Paths are tried one after the other; behind nearly two hundred others that took a twentieth of a request.  What
# devices ask all day comes first.
OFTEN = tuple(
    f"{KENNEL}/{below}"
    for below in (
        "changes",
        "board",
        "batch",
        "pups",
        "weighings",
        "litters",
        "duties",
        "meals",
        "temperatures",
    )
)
_extra: list[tuple[str, Any, str]] = []
_outside: list[tuple[str, Any, str]] = []


def add_view(below_kennel: str, view: Any, name: str) -> None:
    """Add a view below the kennel's path; apps call this in `apps.py` for computed reads and actions."""
    _extra.append((below_kennel, view, name))


def add_view_outside(below_version: str, view: Any, name: str) -> None:
    """Add a view that belongs to no kennel yet, such as pairing a device."""
    _outside.append((below_version, view, name))


@lru_cache(maxsize=1)
def patterns() -> list[URLPattern]:
    """All API paths."""
    found = [path(below, view.as_view(), name=name) for below, view, name in _outside]
    found += [
        path("kennels", kennels.KennelList.as_view(), name="kennel-list"),
        path(KENNEL, kennels.KennelDetail.as_view(), name="kennel"),
        path(f"{KENNEL}/batch", batch.BatchView.as_view(), name="batch"),
        path(f"{KENNEL}/changes", feeds.ChangesView.as_view(), name="changes"),
        path(f"{KENNEL}/snapshot", feeds.SnapshotView.as_view(), name="snapshot"),
        path(f"{KENNEL}/journal", feeds.JournalView.as_view(), name="journal"),
    ]
    found += [path(f"{KENNEL}/{below}", view.as_view(), name=name) for below, view, name in _extra]
    for record_type in types.every():
        for below, view in records.views_of(record_type):
            name = below.replace("/<str:uid>", "-item").replace("/", "-")
            found.append(path(f"{KENNEL}/{below}", view.as_view(record_type=record_type), name=name))
    return sorted(found, key=lambda one: str(one.pattern) not in OFTEN)


def __getattr__(name: str) -> list[URLPattern]:
    # Made when the first URL is resolved, not at import: the apps import this module to add their views.
    if name == "urlpatterns":
        return patterns()
    raise AttributeError(name)

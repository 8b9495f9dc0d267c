"""Paths under /api/v1/, made from the registered record types."""

from typing import Any

from django.urls import URLPattern, path

from kennel.api import batch, feeds, kennels, records
from kennel.records import types

KENNEL = "kennels/<str:kennel>"
_extra: list[tuple[str, Any, str]] = []


def add_view(below_kennel: str, view: Any, name: str) -> None:
    """Add a view below the kennel's path; apps call this in `apps.py` for computed reads and actions."""
    _extra.append((below_kennel, view, name))


def patterns() -> list[URLPattern]:
    """All API paths."""
    found = [
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
    return found


urlpatterns = patterns()

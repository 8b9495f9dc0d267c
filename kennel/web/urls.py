"""Paths of the pages.  Apps add theirs with `add_page` in `apps.py`."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from django.http import HttpResponseBase
from django.urls import URLPattern, path
from django.views import View

from kennel.web.pages import home, kennels, shell

app_name = "web"
Page = Callable[..., HttpResponseBase] | type[View]
_extra: list[tuple[str, Any, str]] = []


def add_page(route: str, view: Page, name: str) -> None:
    """Add a page named `web:<name>`: route from the root, as `kennels/<str:kennel>/weigh`, no final slash.

    view: a view function or a class of `kennel.web.base`.
    """
    _extra.append((route, _callable(view), name))


def _callable(view: Page) -> Any:
    return view.as_view() if isinstance(view, type) and issubclass(view, View) else view


@lru_cache(maxsize=1)
def patterns() -> list[URLPattern]:
    """All pages, the platform's own first."""
    own: list[tuple[str, Any, str]] = [
        ("", kennels.FirstPage.as_view(), "first"),
        ("kennels", kennels.Chooser.as_view(), "kennels"),
        ("kennels/new", kennels.NewKennelPage.as_view(), "kennel-new"),
        ("kennels/<str:kennel>", home.HomePage.as_view(), "home"),
        ("kennels/<str:kennel>/menu", home.MenuPage.as_view(), "menu"),
        ("outbox", shell.Outbox.as_view(), "outbox"),
        ("offline", shell.Offline.as_view(), "offline"),
        ("sw.js", shell.service_worker, "service-worker"),
        ("manifest.webmanifest", shell.manifest, "manifest"),
    ]
    return [path(route, view, name=name) for route, view, name in [*own, *_extra]]


def __getattr__(name: str) -> list[URLPattern]:
    # Made when the first address is resolved, not at import: the apps import this module to add their pages.
    if name == "urlpatterns":
        return patterns()
    raise AttributeError(name)

"""A signed-in carer's browser without scripts: Django's client, and what a form on a page would send."""

import re
from html.parser import HTMLParser
from typing import Any

from django.test import Client

from kennel.people.models import Carer
from tests.factories.people import Place


class Pages:
    """Opens pages below /kennels/{kennel}/ as one carer."""

    def __init__(self, place: Place, carer: Carer | None = None) -> None:
        self.http = Client(raise_request_exception=False)
        self.http.force_login(
            carer or place.keeper, backend="allauth.account.auth_backends.AuthenticationBackend"
        )
        self.base = f"/kennels/{place.here.uid}"

    def get(self, path: str = "") -> Any:
        """A page; a path that begins with a slash is taken from the root."""
        return self.http.get(path if path.startswith("/") else f"{self.base}/{path}".rstrip("/"))

    def post(self, path: str, data: dict[str, Any]) -> Any:
        """A form sent."""
        return self.http.post(path if path.startswith("/") else f"{self.base}/{path}", data)

    def fill(self, path: str, **typed: Any) -> Any:
        """Open a page, fill its form in as a person would, and send it."""
        page = self.get(path)
        assert page.status_code == 200, page.content[:500]
        return self.post(path, form_values(page.content.decode()) | typed)


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.values: dict[str, str] = {}
        self.select: str | None = None
        self.area: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name = given.get("name") or ""
        if tag == "input" and name and given.get("type") not in ("checkbox", "radio", "submit"):
            self.values[name] = given.get("value") or ""
        elif tag == "input" and name and "checked" in given:
            self.values[name] = given.get("value") or "on"
        elif tag == "select":
            self.select = name
        elif tag == "option" and self.select and (self.select not in self.values or "selected" in given):
            self.values[self.select] = given.get("value") or ""
        elif tag == "textarea":
            self.area = name
            self.values[name] = ""

    def handle_endtag(self, tag: str) -> None:
        self.select = None if tag == "select" else self.select
        self.area = None if tag == "textarea" else self.area

    def handle_data(self, data: str) -> None:
        if self.area:
            self.values[self.area] += data


def form_values(html: str) -> dict[str, str]:
    """Names and values a browser would send for the record form of a page, untouched."""
    main = html[html.index("<main") :]
    parser = _Forms()
    parser.feed(main)
    return parser.values


def words(answer: Any) -> str:
    """The text of a page as a person reads it, white space made even."""
    html = answer.content.decode()
    html = html[html.index("<body") :]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("&#x27;", "'").strip()

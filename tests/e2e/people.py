"""People as the server meets them: browsers with cookies and forms, a device with its token, letters that arrive."""

import html
import re
import time
from email.message import Message
from typing import Any, Self
from urllib.parse import urljoin, urlsplit

import requests

from tests.e2e.stack import MainStack

PATIENCE = 20
PASSWORD = "seven wet noses at dawn"
_HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)"')


class Refused(Exception):
    """The server did not take it; the text is its answer."""


class Caller:
    """Somebody who speaks to the API of one kennel."""

    kennel = ""

    def __init__(self, stack: MainStack) -> None:
        self.stack = stack
        self.session = requests.Session()
        self.session.headers["Host"] = stack.host

    def api(self, method: str, path: str, data: Any = None, *, version: int | None = None) -> Any:
        """The answer's JSON; path below the kennel, or from the root.  Raises Refused for any other status."""
        whole = path if path.startswith("/") else f"/api/v1/kennels/{self.kennel}/{path}"
        headers = self._headers() | ({"If-Match": f'"v{version}"'} if version is not None else {})
        for _ in range(PATIENCE):
            answer = self.session.request(
                method, self.stack.url + whole, json=data, headers=headers, timeout=60
            )
            if answer.status_code != 503:
                break
            time.sleep(0.5)  # "retry": "same", says the answer; by its uid nothing is written twice
        if answer.status_code not in (200, 201, 204):
            raise Refused(f"{method} {path}: {answer.status_code} {answer.text[:2000]}")
        return answer.json() if answer.content else None

    def get(self, path: str, **query: str) -> Any:
        """One read."""
        words = "&".join(f"{name}={value}" for name, value in query.items())
        return self.api("GET", f"{path}?{words}" if words else path)

    def every(self, path: str) -> list[dict[str, Any]]:
        """All rows of a list, page by page."""
        rows: list[dict[str, Any]] = []
        joint = "&" if "?" in path else "?"
        following = f"{path}{joint}limit=200"
        while following:
            page = self.get(following)
            rows += page["results"]
            following = f"{path}{joint}limit=200&cursor={page['next']}" if page["next"] else ""
        return rows

    def post(self, path: str, data: dict[str, Any]) -> Any:
        """Write one thing."""
        return self.api("POST", path, data)

    def _headers(self) -> dict[str, str]:
        return {}


class Device(Caller):
    """A scale with a token, paired by the code on the keeper's screen."""

    def __init__(self, stack: MainStack, kennel: str, code: str) -> None:
        super().__init__(stack)
        self.kennel = kennel
        self.token = self.api("POST", "/api/v1/devices/pair", {"code": code})["token"]

    def _headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"} if hasattr(self, "token") else {}


class Person(Caller):
    """A carer at a browser, who reads their mail."""

    def __init__(self, stack: MainStack, name: str) -> None:
        super().__init__(stack)
        self.name = name
        self.email = f"{name.split()[0].lower()}@hollin-bank.example"

    def page(self, path: str) -> str:
        """A page, after redirects."""
        answer = self.session.get(
            urljoin(self.stack.url, urlsplit(path)._replace(scheme="", netloc="").geturl())
        )
        if answer.status_code != 200:
            raise Refused(f"GET {path}: {answer.status_code} {answer.text[:500]}")
        return answer.text

    def fill_in(self, path: str, **fields: str) -> requests.Response:
        """Open a page and send its form, hidden fields included, as pressing the button does."""
        hidden = {name: html.unescape(value) for name, value in _HIDDEN.findall(self.page(path))}
        target = urljoin(self.stack.url, urlsplit(path)._replace(scheme="", netloc="").geturl())
        answer = self.session.post(target, data={**hidden, **fields}, headers={"Referer": target})
        if answer.status_code != 200 or (answer.url == target and "/join/" not in path):
            raise Refused(f"POST {path}: {answer.status_code} {answer.text[:3000]}")
        return answer

    def sign_up(self) -> Self:
        """Make an account and confirm the address by the link in the mail."""
        before = len(self.letters())
        self.fill_in(
            "/accounts/signup/", email=self.email, password1=PASSWORD, password2=PASSWORD, name=self.name
        )
        self.stack.until("a letter that asks to confirm the address", lambda: len(self.letters()) > before)
        self.fill_in(link_in(self.letters()[-1], "/accounts/confirm-email/"))
        return self

    def sign_in(self) -> Self:
        """Sign in again, in a browser that knows nothing."""
        self.session.cookies.clear()
        self.fill_in("/accounts/login/", login=self.email, password=PASSWORD)
        return self

    def join(self, kennel: str, letter: Message) -> Self:
        """Follow an invitation: account, address (the letter proves it), membership."""
        place = urlsplit(link_in(letter, "/join/")).path
        self.page(place)
        self.fill_in(
            f"/accounts/signup/?next={place}",
            email=self.email,
            password1=PASSWORD,
            password2=PASSWORD,
            name=self.name,
        )
        self.fill_in(place)
        self.kennel = kennel
        return self

    def letters(self) -> list[Message]:
        """Mail that came, each letter once: a resend carries the same Message-ID, and mail programs show it once."""
        return list({str(one["Message-ID"]): one for one in self.stack.sink.to(self.email)}.values())

    def subjects(self) -> list[str]:
        """Subjects of the letters, oldest first."""
        return [str(one["Subject"]) for one in self.letters()]

    def inbox(self) -> list[str]:
        """Subjects of the messages in the inbox."""
        return [one["subject"] for one in self.every("reminders")]

    def _headers(self) -> dict[str, str]:
        token = self.session.cookies.get("csrf")
        return {"X-CSRFToken": token} if token else {}


def link_in(letter: Message, path: str) -> str:
    """The first address in a letter that leads to this path."""
    found = re.search(rf"https?://\S+?{re.escape(path)}\S+", text_of(letter))
    assert found is not None, text_of(letter)
    return found.group()


def text_of(letter: Message) -> str:
    """The words of a letter."""
    body = letter.get_payload(decode=True)
    assert isinstance(body, bytes)
    return body.decode()

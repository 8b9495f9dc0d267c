"""A real server on the test database, and Debian's chromium as a phone."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    ViewportSize,
    expect,
    sync_playwright,
)
from playwright.sync_api import TimeoutError as BrowserTimeout

from deploy.certificates import Certificates
from kennel.people.models import Carer
from tests.factories.people import PASSWORD, Place

ROOT = Path(__file__).resolve().parents[2]
PHONE: ViewportSize = {"width": 390, "height": 844}
SECONDS = 30
expect.set_options(timeout=20_000)  # a loaded machine is slow, not wrong


@dataclass
class Server:
    """The web server as a child process; it can be stopped and started again on the same port."""

    port: int
    log: Path
    host: str = "127.0.0.1"
    certificates: Certificates | None = None
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Origin of the server."""
        return f"{'https' if self.certificates else 'http'}://{self.host}:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1"]
        command += ["--port", str(self.port), "--workers", "1", "--blocking-threads", "8"]
        if self.certificates:
            command += ["--ssl-certificate", str(self.certificates.leaf)]
            command += ["--ssl-keyfile", str(self.certificates.key)]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*command, "kennel.wsgi:application"],
                cwd=ROOT,
                env={**os.environ, "ORIGIN": self.url, "DB_POOLED": "yes"},
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        deadline = time.monotonic() + SECONDS
        while time.monotonic() < deadline:
            try:
                with socket.create_connection(("127.0.0.1", self.port), timeout=2):
                    return
            except OSError:
                assert self.process.poll() is None, self.log.read_text()[-3000:]
            time.sleep(0.1)
        raise TimeoutError(self.log.read_text()[-3000:])

    def stop(self) -> None:
        """Stop it at once."""
        if self.process and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(timeout=SECONDS)


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def server(database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The server, for all browser tests."""
    running = Server(free_port(), tmp_path_factory.mktemp("server") / "granian.log")
    running.start()
    yield running
    running.stop()


# The synchronous browser driver keeps an event loop in this thread, which Django takes for asynchronous code;
# nothing here is.  One driver per module, so that no other test runs beside that loop.
@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Chromium: CHROMIUM names it, else the one of the system."""
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "yes"
    with sync_playwright() as driver:
        started = driver.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield started
        started.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@dataclass
class Phone:
    """A carer's phone: one browser context and its page; errors of scripts fail the test that caused them."""

    context: BrowserContext
    page: Page
    server: Server
    errors: list[str]

    def sign_in(self, carer: Carer) -> None:
        """By address and password, as people do it."""
        self.page.goto(f"{self.server.url}/accounts/login/")
        self.page.fill("[name=login]", carer.email)
        self.page.fill("[name=password]", PASSWORD)
        self.page.click("main button[type=submit] >> nth=0")
        try:
            self.page.wait_for_url(lambda url: "/accounts/" not in url)
        except BrowserTimeout as late:
            raise TimeoutError(f"{self.page.url} shows: {self.page.inner_text('body')}") from late
        self.wait_ready()

    def open(self, place: Place, path: str = "") -> None:
        """A page of the kennel, with its scripts running."""
        self.page.goto(f"{self.server.url}/kennels/{place.here.uid}/{path}".rstrip("/"))
        self.wait_ready()

    def until(self, script: str, given: object = None, seconds: float = 20) -> None:
        """Until an expression (or its promise) is true; the driver itself takes any promise for true."""
        deadline = time.monotonic() + seconds
        while not self.page.evaluate(script, given):
            if time.monotonic() > deadline:
                seen = f"entries: {self.entries()}; page: {self.page.inner_text('body')}"
                raise TimeoutError(f"{script} with {given}; {seen}")
            self.page.wait_for_timeout(50)

    def wait_ready(self) -> None:
        """Until the scripts of the page have begun."""
        self.page.wait_for_selector("html[data-ready]")

    def shows(self, selector: str, text: str) -> None:
        """Until the first element of a selector holds a text: scripts change one element after the other."""
        expect(self.page.locator(selector).first).to_contain_text(text)

    def wait_for_worker(self) -> None:
        """Until the service worker holds the page."""
        self.until("navigator.serviceWorker.ready.then(() => Boolean(navigator.serviceWorker.controller))")

    def wait_kept(self, path: str) -> None:
        """Until a copy of that path lies on the device."""
        self.until("async (path) => Boolean(await (await caches.open('pages')).match(path))", path)

    def go_offline(self) -> None:
        """No network."""
        self.context.set_offline(True)

    def go_online(self) -> None:
        """Network again."""
        self.context.set_offline(False)

    def entries(self) -> list[dict[str, object]]:
        """What lies in the device's own store."""
        found: list[dict[str, object]] = self.page.evaluate(
            "import('/static/web/store.js').then((store) => store.allEntries())"
        )
        return found

    def unsent(self) -> str:
        """The counter at the top."""
        return self.page.inner_text("#unsent")

    def wait_states(self, *states: str) -> None:
        """Until the entries of the device, in the order they were made, are in these states."""
        self.until(
            """async (wanted) => {
                const store = await import('/static/web/store.js');
                const all = (await store.allEntries()).sort((a, b) => a.made_at.localeCompare(b.made_at));
                return all.map((entry) => entry.state).join() === wanted;
            }""",
            ",".join(states),
        )

    def wait_unsent(self, text: str) -> None:
        """Until the counter says this."""
        self.until("(text) => document.getElementById('unsent').textContent === text", text)


class MakePhone(Protocol):
    """make_phone("dark") gives a fresh phone."""

    def __call__(
        self, scheme: Literal["light", "dark"] = "light", size: ViewportSize = PHONE, *, scripts: bool = True
    ) -> Phone:
        """A phone with an empty store that nobody is signed in on."""


@pytest.fixture
def make_phone(browser: Browser, server: Server, db: None) -> Iterator[MakePhone]:
    """Makes phones; an error of a script on any of them fails the test."""
    phones: list[Phone] = []

    def make(
        scheme: Literal["light", "dark"] = "light", size: ViewportSize = PHONE, *, scripts: bool = True
    ) -> Phone:
        context = browser.new_context(
            viewport=size,
            color_scheme=scheme,
            locale="en-GB",
            timezone_id="America/New_York",
            java_script_enabled=scripts,
        )
        context.set_default_timeout(15_000)
        phone = Phone(context, context.new_page(), server, [])
        phone.page.on("pageerror", lambda error: phone.errors.append(str(error)))
        phone.page.on("console", lambda message: _note(phone, message))
        phones.append(phone)
        return phone

    yield make
    for phone in phones:
        phone.context.close()
    assert [error for phone in phones for error in phone.errors] == []


def _note(phone: Phone, message: ConsoleMessage) -> None:
    # A request that did not arrive is what these tests are about; anything else is a defect.
    if message.type == "error" and "Failed to load resource" not in message.text:
        phone.errors.append(message.text)


@pytest.fixture
def phone(make_phone: MakePhone) -> Phone:
    """A phone in daylight."""
    return make_phone()

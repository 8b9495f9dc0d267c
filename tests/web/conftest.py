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

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from deploy.certificates import Certificates
from kennel.people.models import Carer
from tests.factories.people import PASSWORD, Place

ROOT = Path(__file__).resolve().parents[2]
PHONE = {"width": 390, "height": 844}
SECONDS = 30


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
        self.page.wait_for_url(lambda url: "/accounts/" not in url)
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


@pytest.fixture
def make_phone(browser: Browser, server: Server, db: None) -> Iterator[object]:
    """make_phone(scheme="light", size=...) gives a fresh phone."""
    phones: list[Phone] = []

    def make(scheme: str = "light", size: dict[str, int] | None = None, **more: object) -> Phone:
        context = browser.new_context(
            viewport=size or PHONE,
            color_scheme=scheme,
            locale="en-GB",
            timezone_id="America/New_York",
            **more,
        )
        context.set_default_timeout(15_000)
        page = context.new_page()
        phone = Phone(context, page, server, [])
        page.on("pageerror", lambda error: phone.errors.append(str(error)))
        page.on(
            "console",
            lambda message: (
                phone.errors.append(message.text)
                if message.type == "error" and "Failed to load resource" not in message.text
                else None
            ),
        )
        phones.append(phone)
        return phone

    yield make
    for phone in phones:
        phone.context.close()
    assert [error for phone in phones for error in phone.errors] == []


@pytest.fixture
def phone(make_phone: object) -> Phone:
    """A phone in daylight."""
    made = make_phone()  # type: ignore[operator]
    assert isinstance(made, Phone)
    return made

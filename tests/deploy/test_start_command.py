"""Options, greeting, logs and the ping to an outside monitor."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from deploy import greeting, logs
from deploy.certificates import Certificates
from deploy.monitor_ping import ping_once
from deploy.options import Options, parse
from deploy.services import LONGEST_DELAY_S, STEADY_S, Watched


def test_the_options_mean_what_they_say() -> None:
    assert parse([]) == Options(None, None, True, None)
    chosen = parse(["--state", "/srv/k", "--port", "9000", "--no-demo", "--lan-name", "Nursery.Local"])
    assert chosen == Options(Path("/srv/k"), 9000, False, "nursery.local")


@pytest.mark.parametrize(
    "words",
    [
        ["--port", "70000"],
        ["--port", "x"],
        ["--lan-name", "192.168.1.4"],
        ["--lan-name", "a_b"],
        ["--lan-name", "-a"],
    ],
)
def test_impossible_options_end_with_code_2(words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        parse(words)
    assert ended.value.code == 2


def test_the_greeting_names_address_sign_ins_token_and_the_place_of_the_mail() -> None:
    demo = {
        "sign_ins": [
            {"name": "Maud Ferrier", "email": "maud@hollin-bank.example", "password": "pw", "role": "keeper"}
        ],
        "device_token": "kn_dev_1_token",
        "kennel": "0190a5d0-5a00-7000-8000-0000000b0111",
    }
    text = greeting.greeting(
        origin="http://127.0.0.1:8001",
        state=Path("/srv/k"),
        seconds=2.34,
        demo=demo,
        mail=Path("/srv/k/mail"),
        sends_mail=False,
    )
    for part in (
        "http://127.0.0.1:8001",
        "2.3 s",
        "maud@hollin-bank.example   pw",
        "kn_dev_1_token",
        demo["kennel"],
        "/srv/k/mail",
    ):
        assert part in text


def test_without_demo_and_mail_server_it_says_that_no_mail_goes_out() -> None:
    text = greeting.greeting(
        origin="http://127.0.0.1:8000", state=Path("/s"), seconds=1, demo={}, mail=None, sends_mail=False
    )
    assert "switched off" in text
    assert "sign in" not in text


def test_phones_get_a_code_to_scan_where_the_terminal_can_show_it_and_always_the_fingerprint() -> None:
    fingerprint = ":".join(["A1"] * 16 + ["B2"] * 16)
    made = Certificates(
        Path("/s/authority.pem"), Path("/s/leaf.pem"), Path("/s/leaf.key"), fingerprint, False
    )
    page = "http://192.168.1.20:40000/"
    shown = greeting.certificate_lines(made, "https://nursery.local:8443", page, True)
    assert page in shown
    assert "█" in shown
    plain = greeting.certificate_lines(made, "https://nursery.local:8443", page, False)
    assert "█" not in plain
    for text in (shown, plain):
        assert ":".join(["A1"] * 16) in text
        assert ":".join(["B2"] * 16) in text


def test_a_log_that_grew_too_large_is_moved_aside_and_its_writer_goes_on(tmp_path: Path) -> None:
    small, large = tmp_path / "beat.log", tmp_path / "web.log"
    small.write_text("short\n")
    with large.open("ab", buffering=0) as writer:
        writer.write(b"old line\n" * 100)
        assert logs.rotate(tmp_path, most_bytes=500) == ["web.log"]
        writer.write(b"new line\n")
    assert large.read_text() == "new line\n"
    assert (tmp_path / "web.log.1").read_text() == "old line\n" * 100
    assert small.read_text() == "short\n"


class Fragile:
    """A service that never runs for long."""

    def __init__(self) -> None:
        self.starts = 0
        self.alive = False
        self.trouble: OSError | None = None
        self.pid: int | None = 1

    def start(self) -> None:
        if self.trouble:
            raise self.trouble
        self.starts += 1
        self.alive = True

    def running(self) -> bool:
        return self.alive

    def stop(self, seconds: float) -> bool:
        return True


def test_a_part_that_keeps_ending_is_started_again_ever_later_and_soon_again_after_a_steady_time() -> None:
    service = Fragile()
    watched = Watched("worker", service, 1.0)
    watched.start(0.0)
    now, delays = 0.0, []
    for _ in range(12):
        service.alive = False
        assert watched.look(now) == "worker ended; starting it again"
        assert watched.again_at is not None
        delays.append(watched.again_at - now)
        now = watched.again_at
        assert watched.look(now) is None
        assert service.alive
    assert delays == sorted(delays)
    assert delays[0] < 1
    assert delays[-1] == LONGEST_DELAY_S
    assert watched.restarts == 12
    now += STEADY_S + 1
    service.alive = False
    watched.look(now)
    assert watched.again_at is not None
    assert watched.again_at - now == pytest.approx(delays[0])


class Web(ThreadingHTTPServer):
    """A web server whose /healthz answer can be set, and which counts the calls of the monitor."""

    pings = 0
    health = 200


def test_a_part_that_cannot_be_started_just_now_is_tried_again_later() -> None:
    """A full disk or missing memory passes; the other parts go on meanwhile."""
    service = Fragile()
    watched = Watched("valkey", service, 1.0)
    watched.start(0.0)
    service.alive = False
    service.trouble = OSError(28, "No space left on device")
    assert watched.look(1.0) == "valkey ended; starting it again"
    assert watched.look(2.0) == "valkey could not be started: [Errno 28] No space left on device"
    assert watched.look(2.1) is None
    service.trouble = None
    assert watched.look(40.0) is None
    assert service.alive
    assert watched.restarts == 1


@pytest.fixture
def web() -> Iterator[tuple[Web, str]]:
    """The server and its address."""

    class Answers(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            if self.path == "/ping":
                server.pings += 1
            self.send_response(server.health if self.path == "/healthz" else 200)
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = Web(("127.0.0.1", 0), Answers)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server, f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()


def test_the_outside_monitor_is_called_only_while_the_server_says_it_is_well(web: tuple[Web, str]) -> None:
    server, address = web
    assert "answered 200" in ping_once(f"{address}/ping", f"{address}/healthz", "kennel", None)
    assert server.pings == 1
    server.health = 503
    assert "not well" in ping_once(f"{address}/ping", f"{address}/healthz", "kennel", None)
    assert server.pings == 1


def test_an_unreachable_monitor_is_said_and_stops_nothing(web: tuple[Web, str]) -> None:
    _, address = web
    assert "could not be reached" in ping_once(
        "http://127.0.0.1:1/ping", f"{address}/healthz", "kennel", None
    )

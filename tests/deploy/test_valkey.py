"""The built-in Valkey."""

import os
import signal
import stat
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
import redis

from deploy.valkey import Server, ValkeyFailed


@pytest.fixture
def server(place: Path) -> Iterator[Server]:
    """A throw-away server."""
    with Server(place / "valkey") as started:
        yield started


def test_it_answers_only_to_its_password(server: Server) -> None:
    with redis.Redis.from_url(server.url) as known:
        assert known.ping()
    port = server.port or 0
    with redis.Redis(port=port) as stranger, pytest.raises(redis.AuthenticationError):
        stranger.ping()
    with redis.Redis(port=port, password="wrong") as guesser, pytest.raises(redis.AuthenticationError):
        guesser.ping()


def test_it_refuses_new_messages_when_full_and_keeps_nothing_on_disk(server: Server) -> None:
    with redis.Redis.from_url(server.url) as known:
        assert known.config_get("maxmemory-policy") == {"maxmemory-policy": "noeviction"}
        assert known.config_get("save") == {"save": ""}
        assert known.config_get("appendonly") == {"appendonly": "no"}
        assert known.config_get("bind") == {"bind": "127.0.0.1"}


def test_the_password_is_neither_on_the_command_line_nor_readable_by_others(server: Server) -> None:
    word = server.url.split("@")[0].removeprefix("redis://:")
    assert word not in " ".join(psutil.Process(server.pid).cmdline())
    assert stat.S_IMODE((server.folder / "valkey.conf").stat().st_mode) == 0o600


def test_it_starts_again_after_a_kill_on_the_same_port(place: Path) -> None:
    with Server(place / "valkey") as server:
        port = server.port
        assert server.pid is not None
        os.kill(server.pid, signal.SIGKILL)
        while server.running():
            time.sleep(0.01)
        assert not server.answers()
        server.start()
        server.wait_ready()
        assert server.port == port


def test_the_reason_is_shown_when_it_cannot_start(server: Server, place: Path) -> None:
    second = Server(place / "second" / "valkey", port=server.port)
    second.start()
    with pytest.raises(ValkeyFailed, match=r"(?i)in use|bind"):
        second.wait_ready()


def test_another_server_on_the_port_is_not_taken_for_ours(server: Server, place: Path) -> None:
    assert not Server(place / "second" / "valkey", port=server.port, password="another").answers()

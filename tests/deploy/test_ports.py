"""Which port the pages get."""

import socket
import sys
from collections.abc import Iterator

import pytest

from deploy.ports import LOOPBACK, PortBusy, any_free, is_free, web_port


@pytest.fixture
def taken() -> Iterator[int]:
    """A port somebody listens on."""
    with socket.create_server((LOOPBACK, 0)) as listener:
        yield listener.getsockname()[1]


def test_a_port_somebody_listens_on_is_not_free(taken: int) -> None:
    assert not is_free(taken)
    assert not is_free(taken, "0.0.0.0")


def test_the_default_gives_way_to_the_next_free_one(taken: int) -> None:
    chosen = web_port(None, taken)
    assert taken < chosen.port < taken + 100
    assert is_free(chosen.port)
    chosen.release()


def test_a_port_asked_for_by_number_is_never_replaced_by_another(taken: int) -> None:
    with pytest.raises(PortBusy, match="--port"):
        web_port(taken, 8000)
    free = any_free()
    chosen = web_port(free, 8000)
    assert chosen.port == free
    chosen.release()


def test_zero_asks_for_any_free_port() -> None:
    chosen = web_port(0, 8000)
    assert is_free(chosen.port)
    chosen.release()


@pytest.mark.skipif(sys.platform != "linux", reason="abstract sockets are Linux only")
def test_a_promised_port_is_not_promised_twice_although_nobody_listens_on_it_yet() -> None:
    """Two servers started in the same second once shared one port."""
    first = web_port(None, 8000)
    second = web_port(None, 8000)
    assert first.port != second.port
    with pytest.raises(PortBusy):
        web_port(first.port, 8000)
    first.release()
    again = web_port(first.port, 8000)
    assert again.port == first.port
    again.release()
    second.release()


def test_a_free_port_is_none_of_those_already_promised() -> None:
    promised: list[int] = []
    for _ in range(20):
        promised.append(any_free(taken=promised))
    assert len(set(promised)) == 20

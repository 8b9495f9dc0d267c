"""A server child on the test database, a kennel with a litter in it, and a seed that is printed."""

import os
import random
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from tests.factories.people import Place, make_device, make_kennel
from tests.factories.records import Nest, make_nest
from tests.faults.server import AppServer, Client


@pytest.fixture(scope="session")
def app_server(database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[AppServer]:
    """The server, for all fault tests that leave it running."""
    with AppServer(tmp_path_factory.mktemp("faults") / "granian.log", threads=16) as running:
        yield running


@pytest.fixture
def seed() -> int:
    """FAULT_SEED repeats a run; printed, so that a failure can be repeated."""
    chosen = int(os.environ.get("FAULT_SEED") or random.randrange(2**32))
    print(f"FAULT_SEED={chosen}")
    return chosen


@dataclass
class Scene:
    """A kennel, its litter, and devices that speak to the server."""

    place: Place
    nest: Nest
    port: int

    def client(self, scopes: tuple[str, ...] = ("read", "write"), timeout_s: float = 20) -> Client:
        """Another device."""
        token = make_device(self.place, scopes, self.place.keeper)[1]
        return Client(self.port, str(self.place.here.uid), token, timeout_s)


@pytest.fixture
def scene(db: None, app_server: AppServer) -> Scene:
    """Hollin Bank with a litter of three."""
    place = make_kennel()
    return Scene(place, make_nest(place), app_server.port)

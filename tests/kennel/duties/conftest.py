"""Duty kinds for the tests, and a mail server that can be told to misbehave."""

from collections.abc import Iterator
from typing import Any

import pytest

from kennel.records import types
from tests.kennel.duties import kinds_for_tests, mail, scenes


@pytest.fixture(autouse=True, scope="package")
def _kinds() -> None:
    kinds_for_tests.register_once()


@pytest.fixture
def scene(db: None) -> scenes.Scene:
    """Hollin Bank in London with a keeper, two carers, a reader, and a litter of three."""
    return scenes.Scene()


@pytest.fixture
def weighings_close_duties() -> Iterator[None]:
    """As litters will do it: weighings settle what was asked of their pup, a deleted one takes that back."""
    types.react(["weighing"], kinds_for_tests.on_weighings)
    yield
    types.reactions("weighing").remove(kinds_for_tests.on_weighings)


@pytest.fixture
def sink(settings: Any) -> Iterator[mail.Sink]:
    """A mail server on loopback; the settings point at it."""
    with mail.Sink() as running:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", running.port
        settings.EMAIL_TIMEOUT = 2
        settings.MAIL_CONFIGURED = True
        yield running


@pytest.fixture
def count_queries() -> scenes.CountQueries:
    """count_queries(): a context that gathers the statements of both database roles."""
    from django.db import connections
    from django.test.utils import CaptureQueriesContext

    def start(alias: str = "default") -> CaptureQueriesContext:
        return CaptureQueriesContext(connections[alias])

    return start

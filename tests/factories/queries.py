"""Counting queries of a request, with everything that belongs to the request itself."""

from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.api import DeviceClient


def queries_of(client: DeviceClient, path: str) -> tuple[int, Any]:
    """(queries, answer) of a second look at a path: the first one fills caches."""
    client.get(path)
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(path)
    assert answer.status_code == 200, answer.content
    return len(caught), answer

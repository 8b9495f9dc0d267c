"""What a monitor and the people are told about the server's own health."""

import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache

from kennel.upkeep import installation, probes
from tests.api import DeviceClient
from tests.factories.people import make_kennel

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def records() -> DeviceClient:
    return DeviceClient(make_kennel())


def test_the_probes_say_what_is_wrong(records: DeviceClient) -> None:
    assert records.http.get("/livez").status_code == 200
    health = records.http.get("/healthz")
    assert health.status_code == 503
    assert health.json()["database"]["well"] is True
    assert health.json()["reminders"]["well"] is False
    assert records.http.get("/problems/version-mismatch").status_code == 200
    assert records.http.get("/problems/nonsense").status_code == 404


def test_a_server_without_a_backup_is_well_only_while_it_is_new(
    records: DeviceClient, settings: Any, tmp_path: Path
) -> None:
    settings.STATE_DIR = str(tmp_path)
    began_at = installation.began_at()
    assert began_at is not None
    for hours, is_well in ((1, True), (35.9, True), (36.1, False)):
        found = {one.name: one for one in probes.findings(began_at + timedelta(hours=hours))}
        assert found["backup"].is_well is is_well, hours


def test_the_banner_gives_a_process_that_has_just_begun_its_first_tick(
    records: DeviceClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = records.place.here
    monkeypatch.setattr(probes, "_BEGAN_S", time.monotonic())
    assert probes.banner(here) is None
    cache.delete("banner:reminders")
    monkeypatch.setattr(probes, "_BEGAN_S", time.monotonic() - 61)
    told = probes.banner(here)
    assert told is not None
    assert "not running" in told.text

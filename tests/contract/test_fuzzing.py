"""Fault test 21: the API against its own description, by schemathesis, in all phases.

The description is made on the spot.  The default run is bounded by count and always draws the same; how to look for
longer, or elsewhere, stands in DEVELOPERS.md.
"""

import os
import random
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator

from tests.contract.run import UNFIT_CHECKS, Effort, Seen, run
from tests.contract.scene import make_scene
from tests.faults.server import AppServer

MINUTES = float(os.environ.get("FUZZ_MINUTES") or 0)
pytestmark = [
    pytest.mark.usefixtures("db"),
    pytest.mark.fault,
    pytest.mark.e2e,
    pytest.mark.timeout(900 + int(MINUTES * 90)),
]

CASES, SUCCEEDING = 2000, 0.30
SHORT = (
    Effort(examples=1, seconds=None, phases=("examples",)),
    Effort(examples=5, seconds=None, phases=("coverage", "fuzzing"), share=0.15, boundary_share=0.07),
    Effort(examples=4, seconds=10, phases=("stateful",), share=0.5),
)
LONG = (
    Effort(500, int(MINUTES * 48), ("examples", "coverage", "fuzzing"), UNFIT_CHECKS),
    Effort(500, int(MINUTES * 12), ("stateful",), UNFIT_CHECKS),
)
USUAL_SEED = 20260301


@pytest.fixture
def server(database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[AppServer]:
    """A server of this test."""
    with AppServer(tmp_path_factory.mktemp("contract") / "granian.log", threads=8) as running:
        yield running


@pytest.fixture
def seed() -> int:
    """FUZZ_SEED, or a new one for a long run, or the usual one; printed, so that a failure can be repeated."""
    chosen = int(os.environ.get("FUZZ_SEED") or (random.randrange(2**32) if MINUTES else USUAL_SEED))
    print(f"FUZZ_SEED={chosen}")
    return chosen


def test_21_the_api_keeps_to_its_description(
    server: AppServer, seed: int, settings: Any, tmp_path: Path
) -> None:
    settings.STATE_DIR = tmp_path
    began = time.monotonic()
    scene, seen = make_scene(), Seen()
    print(f"kennel filled in {time.monotonic() - began:.0f} s")
    raw = SchemaGenerator().get_schema(request=None, public=True)
    url = f"http://127.0.0.1:{server.port}"
    for effort in LONG if MINUTES else SHORT:
        began, before = time.monotonic(), seen.cases
        run(raw, url, scene, seen, effort, seed)
        took_s = time.monotonic() - began
        print(f"{'+'.join(effort.phases)}: {seen.cases - before} calls in {took_s:.0f} s")
    print(f"{seen.cases} calls, {seen.good} succeeded; {dict(seen.statuses)}; scenarios {dict(seen.phases)}")
    assert seen.failures == {}, "\n\n".join(f"{k}\n{v}" for k, v in list(seen.failures.items())[:12])
    assert [status for status in seen.statuses if status >= 500] == []
    assert set(seen.phases) >= {"examples", "coverage", "fuzzing", "stateful"}
    assert seen.cases >= CASES
    never = set(scene.calls) - set(seen.succeeded)
    answers = {
        called: {s: n for (*c, s), n in seen.refused.items() if tuple(c) == called} for called in never
    }
    assert answers == {}, "operations that never succeeded"
    assert seen.good / seen.cases >= SUCCEEDING

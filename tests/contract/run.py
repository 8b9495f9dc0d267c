"""One run of the generators against a server, and what came back."""

import json
import random
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import schemathesis
from schemathesis import config as settings
from schemathesis.engine import events, from_schema

from kennel.api.problems import SLUGS
from tests.contract.generators import hook_into
from tests.contract.scene import Scene

# `use_after_free` expects 404 after DELETE; here a deleted record can be read (marked so) and restored for 30 days.
UNFIT_CHECKS = ("use_after_free",)
# Doubles the calls; the authorisation matrix (tests/tenancy) asks every operation without and with dead tokens.
ASKED_ELSEWHERE = ("ignored_auth",)
# What a well-formed request may still be refused with: rules no schema can say, preconditions, cursors.
ALSO_FOR_GOOD_DATA = ["2xx", "3xx", "400", "403", "404", "409", "410", "412", "422", "428"]
ALSO_FOR_BAD_DATA = ["400", "401", "403", "404", "405", "409", "410", "412", "413", "415", "422", "428"]


@dataclass
class Seen:
    """What came back."""

    statuses: Counter[int] = field(default_factory=Counter)
    succeeded: Counter[tuple[str, str]] = field(default_factory=Counter)
    refused: Counter[tuple[str, str, int]] = field(default_factory=Counter)
    failures: dict[str, str] = field(default_factory=dict)
    phases: Counter[str] = field(default_factory=Counter)

    @property
    def cases(self) -> int:
        """Calls made."""
        return sum(self.statuses.values())

    @property
    def good(self) -> int:
        """Calls that succeeded."""
        return sum(count for status, count in self.statuses.items() if 200 <= status < 400)


@dataclass(frozen=True)
class Effort:
    """How much is tried: examples for each operation, which phases, which checks are left out.

    seconds: the phases are repeated until so long has passed; None: once.

    share: of the operations that are the same code for every record type, the part that is tried; all when 1.
    boundary_share: of the calls that walk along the edges of the description (some 20,000), the part that is sent.
    """

    examples: int
    seconds: int | None
    phases: tuple[str, ...]
    without: tuple[str, ...] = UNFIT_CHECKS + ASKED_ELSEWHERE
    share: float = 1
    boundary_share: float = 1

    def leaves_out(self, method: str, path: str, seed: int) -> bool:
        """Whether this effort passes over an operation; which ones, the seed says."""
        is_alike = path.endswith(("/restore", "/history"))
        is_alike |= method.upper() in ("GET", "DELETE") and path.endswith("/{uid}")
        return is_alike and random.Random(f"{method} {path} {seed}").random() >= self.share


def run(raw: dict[str, Any], url: str, scene: Scene, seen: Seen, effort: Effort, seed: int) -> None:
    """Run the phases of an effort; what came back is added to `seen`."""
    config = settings.SchemathesisConfig(
        seed=seed,
        max_time=effort.seconds,
        suppress_health_check=[settings.HealthCheck.all],
        projects=settings.ProjectsConfig(default=_project(url, scene, effort)),
    )
    schema = schemathesis.openapi.from_dict(raw, config=config).exclude(
        lambda context: effort.leaves_out(context.operation.method, context.operation.path, seed)
    )
    hook_into(schema, scene, effort.boundary_share)
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            seen.phases[event.phase.value] += 1
            _note(event.recorder, seen)
        elif isinstance(event, events.NonFatalError | events.FatalError):
            said = getattr(event, "value", None) or getattr(event, "exception", event)
            seen.failures[f"error in {getattr(event, 'label', 'engine')}"] = str(said)[:1500]


def _project(url: str, scene: Scene, effort: Effort) -> settings.ProjectConfig:
    checks = settings.ChecksConfig(
        **{name: settings.SimpleCheckConfig(enabled=False) for name in effort.without}  # type: ignore[arg-type]
    )
    checks.positive_data_acceptance.expected_statuses = ALSO_FOR_GOOD_DATA
    checks.negative_data_rejection.expected_statuses = ALSO_FOR_BAD_DATA
    checks.missing_required_header.expected_statuses = ["400", "401", "403", "404", "428"]
    phases = settings.PhasesConfig()
    for name in ("examples", "coverage", "fuzzing", "stateful"):
        getattr(phases, name).enabled = name in effort.phases
    phases.coverage.unexpected_methods = {"PUT"}
    return settings.ProjectConfig(
        base_url=url,
        headers={"Authorization": f"Bearer {scene.token}"},
        parameters={
            "path.kennel": scene.kennel
        },  # other kennels are the business of the authorisation matrix
        workers=1,
        continue_on_failure=True,
        request_timeout=20,
        checks=checks,
        phases=phases,
        generation=settings.GenerationConfig(max_examples=effort.examples, no_shrink=True),
    )


def _note(recorder: Any, seen: Seen) -> None:
    for identifier, interaction in recorder.interactions.items():
        node, answer = recorder.cases.get(identifier), interaction.response
        if answer is None or node is None:
            continue
        called = node.value.method.upper(), node.value.operation.path
        seen.statuses[answer.status_code] += 1
        if answer.status_code < 300:
            seen.succeeded[called] += 1
        elif answer.status_code >= 400:
            seen.refused[*called, answer.status_code] += 1
            if wrong := wrong_with_refusal(answer.status_code, answer.headers, answer.content):
                what = interaction.request
                text = f"{what.method} {what.uri}\n{what.body!r}\n{answer.content!r}"
                seen.failures.setdefault(f"{wrong}: {' '.join(called)}", text[:1500])
    for identifier, checked in recorder.checks.items():
        for check in checked:
            if check.failure_info is not None:
                case = recorder.cases[identifier].value
                text = f"{check.failure_info.failure}\n{check.failure_info.code_sample}"
                label = f"{check.name}: {case.method} {case.operation.path}"
                seen.failures.setdefault(label, text[:1500])


def wrong_with_refusal(status: int, headers: Any, content: bytes | None) -> str | None:
    """What a refusal lacks of being a problem document (RFC 9457) that says what is wrong with which field."""
    if status >= 500:
        return f"{status}"
    kind = headers.get("content-type") or headers.get("Content-Type") or ""
    if "application/problem+json" not in kind:  # schemathesis keeps a list of values
        return "no problem document"
    if not content:
        return None  # HEAD
    problem = json.loads(content)
    if SLUGS[problem["type"].removeprefix("/problems/")].status != status or problem["status"] != status:
        return "the wrong status"
    if not problem["detail"]:
        return "no detail"
    if status == 422 and not all(
        one["pointer"].startswith("#") for one in problem.get("errors") or [{"pointer": ""}]
    ):
        return "no field named"
    return None

"""Fault test 21: the API against its own description, by schemathesis, in all phases.

The description is made on the spot.  Hooks put real uids, parents and preconditions where a generated value is
well-formed but names nothing, so that calls reach the code behind the look-ups.
"""

import os
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import pytest
import schemathesis
from drf_spectacular.generators import SchemaGenerator
from schemathesis import config as settings
from schemathesis.engine import events, from_schema

from kennel.people.choices import Role
from kennel.people.models import Device
from kennel.records import types
from tests.factories.people import add_member, make_device, make_kennel
from tests.faults.server import AppServer
from tests.tenancy.callers import EVERYTHING, member_uid
from tests.tenancy.operations import BASE, World, routed

pytestmark = [pytest.mark.usefixtures("db"), pytest.mark.fault, pytest.mark.timeout(400)]

CASES, SUCCEEDING = 2000, 0.30
SECONDS_DATA, SECONDS_STATEFUL = 70, 25
# Operations that no device's token may do: a person does, or a shared tablet, or nobody is asked for a token.
# Their own tests are in tests/kennel/people and tests/kennel/duties.
NOT_FOR_THIS_TOKEN = {
    ("POST", "/api/v1/kennels"),
    ("POST", "/api/v1/invitations/accept"),
    ("POST", "/api/v1/kennels/{kennel}/tablet/act"),
    ("DELETE", "/api/v1/kennels/{kennel}/tablet/act"),
}
# `use_after_free` expects 404 after DELETE; here a deleted record can be read (marked so) and restored for 30 days.
UNFIT_CHECKS = ["use_after_free"]
# What a well-formed request may still be refused with: rules no schema can say, preconditions, cursors.
ALSO_FOR_GOOD_DATA = ["2xx", "3xx", "400", "403", "404", "409", "410", "412", "422", "428"]
ALSO_FOR_BAD_DATA = ["400", "401", "403", "404", "405", "409", "410", "412", "413", "415", "422", "428"]


@dataclass
class Seen:
    """What came back."""

    statuses: Counter[int] = field(default_factory=Counter)
    succeeded: Counter[tuple[str, str]] = field(default_factory=Counter)
    failures: dict[str, str] = field(default_factory=dict)
    phases: Counter[str] = field(default_factory=Counter)

    @property
    def cases(self) -> int:
        """Calls made."""
        return sum(self.statuses.values())


def _coin(value: Any, of_ten: int) -> bool:
    """Always the same for the same value, so that a failing case can be repeated."""
    return random.Random(repr(value)).randrange(10) < of_ten


def _is_uid(value: Any) -> bool:
    try:
        return isinstance(value, str) and len(value) == 36 and bool(UUID(value))
    except ValueError:
        return False


def _hook_in(schema: Any, world: World, calls: dict[tuple[str, str], Any]) -> None:
    kennel = str(world.place.here.uid)
    real: dict[str, str] = {}
    for (_, path), call in calls.items():
        for word in call.path.split("?")[0].split("/"):
            if _is_uid(word) and word != kennel:
                real.setdefault(path, word)

    @schema.hook
    def map_path_parameters(context: Any, path_parameters: Any) -> Any:
        if not path_parameters:
            return path_parameters
        changed = dict(path_parameters)
        if _is_uid(changed.get("kennel")) and _coin(changed, 9):
            changed["kennel"] = kennel
        if _is_uid(changed.get("uid")) and _coin(changed, 8):
            changed["uid"] = real.get(context.operation.path, changed["uid"])
        return changed

    @schema.hook
    def map_headers(context: Any, headers: Any) -> Any:
        if not headers or "If-Match" not in headers or not _coin(dict(headers), 8):
            return headers
        return {**headers, "If-Match": "*"}

    @schema.hook
    def map_query(context: Any, query: Any) -> Any:
        if not query:
            return query
        dropped = {"cursor", "page"} | {t for r in types.every() for t in r.refs}
        return {k: v for k, v in query.items() if k not in dropped or not _coin(v, 8)}

    @schema.hook
    def map_body(context: Any, body: Any) -> Any:
        parts = context.operation.path.removeprefix(f"{BASE}kennels/{{kennel}}/").split("/")
        record_type = types.by_plural(parts[0])
        if not isinstance(body, dict) or record_type is None:
            return body
        changed = dict(body)
        for name, target in record_type.refs.items():
            if _is_uid(changed.get(name)):
                changed[name] = world.stock.parent(target)
        if _is_uid(changed.get("uid")):
            changed["uid"] = str(UUID(bytes=UUID(changed["uid"]).bytes, version=4))
        return changed

    @schema.hook
    def before_add_examples(context: Any, examples: list[Any]) -> None:
        operation = context.operation
        call = calls.get((operation.method.upper(), operation.path))
        if call is not None:
            examples.append(_example(operation, call, kennel))


def _example(operation: Any, call: Any, kennel: str) -> Any:
    where, _, query = call.path.partition("?")
    words = (where if where.startswith("/") else f"{BASE}kennels/{kennel}/{where}").split("/")
    names = operation.path.split("/")
    found = {n[1:-1]: w for n, w in zip(names, words, strict=True) if n.startswith("{")}
    more: dict[str, Any] = {}
    if call.body is not None:
        more = {"body": call.body, "media_type": "application/json"}
    return operation.Case(
        path_parameters=found,
        headers={name.replace("_", "-"): value for name, value in call.headers.items()},
        query=dict(pair.split("=", 1) for pair in query.split("&")) if query else {},
        **more,
    )


def _project(url: str, token: str, kennel: str, *, stateful: bool) -> settings.ProjectConfig:
    checks = settings.ChecksConfig(
        **{name: settings.SimpleCheckConfig(enabled=False) for name in UNFIT_CHECKS}  # type: ignore[arg-type]
    )
    checks.positive_data_acceptance.expected_statuses = ALSO_FOR_GOOD_DATA
    checks.negative_data_rejection.expected_statuses = ALSO_FOR_BAD_DATA
    checks.missing_required_header.expected_statuses = ["400", "401", "403", "404", "428"]
    phases = settings.PhasesConfig()
    phases.stateful.enabled = stateful
    for phase in (phases.examples, phases.coverage, phases.fuzzing):
        phase.enabled = not stateful
    return settings.ProjectConfig(
        base_url=url,
        headers={"Authorization": f"Bearer {token}"},
        parameters={"path.kennel": kennel},  # other kennels are the business of the authorisation matrix
        workers=1,
        continue_on_failure=True,
        request_timeout=20,
        checks=checks,
        phases=phases,
        generation=settings.GenerationConfig(max_examples=15 if not stateful else 20, no_shrink=True),
    )


def _run(
    raw: dict[str, Any],
    url: str,
    token: str,
    kennel: str,
    hook: Any,
    seen: Seen,
    *,
    stateful: bool,
    seed: int,
) -> None:
    project = _project(url, token, kennel, stateful=stateful)
    config = settings.SchemathesisConfig(
        seed=seed,
        max_time=SECONDS_STATEFUL if stateful else SECONDS_DATA,
        suppress_health_check=[settings.HealthCheck.all],
        projects=settings.ProjectsConfig(default=project),
    )
    schema = schemathesis.openapi.from_dict(raw, config=config)
    hook(schema)
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            seen.phases[event.phase.value] += 1
            _note(event.recorder, seen)
        elif isinstance(event, events.NonFatalError | events.FatalError):
            seen.failures[f"error in {getattr(event, 'label', 'engine')}"] = str(
                getattr(event, "value", None) or getattr(event, "exception", event)
            )[:1500]


def _note(recorder: Any, seen: Seen) -> None:
    for identifier, interaction in recorder.interactions.items():
        if interaction.response is None:
            continue
        status = interaction.response.status_code
        seen.statuses[status] += 1
        node = recorder.cases.get(identifier)
        if node is not None and 200 <= status < 300:
            seen.succeeded[node.value.method.upper(), node.value.operation.path] += 1
    for identifier, nodes in recorder.checks.items():
        for check in nodes:
            if check.failure_info is not None:
                node = recorder.cases[identifier]
                label = f"{check.name}: {node.value.method} {node.value.operation.path}"
                text = f"{check.failure_info.failure}\n{check.failure_info.code_sample}"
                seen.failures.setdefault(label, text[:1200])


@pytest.fixture
def server(database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[AppServer]:
    """A server of this test."""
    with AppServer(tmp_path_factory.mktemp("contract") / "granian.log", threads=8) as running:
        yield running


def test_21_the_api_keeps_to_its_description(server: AppServer) -> None:
    seed = int(os.environ.get("FAULT_SEED") or random.randrange(2**32))
    print(f"FAULT_SEED={seed}")
    place = make_kennel()
    world, seen = World(place), Seen()
    for record_type in types.every():
        world.stock.parent(record_type.name)
    token = make_device(place, EVERYTHING, place.keeper)[1]
    calls = {}
    for operation in routed():
        if (operation.method, BASE + operation.path) in NOT_FOR_THIS_TOKEN:
            continue
        if operation.id == "POST devices/pair":
            made = world.device.post("devices", {"name": "Scale", "kind": "scale"}).json()
            call = type(
                "Pair",
                (),
                {"path": f"{BASE}devices/pair", "body": {"code": made["pairing"]["code"]}, "headers": {}},
            )
        else:
            call = world.call(operation)
        calls[operation.method, BASE + operation.path] = call
    assert Device.objects.filter(kennel_id=place.here.id).exists()
    assert member_uid(place, add_member(place, Role.READER))
    raw = SchemaGenerator().get_schema(request=None, public=True)
    url = f"http://127.0.0.1:{server.port}"
    for stateful in (False, True):
        _run(
            raw,
            url,
            token,
            str(place.here.uid),
            lambda s: _hook_in(s, world, calls),
            seen,
            stateful=stateful,
            seed=seed,
        )
    good = sum(count for status, count in seen.statuses.items() if 200 <= status < 400)
    print(f"{seen.cases} calls, {good} succeeded; {dict(seen.statuses)}; scenarios {dict(seen.phases)}")
    assert seen.failures == {}, "\n\n".join(f"{k}\n{v}" for k, v in list(seen.failures.items())[:12])
    assert set(seen.phases) >= {"examples", "coverage", "fuzzing", "stateful"}
    assert seen.cases >= CASES
    assert [status for status in seen.statuses if status >= 500] == []
    assert good / seen.cases >= SUCCEEDING
    never = set(calls) - set(seen.succeeded)
    assert never == set(), "operations that never succeeded"

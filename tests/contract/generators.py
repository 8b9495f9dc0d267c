"""Hooks into the generation of cases: what is well-formed mostly names real things, so that calls go all the way.

Only the parts of a case that its generator meant to be valid are touched; what it broke on purpose stays broken.
Everything is drawn from the case itself, so that the same case becomes the same request within a run.
"""

import copy
import random
from typing import Any

from schemathesis.core import NOT_SET
from schemathesis.core.parameters import ParameterLocation
from schemathesis.generation.meta import TestPhase

from kennel.records import types
from kennel.records.ids import new_uid
from tests.contract.scene import Scene, is_uid, refers_to
from tests.tenancy.operations import BASE, KENNEL

ITEM_PARTS = 2  # plural/{uid}


def hook_into(schema: Any, scene: Scene, boundary_share: float) -> None:
    """Register the hooks of a scene; of the boundary cases only a part is sent, always the same one."""
    generators = Generators(scene)

    @schema.hook
    def filter_case(context: Any, case: Any) -> bool:
        is_boundary = case._meta is not None and case._meta.phase.name == TestPhase.COVERAGE
        return not is_boundary or _dice(case).random() < boundary_share

    @schema.hook
    def map_case(context: Any, case: Any) -> Any:
        return generators.place(case)

    @schema.hook
    def before_add_examples(context: Any, examples: list[Any]) -> None:
        call = scene.calls.get((context.operation.method.upper(), context.operation.path))
        if call is not None:
            examples.append(example(context.operation, call, scene.kennel))


def example(operation: Any, call: Any, kennel: str) -> Any:
    """A call as a case."""
    where, _, query = call.path.partition("?")
    words = (where if where.startswith("/") else f"{BASE}kennels/{kennel}/{where}").split("/")
    names = operation.path.split("/")
    found = {n[1:-1]: w for n, w in zip(names, words, strict=True) if n.startswith("{")}
    more = {} if call.body is None else {"body": call.body, "media_type": "application/json"}
    return operation.Case(
        path_parameters=found,
        # Another operation may have changed the record meanwhile; lost preconditions have their own tests.
        headers={name.replace("_", "-"): "*" for name in call.headers},
        query=dict(pair.split("=", 1) for pair in query.split("&")) if query else {},
        **more,
    )


def _dice(case: Any) -> random.Random:
    drawn = (case.path, case.method, case.path_parameters, case.query, dict(case.headers), case.body)
    return random.Random(repr(drawn))


class Generators:
    """Puts what is real into what is generated."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._bodies: dict[str, Any] = {}

    def place(self, case: Any) -> Any:
        """The case, its valid parts made real in most cases."""
        meta = case._meta
        if meta is None:
            return case
        dice = _dice(case)
        valid = {where for where, part in meta.components.items() if part.mode.is_positive}
        if ParameterLocation.PATH in valid:
            case.path_parameters = self._path(case, dice)
        if ParameterLocation.HEADER in valid and "If-Match" in case.headers and dice.random() < 0.9:
            case.headers["If-Match"] = "*"
        if ParameterLocation.QUERY in valid and case.query:
            case.query = self._query(case, dice)
        if ParameterLocation.BODY in valid and case.body is not NOT_SET:
            case.body = self._body(case, dice, is_boundary=meta.phase.name == TestPhase.COVERAGE)
        return case

    def _path(self, case: Any, dice: random.Random) -> dict[str, Any]:
        changed = dict(case.path_parameters)
        if "kennel" in changed and dice.random() < 0.97:
            changed["kennel"] = self.scene.kennel
        for name in ("uid", "token"):
            if name in changed and dice.random() < 0.92:
                changed[name] = self._known(case, name, dice) or changed[name]
        return changed

    def _known(self, case: Any, name: str, dice: random.Random) -> str | None:
        """The record of this operation's own call, or any of its type where that harms no other operation."""
        parts = case.operation.path.removeprefix(f"{BASE}{KENNEL}").split("/")
        record_type = types.by_plural(parts[0])
        may_be_any = case.method in ("GET", "PATCH") and record_type is not None and name == "uid"
        if may_be_any and dice.random() < 0.7:
            return self.scene.some(record_type.name, dice)
        call = self.scene.calls.get((case.method.upper(), case.operation.path))
        if call is None:
            return None
        where = call.path if call.path.startswith("/") else f"{BASE}kennels/{self.scene.kennel}/{call.path}"
        names = case.operation.path.split("/")
        found = dict(zip(names, where.split("?")[0].split("/"), strict=True))
        return found[f"{{{name}}}"]

    def _query(self, case: Any, dice: random.Random) -> dict[str, Any]:
        parts = case.operation.path.removeprefix(f"{BASE}{KENNEL}").split("/")
        record_type = types.by_plural(parts[0])
        changed = {k: v for k, v in case.query.items() if k not in ("cursor", "page") or dice.random() < 0.2}
        for name in changed:
            target = refers_to(name, record_type)
            if target and is_uid(changed[name]) and dice.random() < 0.9:
                changed[name] = self.scene.some(target, dice)
        return changed

    def _body(self, case: Any, dice: random.Random, *, is_boundary: bool) -> Any:
        """The generated body with real references; or, for most, one that is taken with generated values in it."""
        if not isinstance(case.body, dict):
            return case.body
        key = repr((case.operation.label, case.body))
        if key not in self._bodies:
            self._bodies[key] = self._made_real(case, dice, is_boundary)
        return copy.deepcopy(self._bodies[key])

    def _made_real(self, case: Any, dice: random.Random, is_boundary: bool) -> dict[str, Any]:
        parts = case.operation.path.removeprefix(f"{BASE}{KENNEL}").split("/")
        record_type = types.by_plural(parts[0]) if len(parts) <= ITEM_PARTS else None
        generated = {
            name: self.scene.some(target, dice)
            if (target := refers_to(name, record_type)) and is_uid(value)
            else value
            for name, value in case.body.items()
        }
        if "uid" in generated and generated["uid"] is not None:
            generated["uid"] = str(new_uid())
        if dice.random() < (0.4 if is_boundary else 0.15):
            return generated
        if case.method == "PATCH":
            kept = dice.sample(sorted(generated), min(len(generated), dice.randint(0, 2)))
            return {name: generated[name] for name in kept} | ({"reason": "misheard"} if record_type else {})
        base = self._base(case, record_type, dice)
        share = dice.choice((0.1, 0.3))
        return base | {name: value for name, value in generated.items() if dice.random() < share}

    def _base(self, case: Any, record_type: Any, dice: random.Random) -> dict[str, Any]:
        if record_type is not None:
            return self.scene.body(record_type, dice)
        if case.operation.path.endswith("/batch"):
            chosen = [dice.choice(list(types.every())) for _ in range(dice.randint(1, 4))]
            return {
                "items": [
                    {
                        "op": "create",
                        "type": one.name,
                        "uid": str(new_uid()),
                        "data": self.scene.body(one, dice),
                    }
                    for one in chosen
                ]
            }
        call = self.scene.calls.get((case.method.upper(), case.operation.path))
        return copy.deepcopy(call.body) if call and isinstance(call.body, dict) else {}

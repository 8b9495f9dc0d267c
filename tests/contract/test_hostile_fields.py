"""Every field of every body, given what no client should send: refused by its name, never a server error.

The fields come from the registrations and the views, so that a new record type or action is covered when it is there.
"""

import os
import random
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from kennel.api.rendering import dumps
from tests.contract.run import wrong_with_refusal
from tests.factories.bodies import patch_for
from tests.factories.people import make_kennel
from tests.tenancy.operations import Call, Operation, World, routed

MINUTES = float(os.environ.get("FUZZ_MINUTES") or 0)
pytestmark = [
    pytest.mark.usefixtures("db"),
    pytest.mark.fault,
    pytest.mark.timeout(600 + int(MINUTES * 90)),
]

# Raw JSON.  No field of any kind takes one of these: the answer is a refusal that names the field.
NEVER = {
    "NUL": rb'"moss\u0000"',
    "a lone surrogate": rb'"\ud800"',
    "a bidi override": rb'"Moss\u202egnp"',
    "too large for any column": b"1000000000000000000000000000000",
    "far below any range": b"-1e300",
    "arrays in arrays": b"[[[[[[]]]]]]",
    "a text as long as a book": b'"' + b"x" * 60_000 + b'"',
}
# These may be right for one field or another: whatever comes back, it is no server error and no broken refusal.
PERHAPS = {
    "null": b"null",
    "true": b"true",
    "an empty text": b'""',
    "an empty array": b"[]",
    "an empty object": b"{}",
    "minus one": b"-1",
    "2^63": b"9223372036854775808",
    "a small fraction": b"0.0000001",
    "Arabic digits": '"\u0663"'.encode(),
    "the first day": b'"0001-01-01"',
    "the last instant": b'"9999-12-31T23:59:59Z"',
    "a day that is none": b'"2026-02-30"',
    "an instant without offset": b'"2026-03-01T07:30:00"',
    "the nil uid": b'"00000000-0000-0000-0000-000000000000"',
    "a uid of nobody": b'"0190a5d0-5a00-7000-8000-00000000dead"',
    "nine combining marks": ('"e' + "\u0301" * 9 + '"').encode(),
    "a formula": b'"=1+1"',
    "a quotation mark for SQL": b'"\' OR 1=1 --"',
}
# Not JSON at all, or more than the parser takes: malformed, whatever the field.
UNREADABLE = {
    "NaN": b"NaN",
    "Infinity": b"-Infinity",
    "5,000 digits": b"9" * 5000,
    "depth 40": b"[" * 40 + b"]" * 40,
    "bytes that are no UTF-8": b'"\xff\xfe"',
}


def _fields(operation: Operation) -> list[str]:
    """Names of the fields a body may hold."""
    if operation.method not in ("POST", "PATCH"):
        return []
    if operation.record_type is not None:
        if operation.below.endswith("/restore"):
            return []
        return [*operation.record_type.input.model_fields, *(["uid"] if operation.method == "POST" else [])]
    body = getattr(operation.view, "body_input", None)
    if isinstance(body, dict):
        body = body.get(operation.method)
    return list(body.model_fields) if isinstance(body, type) and issubclass(body, BaseModel) else []


def _with(body: dict[str, Any], name: str, raw: bytes) -> bytes:
    """The body as JSON, one field replaced by raw text."""
    rest = dumps({key: value for key, value in body.items() if key != name})
    return rest[:-1] + (b"," if len(rest) > 2 else b"") + dumps(name) + b":" + raw + b"}"


def _trials(name: str, dice: random.Random) -> Iterator[tuple[str, str, bytes]]:
    kinds = (("never", NEVER, 1), ("perhaps", PERHAPS, 1), ("unreadable", UNREADABLE, dice.randrange(2)))
    for kind, values, few in kinds:
        chosen = sorted(values) if MINUTES else dice.sample(sorted(values), few)
        yield from ((kind, what, values[what]) for what in chosen)


def _wrong(kind: str, name: str, answer: Any) -> str | None:
    status = answer.status_code
    if status >= 400 and (wrong := wrong_with_refusal(status, answer.headers, answer.content)):
        return wrong
    if kind == "unreadable" and status != 400:
        return f"{status} for what cannot be read"
    if kind != "never":
        return None
    if status != 422:
        return f"{status} for what no field takes"
    pointers = [one["pointer"] for one in answer.json()["errors"]]
    named = [pointer for pointer in pointers if pointer == f"#/{name}" or pointer.startswith(f"#/{name}/")]
    return None if named else f"{pointers} instead of {name}"


def _body(world: World, operation: Operation, call: Call) -> dict[str, Any]:
    if operation.method == "PATCH" and operation.record_type is not None:
        return patch_for(operation.record_type)
    return dict(call.body or {})


def test_whatever_stands_in_a_field_is_refused_by_name_and_breaks_nothing() -> None:
    seed = int(os.environ.get("FUZZ_SEED") or 20260301)
    print(f"FUZZ_SEED={seed}")
    dice, world, failed, sent = random.Random(seed), World(make_kennel()), [], 0
    for operation in routed():
        names = _fields(operation)
        if not names or not operation.is_in_kennel or "tablet/act" in operation.path:
            continue
        call = world.call(operation)
        body = _body(world, operation, call)
        tag = {"If_Match": "*"} if operation.method == "PATCH" else {}
        for name in [*names, "no_such_field"]:
            for kind, what, raw in _trials(name, dice):
                answer = world.device.send(operation.method, call.path, _with(body, name, raw), **tag)
                sent += 1
                if wrong := _wrong(kind, name, answer):
                    failed.append(f"{operation.id} {name} = {what}: {wrong}: {answer.content[:300]!r}")
    print(f"{sent} calls")
    assert failed == [], "\n".join(failed[:40])
    assert sent >= 1500

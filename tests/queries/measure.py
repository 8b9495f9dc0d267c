"""How many SQL statements each read costs, in a kennel with so many of everything.

Reads are every GET of the API and every page of a kennel, as the URL resolvers have them.  `counts.toml` keeps the
numbers: one line for each read.
"""

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import time_machine
from django.core.cache import cache as shared_cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kennel.records import types
from kennel.web import urls as pages
from tests.queries.crowd import NOON, Crowd
from tests.tenancy.operations import KENNEL, Operation, routed

FILE = Path(__file__).with_name("counts.toml")
_HEAD = """\
# SQL statements of every read, with cold caches: the same for 3 and for 30 animals.
# Written by `WRITE_QUERY_COUNTS=1 ./deploy/test tests/queries`; look at the difference before it is committed.
"""


@dataclass(frozen=True)
class Cost:
    """statements: of one read.  rows: the longest list in the answer; None for a page."""

    statements: int
    rows: int | None


# Reads that show more when they are asked otherwise than the example calls ask.
_BETTER: dict[str, Callable[[Crowd], str]] = {
    f"GET {KENNEL}planned-mating": lambda c: f"planned-mating?sire={c.sire}&dam={c.dam}",
    f"GET {KENNEL}litters/{{uid}}/due-window": lambda c: f"litters/{c.unborn}/due-window",
    f"GET {KENNEL}litters/{{uid}}/vet-card": lambda c: f"litters/{c.unborn}/vet-card",
}


# What stands in the paths of pages besides the kennel and a record's uid.
_OTHERS: dict[str, Callable[[Crowd], str]] = {
    "medicine": lambda c: c.stock.fresh("medicine"),
    "area": lambda c: "growth",
    "key": lambda c: "loss_pct",
}


def committed() -> dict[str, int]:
    """Read -> statements, as the file has them."""
    if not FILE.exists():
        return {}
    tables = tomllib.loads(FILE.read_text())
    return {f"{kind} {path}": count for kind, table in tables.items() for path, count in table.items()}


def write(found: dict[str, int]) -> None:
    """Write the file anew."""
    text = _HEAD
    for kind in ("GET", "page"):
        paths = {name.removeprefix(f"{kind} "): n for name, n in found.items() if name.startswith(f"{kind} ")}
        text += f"\n[{kind}]\n" + "".join(f'"{path}" = {paths[path]}\n' for path in sorted(paths))
    FILE.write_text(text)


def reads() -> set[str]:
    """Every read: "GET kennels/{kennel}/dogs", "page kennels/{kennel}/dogs"."""
    api = {operation.id for operation in routed() if operation.method == "GET"}
    return api | {f"page {path}" for path in _page_paths()}


def _page_paths() -> Iterator[str]:
    for pattern in pages.patterns():
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(pattern.pattern))
        if path.startswith("kennels") and hasattr(getattr(pattern.callback, "view_class", None), "get"):
            yield path


@cache
def measured(animals: int) -> dict[str, Cost]:
    """What each read costs with so many animals, measured once in a test run."""
    with time_machine.travel(NOON, tick=False):
        crowd = Crowd(animals)
        found = {o.id: _read(crowd, o) for o in routed() if o.method == "GET"}
        return found | {f"page {path}": _page(crowd, path) for path in _page_paths()}


def _read(crowd: Crowd, operation: Operation) -> Cost:
    call = crowd.call(operation)
    if operation.id in _BETTER:
        call.path = _BETTER[operation.id](crowd)
    client = crowd.carer if operation.id == "GET kennels" else crowd.device  # a device has one kennel
    statements, answer = _second_look(lambda: call.send(client, "GET"))
    assert answer.status_code == 200, (operation.id, answer.content)
    return Cost(statements, _longest(answer.json()))


def _page(crowd: Crowd, path: str) -> Cost:
    others = {name: value(crowd) for name, value in _OTHERS.items() if f"{{{name}}}" in path}
    filled = path.format(kennel=crowd.place.here.uid, uid=_uid(crowd, path), **others)
    statements, answer = _second_look(lambda: crowd.pages.get(f"/{filled}"))
    assert answer.status_code in (200, 302), (path, answer.content)
    return Cost(statements, None)


def _uid(crowd: Crowd, path: str) -> str:
    """Uid of a record as the page before the last segment wants it."""
    plural = path.removeprefix(KENNEL).split("/")[0]
    special = {
        "due": lambda: crowd.stock.fresh("duty"),
        "members": crowd.member,
        "devices": crowd.device_uid,
        "invitations": lambda: str(crowd.invitation().invitation.uid),
    }
    if "{uid}" not in path:
        return ""
    if plural in special:
        return special[plural]()
    record_type = types.by_plural(plural)
    assert record_type is not None, f"say in tests/queries/measure.py which uid {path} means"
    return crowd.stock.fresh(record_type.name)


def _second_look(look: Callable[[], Any]) -> tuple[int, Any]:
    """Statements and answer.  The first look fills what a process keeps; what processes share is emptied."""
    look()
    shared_cache.clear()
    with CaptureQueriesContext(connection) as caught:
        answer = look()
    return len(caught), answer


def _longest(shown: Any) -> int:
    """Length of the longest list in a JSON answer."""
    if isinstance(shown, dict):
        return max((_longest(value) for value in shown.values()), default=0)
    if isinstance(shown, list):
        return max(len(shown), *(_longest(value) for value in shown), 0)
    return 0

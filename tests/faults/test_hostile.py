"""Fault tests 16 and 17: hostile bodies, and hostile everything else."""

import json
import statistics
from typing import Any
from urllib.parse import quote

import psycopg
import pytest

from kennel.records import types
from tests.faults.conftest import Scene
from tests.faults.server import AppServer

pytestmark = pytest.mark.fault

MIB = 1024 * 1024
INSTANT = "2026-03-01T07:30:00Z"
BIDI, SURROGATE, NUL = "Moss\u202egnp", '"\\ud800"', '"\\u0000"'
MARKS = "e" + "\u0301" * 10_000


def _dog(**values: Any) -> bytes:
    return json.dumps({"name": "Bramble", "sex": "female", **values}).encode()


def _raw(name: str = '"Bramble"', weight: str = "19", more: str = "") -> bytes:
    return f'{{"name": {name}, "sex": "female", "adult_weight_kg": {weight}{more}}}'.encode()


BODIES: dict[str, tuple[str, bytes]] = {
    "1 MiB and a byte": ("dogs", _dog(note="x" * (MIB + 1 - len(_dog(note=""))))),
    "depth 100,000": ("dogs", b'{"name": ' + b"[" * 100_000 + b"]" * 100_000 + b"}"),
    "depth 33": ("dogs", b'{"name": ' + b"[" * 33 + b"]" * 33 + b"}"),
    "NaN": ("dogs", _raw(weight="NaN")),
    "Infinity": ("dogs", _raw(weight="-Infinity")),
    "1e999": ("dogs", _raw(weight="1e999")),
    "1e-999": ("dogs", _raw(weight="1e-999")),
    "10 to the 26": ("dogs", _raw(weight="100000000000000000000000000")),
    "5,000 digits": ("dogs", _raw(weight="9" * 5000)),
    "5,000 decimals": ("dogs", _raw(weight="1." + "3" * 5000)),
    "2^63 where a count belongs": (
        "litters",
        json.dumps({"name": "x", "dam": "{dam}", "expected_pups": 2**63}).encode(),
    ),
    "a true where a number belongs": ("dogs", _raw(weight="true")),
    "Arabic digits": ("dogs", _dog(adult_weight_kg="\u0661\u0669")),
    "a key twice": ("dogs", _raw(more=', "name": "Sorrel"')),
    "an unknown field": ("dogs", _dog(owner="x")),
    "NUL": ("dogs", _raw(name=NUL)),
    "a lone surrogate": ("dogs", _raw(name=SURROGATE)),
    "a lone surrogate as key": ("dogs", b'{"\\ud800": 1}'),
    "bad UTF-8": ("dogs", b'{"name": "\xff\xfe", "sex": "female"}'),
    "UTF-16": ("dogs", _raw().decode().encode("utf-16")),
    "bidi override": ("dogs", _dog(name=BIDI)),
    "10,000 combining marks": ("dogs", _dog(name=MARKS)),
    "10,000 combining marks in a note": ("dogs", _dog(note=MARKS)),
    "an array of 1,001": ("batch", json.dumps({"items": [{}] * 1001}).encode()),
    "a batch of 201": ("batch", json.dumps({"items": [{}] * 201}).encode()),
    "naive time": (
        "weighings",
        json.dumps({"pup": "{pup}", "weight_g": 300, "occurred_at": INSTANT[:-1]}).encode(),
    ),
    "year 1": (
        "weighings",
        json.dumps({"pup": "{pup}", "weight_g": 300, "occurred_at": "0001" + INSTANT[4:]}).encode(),
    ),
    "year 9999": (
        "weighings",
        json.dumps({"pup": "{pup}", "weight_g": 300, "occurred_at": "9999" + INSTANT[4:]}).encode(),
    ),
    "offset of 99 hours": (
        "weighings",
        json.dumps({"pup": "{pup}", "weight_g": 300, "occurred_at": "2026-03-01T07:30:00+99:00"}).encode(),
    ),
    "year 9999 day": ("dogs", _dog(born_on="9999-12-31")),
    "day that is none": ("dogs", _dog(born_on="2026-02-30")),
    "a list": ("dogs", b"[]"),
    "a word": ("dogs", b'"dog"'),
    "nothing": ("dogs", b""),
    "half": ("dogs", _raw()[:-3]),
    "nil uid": ("dogs", _dog(uid="00000000-0000-0000-0000-000000000000")),
    "uid as number": ("dogs", _dog(uid=7)),
}


def _counts(owner: psycopg.Connection) -> dict[str, int]:
    tables = [t.table for t in types.every()] + ["records_journal"]
    return {t: owner.execute(f'SELECT count(*) FROM "{t}"').fetchone()[0] for t in tables}  # type: ignore[index]


def test_16_hostile_bodies_are_refused_quickly_and_leave_nothing(
    scene: Scene, app_server: AppServer, owner: psycopg.Connection
) -> None:
    client = scene.client()
    assert client.send("POST", "dogs", _dog()).status == 201
    before, memory = _counts(owner), app_server.memory_bytes()
    slow = {}
    for name, (path, body) in BODIES.items():
        sent = body.replace(b"{pup}", scene.nest.pups["moss"].encode()).replace(
            b"{dam}", scene.nest.dam.encode()
        )
        times = []
        for _ in range(3):
            client.close()  # an oversized body is answered unread, and its connection ends
            answer = client.send("POST", path, sent)
            assert 400 <= answer.status < 500, (name, answer.status, answer.body[:300])
            assert answer.slug in ("malformed", "too-large", "validation"), (name, answer.slug)
            assert b"Traceback" not in answer.body
            times.append(answer.seconds)
        if min(times) > 0.3:
            slow[name] = statistics.median(times)
    assert slow == {}
    assert _counts(owner) == before
    assert app_server.memory_bytes() - memory < 50 * MIB


def test_16_the_same_bodies_harm_no_other_way_of_writing(scene: Scene, owner: psycopg.Connection) -> None:
    client = scene.client()
    before = _counts(owner)
    for _, body in BODIES.values():
        if not body:
            continue  # an empty body is an empty patch, which changes nothing
        for method, path in (("PATCH", f"dogs/{scene.nest.dam}"), ("POST", "batch"), ("POST", "pups")):
            client.close()
            answer = client.send(method, path, body, 1)
            assert 400 <= answer.status < 500, (method, path, answer.status, body[:80])
    assert _counts(owner) == before


NASTY = [
    "\x00",
    "%00",
    "..%2f..%2fetc%2fpasswd",
    "\u202e",
    "\ud7ff\u0301" * 200,
    "9" * 5000,
    str(2**63),
    "NaN",
    "1e999",
    "-1",
    "' OR 1=1 --",
    "\u0661",
    "0001-01-01T00:00:00Z",
    "9999-12-31T23:59:59Z",
    "2026-03-01T07:30:00",
    "2026-03-01T07:30:00+99:99",
    "[" * 500,
    "{}",
    "x" * 3000,
    "%ff%fe",
    "a&a=b",
    "00000000-0000-0000-0000-000000000000",
    "é" * 100,
]
HEADERS = [
    "If_Match",
    "If_None_Match",
    "Device_Time",
    "Prefer",
    "Accept",
    "Accept_Language",
    "Content_Type",
    "Cookie",
    "X_Forwarded_For",
    "X_Request_Id",
    "Authorization",
    "Range",
    "X_CSRFToken",
    "Origin",
]


def _encoded(text: str) -> str:
    return text if "%" in text else quote(text.encode("utf-8", "surrogatepass"), safe="")


def test_17_hostile_paths_queries_and_headers_never_break_the_server(scene: Scene) -> None:
    client, failed = scene.client(), []

    def look(what: str, answer: Any) -> None:
        if answer.status >= 500 or answer.status == 0:
            failed.append((what, answer.status, answer.body[:200]))

    filters = {
        t.plural: ["cursor", "limit", "deleted", "since", "until", *t.refs, *t.filters, "order", "x" * 100]
        for t in types.every()
    }
    for nasty in NASTY:
        text = _encoded(nasty)
        for path in (
            f"{text}",
            f"dogs/{text}",
            f"dogs/{text}/history",
            f"members/{text}",
            f"contacts/{text}/erase",
        ):
            look(path, client.send("GET", path))
        look("kennel", client.send("GET", f"/api/v1/kennels/{text}/dogs"))
        look("root", client.send("GET", f"/api/v1/{text}"))
        for plural, names in filters.items():
            query = "&".join(f"{name}={text}" for name in names)
            look(f"{plural}?all", client.send("GET", f"{plural}?{query}"))
        for name in [*filters["weighings"], *filters["duties"]]:
            look(f"weighings?{name}={text[:40]}", client.send("GET", f"weighings?{name}={text}"))
            look(f"duties?{name}={text[:40]}", client.send("GET", f"duties?{name}={text}"))
        for path in (
            "changes?cursor=",
            "changes?limit=",
            "snapshot?page=",
            "journal?cursor=",
            "agenda?due_from=",
            "reminders?state=",
            "members?cursor=",
        ):
            look(path + text[:40], client.send("GET", path + text))
        header = nasty.encode("utf-8", "replace").decode("latin-1").replace("\x00", "\x01").replace("\n", " ")
        for name in HEADERS:
            look(f"{name}: {header[:40]!r}", client.send("GET", f"dogs/{scene.nest.dam}", **{name: header}))
            look(
                f"PATCH {name}",
                client.send("PATCH", f"dogs/{scene.nest.dam}", {"note": "x"}, **{name: header}),
            )
    assert failed == []


def test_17_unknown_methods_and_media_types_are_refused_with_a_problem(scene: Scene) -> None:
    client = scene.client()
    for method in ("PUT", "TRACE", "PROPFIND", "POST"):
        answer = client.send(method, f"dogs/{scene.nest.dam}", {"name": "x"}, 1)
        assert (answer.status, answer.slug) == (405, "method-not-allowed"), method
    for kind in (
        "text/plain",
        "application/xml",
        "multipart/form-data; boundary=x",
        "application/x-www-form-urlencoded",
    ):
        answer = client.send("POST", "dogs", _dog(), Content_Type=kind)
        assert (answer.status, answer.slug) == (415, "unsupported-media"), kind
    zipped = client.send("POST", "dogs", b"\x1f\x8b\x08\x00", Content_Encoding="gzip")
    assert zipped.slug in ("unsupported-media", "malformed")

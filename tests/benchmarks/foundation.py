"""Hot list, batch of 100, and many kennels, each against a floor in the same run.

    python -m tests.benchmarks.foundation [--rounds 8] [--seconds 1]

Starts its own PostgreSQL (fsync on), Valkey and granian children.  Only the ratios mean something elsewhere.
Few and many kennels are two databases of one server, a copy of each other but for the kennels added; everything is
measured in turns, so that what else the machine does meets floor and subject, few and many alike.
"""

import argparse
import json
import os
import random
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import psycopg

from deploy.postgres import APP, DATABASE, JOBS, OWNER, SUPERUSER, Cluster
from deploy.valkey import Server
from tests.benchmarks.client import read_answer

BORN = datetime(2026, 1, 1, tzinfo=UTC)
THREADS = ((1, 2), (2, 2), (2, 32))
FEW, MANY_DATABASE, MANY = 10, "kennel_many", ", many kennels"
COPIED = "kennel_id, uid, recorded_at, recorded_by_id, occurred_at, pup_id, weight_g, entered_value, entered_unit, source"


class Bench:
    """The servers, the seeded kennel, and one measurement after the other."""

    def __init__(self, stack: ExitStack, folder: Path, seconds: float, many: int) -> None:
        self.seconds = seconds
        cluster = stack.enter_context(Cluster(folder / "postgres", durable=True))
        valkey = stack.enter_context(Server(folder / "valkey"))
        os.environ |= {
            "OWNER_DATABASE_URL": cluster.url(OWNER),
            "DATABASE_URL": cluster.url(APP),
            "JOBS_DATABASE_URL": cluster.url(JOBS),
            "REDIS_URL": valkey.url,
            "SECRET_KEY": "only-for-a-benchmark-" + "0123456789" * 4,
            "STATE_DIR": str(folder),
            "DJANGO_SETTINGS_MODULE": "kennel.settings",
            "QUOTA_PER_MINUTE": "100000000",
            "LOG_LEVEL": "ERROR",
        }
        subprocess.run(
            [sys.executable, "manage.py", "migrate", "-v0"],
            check=True,
            env={**os.environ, "DB_ROLE": "owner"},
        )
        os.environ["DB_ROLE"] = "app"
        import kennel.wsgi  # noqa: F401 - set up as the web server's processes are

        self._seed()
        with psycopg.connect(cluster.url(OWNER)) as owner:
            owner.execute(
                "CREATE TABLE bench_bare (LIKE litters_weighing INCLUDING DEFAULTS INCLUDING IDENTITY)"
            )
        self._copy_database(cluster)
        more_kennels(cluster.url(OWNER), FEW)
        more_kennels(cluster.url(OWNER, MANY_DATABASE), many)
        self.owner = stack.enter_context(psycopg.connect(cluster.url(OWNER)))
        self.ports: dict[str, int] = {}
        for workers, threads in THREADS:
            self._serve(stack, f"ours {workers}x{threads}", "kennel.wsgi:application", workers, threads)
        self._serve(stack, "floor", "tests.benchmarks.floor_app:application", 2, 2)
        self._serve(stack, "plain", "tests.benchmarks.plain_app:application", 2, 2)
        os.environ |= {
            "OWNER_DATABASE_URL": cluster.url(OWNER, MANY_DATABASE),
            "DATABASE_URL": cluster.url(APP, MANY_DATABASE),
            "JOBS_DATABASE_URL": cluster.url(JOBS, MANY_DATABASE),
        }
        self._serve(stack, f"ours 2x32{MANY}", "kennel.wsgi:application", 2, 32)
        self._serve(stack, f"floor{MANY}", "tests.benchmarks.floor_app:application", 2, 2)
        self.batch_number = 0

    @staticmethod
    def _copy_database(cluster: Cluster) -> None:
        from django.db import connections

        connections.close_all()
        connections["default"].close_pool()  # type: ignore[attr-defined]
        with psycopg.connect(cluster.url(SUPERUSER, "postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {MANY_DATABASE} TEMPLATE {DATABASE} OWNER {OWNER}")  # type: ignore[arg-type]

    def _seed(self) -> None:
        from kennel.records import store, types
        from tests.factories.people import make_device, make_kennel

        self.types = types
        self.place = make_kennel()
        self.token = make_device(self.place)[1]
        os.environ["BENCH_KENNEL"] = str(self.place.here.id)
        pup_type = types.by_name("pup")
        assert pup_type is not None
        page = store.page_statement(pup_type, where="AND t.deleted_at IS NULL")
        os.environ["BENCH_LIST"] = (
            f"SELECT json_agg(page.body::json)::text FROM ({page}) AS page (body, key, id)"
        )
        dam = self._make("dog", name="Bramble", sex="female")
        self.pups = []
        for litter_number in range(8):
            litter = self._make("litter", name=f"L{litter_number}", dam=dam, whelped_at=BORN.isoformat())
            for n in range(8):
                self.pups.append(self._make("pup", litter=litter, band=f"b{n}", born_at=BORN.isoformat()))
        for pup in self.pups:
            self.write_service(
                [
                    {"pup": pup, "occurred_at": (BORN + timedelta(days=d)).isoformat(), "weight_g": 400 + d}
                    for d in range(40)
                ]
            )

    def _make(self, type_name: str, **data: Any) -> str:
        from kennel.records import door, service
        from kennel.records.ids import new_uid

        record_type = self.types.by_name(type_name)
        assert record_type is not None
        uid = new_uid()
        with door.write(self.place.here, self.place.actor, datetime.now(UTC)) as opened:
            item = service.NewRecord(0, uid, record_type.input.model_validate(data))
            assert service.create(record_type, [item], opened)[0].refusal is None
        return str(uid)

    def _serve(self, stack: ExitStack, name: str, target: str, workers: int, threads: int) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        words = ["granian", "--interface", "wsgi", "--port", str(port), "--workers", str(workers)]
        words += ["--blocking-threads", str(threads), "--log-level", "error", target]
        child = subprocess.Popen([sys.executable, "-m", *words], env=dict(os.environ))
        stack.callback(child.wait)
        stack.callback(child.terminate)
        self.ports[name] = port
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                return
            except OSError:
                time.sleep(0.1)
        raise RuntimeError(f"{name} did not start")

    def requests_per_second(self, name: str, path: str, connections: int = 4) -> float:
        """Requests a second of one server."""
        words = [str(self.ports[name]), path, self.token, str(connections), str(self.seconds)]
        done = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.client", *words],
            capture_output=True,
            text=True,
            check=True,
        )
        return float(done.stdout)

    def new_batch(self) -> list[dict[str, Any]]:
        """A hundred weighings nobody has sent before."""
        self.batch_number += 1
        start = BORN + timedelta(days=60, minutes=40 * self.batch_number)
        return [
            {
                "pup": self.pups[i % 64],
                "occurred_at": (start + timedelta(minutes=i // 64)).isoformat(),
                "weight_g": 900 + i,
            }
            for i in range(100)
        ]

    def write_service(self, rows: list[dict[str, Any]]) -> float:
        """Seconds of one batch of checked rows through the service."""
        from kennel.records import door, service
        from kennel.records.ids import new_uid

        record_type = self.types.by_name("weighing")
        assert record_type is not None
        items = [
            service.NewRecord(i, new_uid(), record_type.input.model_validate(row))
            for i, row in enumerate(rows)
        ]
        began = time.perf_counter()
        with door.write(self.place.here, self.place.actor, datetime.now(UTC)) as opened:
            outcomes = service.create(record_type, items, opened)
        spent = time.perf_counter() - began
        assert all(outcome.refusal is None for outcome in outcomes)
        return spent

    def write_http(self, rows: list[dict[str, Any]], connection: socket.socket) -> float:
        """Seconds of one batch through HTTP."""
        from kennel.records.ids import new_uid

        items = [{"op": "create", "type": "weighing", "uid": str(new_uid()), "data": row} for row in rows]
        body = json.dumps({"items": items}).encode()
        head = (
            f"POST /api/v1/kennels/{self.place.here.uid}/batch HTTP/1.1\r\nHost: 127.0.0.1\r\n"
            f"Authorization: Bearer {self.token}\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        ).encode()
        began = time.perf_counter()
        connection.sendall(head + body)
        answer = read_answer(connection, bytearray())
        spent = time.perf_counter() - began
        assert answer.count(b'"created"') == 100, answer[:500]
        return spent

    def write_copy(self, rows: list[dict[str, Any]], table: str) -> float:
        """Seconds of one COPY of the same rows in a transaction that authenticates, locks and sets the kennel."""
        from kennel.records.ids import new_uid

        here, now = self.place.here.id, datetime.now(UTC).isoformat()
        ids = self._pup_ids()
        key = self.token.split("_")[2]
        uids = [new_uid() for _ in rows]
        began = time.perf_counter()
        self.owner.execute(
            "SELECT d.token_hash FROM people_device d JOIN people_kennel k ON k.id = d.kennel_id WHERE d.token_key = %s",
            [key],
        ).fetchone()
        self.owner.execute(
            "SELECT set_config('app.kennel', %s, true), set_config('app.actor', %s, true)", [str(here), "1"]
        )
        self.owner.execute("SELECT seq FROM records_counter WHERE kennel_id = %s FOR NO KEY UPDATE", [here])
        text = "".join(
            f"{here}\t{uid}\t{now}\t1\t{row['occurred_at']}\t{ids[row['pup']]}\t{row['weight_g']}\t{row['weight_g']}\tg\ttyped\n"
            for uid, row in zip(uids, rows, strict=True)
        )
        with self.owner.cursor().copy(f"COPY {table} ({COPIED}) FROM STDIN") as copy:
            copy.write(text)
        self.owner.commit()
        return time.perf_counter() - began

    def _pup_ids(self) -> dict[str, int]:
        if not hasattr(self, "_ids"):
            self._ids = {
                str(uid): i for uid, i in self.owner.execute("SELECT uid, id FROM litters_pup").fetchall()
            }
            self.owner.commit()
        return self._ids


def more_kennels(address: str, count: int) -> None:
    """Fill up to `count` kennels with a keeper, a phone, and 8 pups with 20 weights each."""
    with psycopg.connect(address, autocommit=True) as owner:
        owner.execute(
            f"""
        ALTER TABLE people_kennel DISABLE TRIGGER record_created;
        ALTER TABLE people_membership DISABLE TRIGGER USER; ALTER TABLE people_device DISABLE TRIGGER USER;
        ALTER TABLE litters_dog DISABLE TRIGGER USER; ALTER TABLE litters_litter DISABLE TRIGGER USER;
        ALTER TABLE litters_pup DISABLE TRIGGER USER; ALTER TABLE litters_weighing DISABLE TRIGGER USER;
        CREATE TEMP TABLE fresh AS SELECT COALESCE(max(id), 0) AS last FROM people_kennel;
        INSERT INTO people_kennel (uid, version, name, zone, mass_unit, temperature_unit, place, vet_name, vet_phone,
            night_vet_phone, settings, recorded_at)
        SELECT gen_random_uuid(), 1, 'k' || n, 'Europe/London', 'g', 'C', '', '', '', '', '{{}}', '{BORN}'
        FROM generate_series(1, {count} - (SELECT count(*) FROM people_kennel)) n;
        INSERT INTO people_carer (uid, email, name, password, is_superuser, zone, mass_unit, temperature_unit, is_active, joined_at)
        SELECT gen_random_uuid(), 'keeper' || k.id || '@example.org', 'keeper', '', false, 'Europe/London', 'g', 'C', true,
               '{BORN}' FROM people_kennel k, fresh WHERE k.id > fresh.last;
        INSERT INTO people_membership (uid, version, kennel_id, carer_id, role, pin_hash, recorded_at)
        SELECT gen_random_uuid(), 1, k.id, c.id, 'keeper', '', '{BORN}' FROM people_kennel k, fresh, people_carer c
        WHERE k.id > fresh.last AND c.email = 'keeper' || k.id || '@example.org';
        INSERT INTO people_device (uid, version, kennel_id, carer_id, name, kind, scopes, token_key, token_hash, recorded_at,
            expires_at)
        SELECT gen_random_uuid(), 1, m.kennel_id, m.carer_id, 'phone', 'phone', '{{read,write}}',
               substr(md5(m.id::text), 1, 16), sha256(m.uid::text::bytea), '{BORN}', '{BORN}'::timestamptz + interval '399 days'
        FROM people_membership m, fresh WHERE m.kennel_id > fresh.last;
        INSERT INTO litters_dog (kennel_id, uid, recorded_at, name, sex, lives_here)
        SELECT k.id, gen_random_uuid(), '{BORN}', 'dam', 'female', true FROM people_kennel k, fresh WHERE k.id > fresh.last;
        INSERT INTO litters_litter (kennel_id, uid, recorded_at, name, dam_id, whelped_at)
        SELECT d.kennel_id, gen_random_uuid(), '{BORN}', 'litter', d.id, '{BORN}' FROM litters_dog d, fresh
        WHERE d.kennel_id > fresh.last;
        INSERT INTO litters_pup (kennel_id, uid, recorded_at, litter_id, band, sex, born_at, fate, rearing)
        SELECT l.kennel_id, gen_random_uuid(), '{BORN}', l.id, 'b' || n, 'male', '{BORN}', 'living', 'sucking'
        FROM litters_litter l, generate_series(1, 8) n, fresh WHERE l.kennel_id > fresh.last;
        INSERT INTO litters_weighing (kennel_id, uid, recorded_at, pup_id, occurred_at, weight_g, entered_unit, source)
        SELECT p.kennel_id, gen_random_uuid(), '{BORN}', p.id, '{BORN}'::timestamptz + make_interval(days => d), 300 + d, 'g',
               'typed' FROM generate_series(1, 20) d, litters_pup p, fresh WHERE p.kennel_id > fresh.last;
        DROP TABLE fresh; SET CONSTRAINTS ALL IMMEDIATE;
        ALTER TABLE people_kennel ENABLE TRIGGER record_created;
        ALTER TABLE people_membership ENABLE TRIGGER USER; ALTER TABLE people_device ENABLE TRIGGER USER;
        ALTER TABLE litters_dog ENABLE TRIGGER USER; ALTER TABLE litters_litter ENABLE TRIGGER USER;
        ALTER TABLE litters_pup ENABLE TRIGGER USER; ALTER TABLE litters_weighing ENABLE TRIGGER USER;
        """  # type: ignore[arg-type]
        )
        owner.execute("VACUUM ANALYZE")


def measure_lists(bench: Bench, rounds: int) -> dict[str, float]:
    """Requests a second of every server, medians over interleaved rounds."""
    path = f"/api/v1/kennels/{bench.place.here.uid}/pups?limit=50"
    targets = {f"ours {w}x{t}": (f"ours {w}x{t}", path) for w, t in THREADS}
    targets |= {
        "floor": ("floor", "/floor"),
        f"ours 2x32{MANY}": (f"ours 2x32{MANY}", path),
        f"floor{MANY}": (f"floor{MANY}", "/floor"),
        "bare floor": ("floor", "/bare"),
        "plain serializer": ("plain", "/plain"),
    }
    found: dict[str, list[float]] = defaultdict(list)
    for number in range(rounds + 1):
        for name, (server, where) in targets.items():
            rate = bench.requests_per_second(server, where)
            if number:  # the first round warms
                found[name].append(rate)
    return {name: statistics.median(rates) for name, rates in found.items()}


def measure_batches(bench: Bench, rounds: int) -> dict[str, float]:
    """Milliseconds of a batch of 100, medians over interleaved rounds."""
    found: dict[str, list[float]] = defaultdict(list)
    with (
        socket.create_connection(("127.0.0.1", bench.ports["ours 2x32"])) as few,
        socket.create_connection(("127.0.0.1", bench.ports[f"ours 2x32{MANY}"])) as many,
    ):
        measures: list[tuple[str, Callable[[list[dict[str, Any]]], float]]] = [
            ("service", bench.write_service),
            ("copy, protected", partial(bench.write_copy, table="litters_weighing")),
            ("http", partial(bench.write_http, connection=few)),
            (f"http{MANY}", partial(bench.write_http, connection=many)),
            ("copy, bare", partial(bench.write_copy, table="bench_bare")),
        ]
        for number in range(rounds):
            # Who comes first finds cold caches, so the order changes.
            for name, measure in random.Random(number).sample(measures, len(measures)):
                seconds = measure(bench.new_batch())
                if number >= rounds // 5:
                    found[name].append(seconds * 1000)
    return {name: statistics.median(times) for name, times in found.items()}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rounds", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=1)
    parser.add_argument("--batches", type=int, default=150)
    parser.add_argument("--kennels", type=int, default=10_000)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kennel-bench-") as folder, ExitStack() as stack:
        Path(folder).chmod(0o711)
        bench = Bench(stack, Path(folder), chosen.seconds, chosen.kennels)
        lists, batches = measure_lists(bench, chosen.rounds), measure_batches(bench, chosen.batches)
        for name, rate in lists.items():
            print(f"list of 50, {name:<23} {rate:7.0f} requests/s  {rate / lists['floor']:.2f} of the floor")
        best = max(lists[f"ours {w}x{t}"] for w, t in THREADS)
        print(
            f"hot list: {best / lists['floor']:.2f} of the floor (goal 0.50),"
            f" {best / lists['bare floor']:.2f} of the bare floor (goal 0.25)"
        )
        for name, spent in batches.items():
            print(f"batch of 100, {name:<19} {spent:6.2f} ms  {100_000 / spent:7.0f} rows/s")
        for floor in ("copy, protected", "copy, bare"):
            print(
                f"batch against {floor}: service {batches[floor] / batches['service']:.2f} (goal 0.50),"
                f" http {batches[floor] / batches['http']:.2f} (goal 0.25)"
            )
        print(
            f"{chosen.kennels} kennels instead of {FEW}: list {lists['ours 2x32'] / lists[f'ours 2x32{MANY}']:.2f} x"
            f" (its floor {lists['floor'] / lists[f'floor{MANY}']:.2f} x),"
            f" batch through http {batches[f'http{MANY}'] / batches['http']:.2f} x (goal <= 1.2)"
        )


if __name__ == "__main__":
    main()

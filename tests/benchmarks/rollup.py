"""The nightly roll-up of 20,000 litters over 10 million weighings, against the bare aggregate in the same run.

    python -m tests.benchmarks.rollup [--litters 20000] [--days 62]

Starts its own PostgreSQL (fsync on).  The floor is the same SELECT with nothing stored; ours is the whole step: windows
in, days stored by upsert, marks taken away.  Goal: at most 1.5 times the floor.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from deploy.postgres import APP, JOBS, OWNER, Cluster
from deploy.valkey import Server

if TYPE_CHECKING:
    from litters.rollup.services.computing import Window

BORN = datetime(2026, 1, 1, tzinfo=UTC)
PUPS = 8

FILL = """
    INSERT INTO people_kennel (uid, version, name, zone, mass_unit, temperature_unit, place, vet_name, vet_phone,
        night_vet_phone, settings, recorded_at)
    SELECT gen_random_uuid(), 1, 'k' || n, 'Europe/London', 'g', 'C', '', '', '', '', '{{}}', '{born}'
    FROM generate_series(1, {litters} / 4) n;
    INSERT INTO litters_dog (kennel_id, uid, recorded_at, name, sex, lives_here)
    SELECT k.id, gen_random_uuid(), '{born}', 'dam', 'female', true FROM people_kennel k;
    INSERT INTO litters_litter (kennel_id, uid, recorded_at, name, dam_id, whelped_at)
    SELECT d.kennel_id, gen_random_uuid(), '{born}', 'litter', d.id, '{born}' FROM litters_dog d, generate_series(1, 4);
    INSERT INTO litters_pup (kennel_id, uid, recorded_at, litter_id, band, sex, born_at, fate, rearing)
    SELECT l.kennel_id, gen_random_uuid(), '{born}', l.id, 'b' || n, 'male', '{born}', 'living', 'sucking'
    FROM litters_litter l, generate_series(1, {pups}) n;
    INSERT INTO litters_weighing (kennel_id, uid, recorded_at, pup_id, occurred_at, weight_g, entered_unit, source)
    SELECT p.kennel_id, gen_random_uuid(), '{born}', p.id,
           '{born}'::timestamptz + make_interval(days => d, mins => 400 + (p.id % 60)::int),
           round((300 * exp(0.07 * d) + p.id % 40)::numeric, 1), 'g', 'typed'
    FROM generate_series(0, {days} - 1) d, litters_pup p;
"""


def main() -> None:
    """Fill, warm, measure alternately, print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--litters", type=int, default=20_000)
    parser.add_argument("--days", type=int, default=62)
    parser.add_argument("--rounds", type=int, default=5)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kennel-bench-") as folder:
        Path(folder).chmod(0o711)
        with (
            Cluster(Path(folder) / "postgres", durable=True) as cluster,
            Server(Path(folder) / "valkey") as valkey,
        ):
            os.environ |= {
                "OWNER_DATABASE_URL": cluster.url(OWNER),
                "DATABASE_URL": cluster.url(APP),
                "JOBS_DATABASE_URL": cluster.url(JOBS),
                "REDIS_URL": valkey.url,
                "SECRET_KEY": "only-for-a-benchmark-" + "0123456789" * 4,
                "STATE_DIR": folder,
                "DJANGO_SETTINGS_MODULE": "kennel.settings",
                "DB_ROLE": "owner",
            }
            subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], check=True)
            _measure(chosen.litters, chosen.days, chosen.rounds)


def _measure(litters: int, days: int, rounds: int) -> None:
    import django

    django.setup()
    from django.db import connection, connections

    from litters.rollup.services import computing

    began = time.perf_counter()
    with connection.cursor() as cursor:
        tables = ("litters_dog", "litters_litter", "litters_pup", "litters_weighing")
        for table in tables:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        cursor.execute(FILL.format(born=BORN.isoformat(), litters=litters, pups=PUPS, days=days))
        for table in tables:
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        cursor.execute("SELECT count(*) FROM litters_weighing")
        rows = cursor.fetchone()[0]
        cursor.execute("SELECT id, kennel_id FROM litters_litter")
        found = cursor.fetchall()
    connection.close()
    vacuum = connections["default"]
    vacuum.ensure_connection()
    with vacuum.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
    print(f"{litters} litters, {rows} weighings loaded in {time.perf_counter() - began:.0f} s")
    floors, ours = [], []
    for number in range(rounds):
        start = BORN + timedelta(days=days - rounds + number)
        windows = [
            computing.Window(kennel, litter, start.date(), start, start + timedelta(days=1))
            for litter, kennel in found
        ]
        floors.append(_floor(windows))
        began = time.perf_counter()
        computing.compute(windows)
        ours.append(time.perf_counter() - began)
        print(f"  day {start.date()}: floor {floors[-1]:.2f} s, roll-up {ours[-1]:.2f} s")
    dirty = windows[:500]
    began = time.perf_counter()
    computing.compute(dirty)
    print(f"500 marked litter days: {time.perf_counter() - began:.2f} s")
    ratio = statistics.median(ours) / statistics.median(floors)
    print(
        f"median floor {statistics.median(floors):.2f} s, roll-up {statistics.median(ours):.2f} s, ratio {ratio:.2f} (goal <= 1.5)"
    )


def _floor(windows: "list[Window]") -> float:
    """The same columns computed and counted, nothing stored."""
    from django.db import connections, transaction

    from kennel.records import store
    from litters.rollup.services import computing

    rows = [
        {
            "kennel_id": w.kennel_id,
            "litter_id": w.litter_id,
            "day": w.day.isoformat(),
            "from_at": w.from_at,
            "to_at": w.to_at,
        }
        for w in windows
    ]
    began = time.perf_counter()
    with transaction.atomic(using="jobs"), connections["jobs"].cursor() as cursor:
        cursor.execute(
            "CREATE TEMP TABLE rollup_window ON COMMIT DROP AS SELECT * FROM json_to_recordset(%s) AS w"
            " (kennel_id bigint, litter_id bigint, day date, from_at timestamptz, to_at timestamptz)",
            [store.dump(rows)],
        )
        cursor.execute("ANALYZE rollup_window")
        cursor.execute(
            f"SELECT count(*), count(gains), count(weight_mean_g), count(extra) FROM ({computing.whole_day_query()}) d"
        )
        cursor.fetchone()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()

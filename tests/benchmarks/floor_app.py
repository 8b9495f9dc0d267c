"""The floor: the least a server can do for the hot list and still be safe, and the same without authentication."""

import hashlib
import os
from collections.abc import Callable, Iterable
from typing import Any

from psycopg_pool import ConnectionPool

pool = ConnectionPool(os.environ["DATABASE_URL"], min_size=2, max_size=8, kwargs={"prepare_threshold": 3})
KENNEL = int(os.environ["BENCH_KENNEL"])
AUTHENTICATE = """
    SELECT d.token_hash, d.expires_at, d.kennel_id, m.role FROM people_device d JOIN people_kennel k ON k.id = d.kennel_id
    LEFT JOIN people_membership m ON m.kennel_id = d.kennel_id AND m.carer_id = d.carer_id AND m.ended_at IS NULL
    WHERE d.token_key = %s AND d.revoked_at IS NULL
"""
# The same statement as the server's own list, wrapped in one json_agg; see foundation.py.
LIST = os.environ["BENCH_LIST"]


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    """Answer /floor with authentication, anything else without."""
    with pool.connection() as connection:
        if environ["PATH_INFO"] == "/floor":
            token = environ["HTTP_AUTHORIZATION"].removeprefix("Bearer kn_dev_")
            key, _, secret = token.partition("_")
            row = connection.execute(AUTHENTICATE, [key]).fetchone()
            if row is None or bytes(row[0]) != hashlib.sha256(secret[:43].encode()).digest():
                start_response("401 Unauthorized", [("Content-Length", "0")])
                return [b""]
        connection.execute("SELECT set_config('app.kennel', %s, true)", [str(KENNEL)])
        body = (connection.execute(LIST, [KENNEL, 51]).fetchone() or [""])[0].encode()
    start_response("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
    return [body]

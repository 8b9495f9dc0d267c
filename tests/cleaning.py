"""Emptying the test database between tests: only what was written, past triggers and foreign keys where we may.

And dropping one.
"""

import psycopg

KEPT = ("django_migrations", "django_content_type", "auth_permission", "upkeep_installation")
_TABLES = """
    SELECT quote_ident(c.relname),
           (SELECT quote_ident(s.relname) FROM pg_depend d JOIN pg_class s ON s.oid = d.objid AND s.relkind = 'S'
            WHERE d.refobjid = c.oid AND d.deptype IN ('a', 'i') LIMIT 1)
    FROM pg_class c WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p')
      AND NOT c.relispartition AND c.relname <> ALL (%s) ORDER BY c.relname
"""


class Cleaner:
    """Empties a database through a connection of its own.

    TRUNCATE makes new files for every table and index, which costs more than most tests; rows that a test left are
    few.  Where the owner may not switch triggers off (servers of one's own), what was written is truncated.
    """

    def __init__(self, connection: psycopg.Connection) -> None:
        self._connection = connection
        self._sequences: dict[str, str | None] = dict(connection.execute(_TABLES, [list(KEPT)]).fetchall())
        asked = ", ".join(f"EXISTS (SELECT FROM {table})" for table in self._sequences)
        self._written = f"SELECT ARRAY[{asked}]"
        try:
            connection.execute("SET session_replication_role = replica")
            self._may_delete = True
        except psycopg.errors.InsufficientPrivilege:
            self._may_delete = False

    def clean(self) -> None:
        """Take every row away and let numbers begin at 1 again."""
        row = self._connection.execute(self._written, prepare=True).fetchone()
        assert row is not None
        written = [table for table, is_written in zip(self._sequences, row[0], strict=True) if is_written]
        if not written:
            return
        if not self._may_delete:
            self._connection.execute(f"TRUNCATE {', '.join(written)} RESTART IDENTITY CASCADE")
            return
        again = [self._sequences[table] for table in written]
        statements = [f"DELETE FROM {table}" for table in written]
        statements += [f"SELECT setval('{sequence}', 1, false)" for sequence in again if sequence]
        self._connection.execute("; ".join(statements))


def drop_database(connection: psycopg.Connection, name: str) -> None:
    """Drop a database if it is there, and end what this role still runs in it.

    Not by FORCE: that is refused to an owner while the server itself vacuums there, which plain DROP ends by itself.
    """
    connection.execute(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND usename = current_user",
        [name],
    )
    connection.execute(f'DROP DATABASE IF EXISTS "{name}"')

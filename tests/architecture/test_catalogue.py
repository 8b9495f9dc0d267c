"""The database's own catalogue: every table that holds a kennel's rows is protected, or stands here with a reason."""

import psycopg
import pytest

from kennel.records import types

# Tables with kennel_id that carry no row-level security.
UNPROTECTED = {
    "people_membership": "read before the kennel is known, by selectors only",
    "people_device": "read before the kennel is known, by selectors only",
    "people_invitation": "read before the kennel is known, by selectors only",
    "people_kennel": "the tenant itself; read before the kennel is known, by selectors only",
    "records_counter": "locked first of all; holds a number and nothing of the kennel",
}
IDENTITY = ("people_kennel", "people_membership", "people_device", "people_invitation")

TABLES = """
    SELECT c.relname, c.relrowsecurity, c.relforcerowsecurity,
           ARRAY(SELECT tgname::text FROM pg_trigger WHERE tgrelid = c.oid AND NOT tgisinternal ORDER BY 1),
           ARRAY(SELECT polname::text FROM pg_policy WHERE polrelid = c.oid ORDER BY 1)
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p') AND EXISTS
        (SELECT FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attname = 'kennel_id' AND NOT a.attisdropped)
"""
JOURNALLED = ["record_changed", "record_created", "record_version"]


def _tables(owner: psycopg.Connection) -> dict[str, tuple[bool, bool, list[str], list[str]]]:
    return {name: tuple(rest) for name, *rest in owner.execute(TABLES)}  # type: ignore[misc]


def _may(owner: psycopg.Connection, role: str, table: str, right: str) -> bool:
    row = owner.execute("SELECT has_table_privilege(%s, %s, %s)", [role, table, right]).fetchone()
    assert row is not None
    return bool(row[0])


def test_every_table_with_kennel_id_is_isolated_or_on_the_written_list(owner: psycopg.Connection) -> None:
    tables = _tables(owner)
    open_ones = {name for name, (enabled, forced, _, _) in tables.items() if not (enabled and forced)}
    assert open_ones == set(UNPROTECTED)
    without_policy = {
        name for name, (*_, policies) in tables.items() if name not in UNPROTECTED and not policies
    }
    assert without_policy == set()


def test_every_record_type_is_journalled_and_versioned_by_the_database(owner: psycopg.Connection) -> None:
    tables = _tables(owner)
    assert {t.name: tables[t.table][2] for t in types.every()} == {t.name: JOURNALLED for t in types.every()}
    for name in IDENTITY:
        assert set(JOURNALLED) <= set(tables[name][2]), name


def test_every_table_with_uid_and_version_is_a_registered_type_or_an_identity(
    owner: psycopg.Connection,
) -> None:
    rows = owner.execute(
        "SELECT table_name FROM information_schema.columns WHERE table_schema = 'public'"
        " AND column_name IN ('uid', 'version', 'kennel_id') GROUP BY 1 HAVING count(*) = 3"
    )
    found = {name for (name,) in rows} - {"records_journal"}
    assert found == {t.table for t in types.every()} | set(IDENTITY)


def test_the_policies_let_one_kennel_through_for_reading_and_for_writing(owner: psycopg.Connection) -> None:
    rows = owner.execute(
        "SELECT tablename, qual, with_check, roles::text[] FROM pg_policies"
        " WHERE schemaname = 'public' AND 'kennel_app' = ANY(roles::text[]) AND tablename <> 'records_journal'"
    ).fetchall()
    assert {name for name, *_ in rows} == set(_tables(owner)) - set(UNPROTECTED) - {"records_journal"}
    for name, using, check, roles in rows:
        assert roles == ["kennel_app"], name
        for expression in (using, check):
            assert "app.kennel" in expression, name
            assert "kennel_id =" in expression, name


@pytest.mark.parametrize("role", ["kennel_app", "kennel_jobs"])
def test_the_serving_roles_own_nothing_and_stand_under_row_level_security(
    role: str, owner: psycopg.Connection
) -> None:
    owned = owner.execute(
        "SELECT relname FROM pg_class WHERE relowner = %s::regrole UNION ALL"
        " SELECT proname FROM pg_proc WHERE proowner = %s::regrole",
        [role, role],
    ).fetchall()
    assert owned == []
    flags = owner.execute(
        "SELECT rolsuper, rolbypassrls, rolcreaterole, rolcreatedb, rolreplication FROM pg_roles WHERE rolname = %s",
        [role],
    ).fetchone()
    assert flags == (False,) * 5


def test_no_serving_role_may_truncate_anything(owner: psycopg.Connection) -> None:
    every = [name for (name,) in owner.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")]
    assert len(every) > 20
    may = [(r, t) for r in ("kennel_app", "kennel_jobs") for t in every if _may(owner, r, t, "TRUNCATE")]
    assert may == []


def test_records_are_never_deleted_and_the_journal_never_rewritten_by_the_app(
    owner: psycopg.Connection,
) -> None:
    records = [t.table for t in types.every()]
    assert [t for t in records if _may(owner, "kennel_app", t, "DELETE")] == []
    assert [t for t in records if _may(owner, "kennel_jobs", t, "INSERT, UPDATE, DELETE")] == []
    for right in ("INSERT", "UPDATE", "DELETE"):
        assert not _may(owner, "kennel_app", "records_journal", right), right
        assert not _may(owner, "kennel_jobs", "records_journal", right), right
    for column in ("seq", "epoch", "kennel_id"):
        answer = owner.execute(
            "SELECT has_column_privilege('kennel_app', 'records_counter', %s, 'UPDATE')", [column]
        ).fetchone()
        assert answer == (False,), column
    assert not _may(owner, "kennel_app", "records_counter", "DELETE")


def test_definer_rights_are_given_to_journal_and_counter_alone_with_a_fixed_search_path(
    owner: psycopg.Connection,
) -> None:
    rows = owner.execute(
        "SELECT proname, proconfig FROM pg_proc WHERE prosecdef AND pronamespace = 'public'::regnamespace"
    ).fetchall()
    # The second makes the counter row of a new kennel, which the app role may not write itself.
    assert {name for name, _ in rows} == {"records_journal_rows", "records_counter_of_new_kennel"}
    assert [config for _, config in rows] == [["search_path=pg_catalog, public, pg_temp"]] * 2


def test_views_ask_with_the_rights_of_who_looks(owner: psycopg.Connection) -> None:
    rows = owner.execute(
        "SELECT relname FROM pg_class WHERE relkind IN ('v', 'm') AND relnamespace = 'public'::regnamespace"
        " AND NOT COALESCE(reloptions, '{}') @> ARRAY['security_invoker=true']"
    ).fetchall()
    assert rows == []


def test_every_reference_between_records_is_a_same_kennel_key(owner: psycopg.Connection) -> None:
    keys = {
        (table, tuple(columns))
        for table, columns in owner.execute(
            "SELECT conrelid::regclass::text, ARRAY(SELECT attname::text FROM unnest(conkey) WITH ORDINALITY AS k(num, place)"
            " JOIN pg_attribute a ON a.attrelid = conrelid AND a.attnum = num ORDER BY place)"
            " FROM pg_constraint WHERE contype = 'f' AND NOT condeferrable"
        )
    }
    wanted = {
        (t.table, ("kennel_id", t.model._meta.get_field(name).column))
        for t in types.every()
        for name, target in t.refs.items()
        if types.by_name(target) is not None
    }
    assert wanted - keys == set()

"""Journal, version and isolation functions; rights of the app and jobs roles; journals of the identity tables."""

from pathlib import Path

from django.db import migrations

RIGHTS = """
    GRANT USAGE ON SCHEMA public TO kennel_app, kennel_jobs;
    -- Identity tables and those of libraries: read and written by the web.  Record tables revoke this and say their own.
    GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO kennel_app;
    GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO kennel_app, kennel_jobs;
    GRANT SELECT ON ALL TABLES IN SCHEMA public TO kennel_jobs;
    ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO kennel_app;
    ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT SELECT ON TABLES TO kennel_jobs;
    ALTER DEFAULT PRIVILEGES IN SCHEMA public GRANT USAGE ON SEQUENCES TO kennel_app, kennel_jobs;

    REVOKE ALL ON records_journal, records_counter FROM PUBLIC, kennel_app, kennel_jobs;
    SELECT records_isolated('records_journal');
    CREATE POLICY all_kennels_read ON records_journal FOR SELECT TO kennel_jobs USING (true);
    GRANT SELECT ON records_journal TO kennel_app, kennel_jobs;
    GRANT SELECT ON records_counter TO kennel_app, kennel_jobs;
    -- Enough to lock the row, never to move the number.
    GRANT UPDATE (holder) ON records_counter TO kennel_app;
    REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM kennel_app;

    CREATE FUNCTION records_counter_of_new_kennel() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
    BEGIN
        INSERT INTO records_counter (kennel_id, epoch, seq, holder) VALUES (NEW.id, 1, 0, 0);
        RETURN NULL;
    END $$;
    CREATE TRIGGER counter_made AFTER INSERT ON people_kennel
        FOR EACH ROW EXECUTE FUNCTION records_counter_of_new_kennel();
"""


class Migration(migrations.Migration):
    dependencies = [("records", "0001_initial"), ("people", "0001_initial")]

    operations = [
        migrations.RunSQL((Path(__file__).parent.parent / "sql" / "protection.sql").read_text()),
        migrations.RunSQL(RIGHTS),
    ]

-- The three database roles. ./deploy/start runs this file on its own PostgreSQL; on a server of yours run it once as
-- its superuser, then create the database and set the passwords:
--
--     psql -f deploy/roles.sql
--     createdb --owner kennel_owner --encoding UTF8 kennel
--     psql -c '\password kennel_owner' -c '\password kennel_app' -c '\password kennel_jobs'
--
-- and start with OWNER_DATABASE_URL, DATABASE_URL (kennel_app), JOBS_DATABASE_URL and REDIS_URL set.
DO $$
DECLARE
    wanted text;
BEGIN
    FOREACH wanted IN ARRAY ARRAY['kennel_owner', 'kennel_app', 'kennel_jobs'] LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = wanted) THEN
            EXECUTE format('CREATE ROLE %I', wanted);
        END IF;
    END LOOP;
END
$$;
-- The owner migrates and backs up; without BYPASSRLS a dump under forced row-level security fails or comes out empty.
ALTER ROLE kennel_owner LOGIN NOSUPERUSER NOCREATEROLE NOREPLICATION BYPASSRLS;
-- The web role and the role of the background jobs own nothing and see only what the policies show them.
ALTER ROLE kennel_app LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;
ALTER ROLE kennel_jobs LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;

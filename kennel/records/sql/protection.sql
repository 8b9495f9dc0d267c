-- Functions behind every protected table.  Installed once, by the first migration of the records app.
-- The caller's settings (transaction-local, set by kennel.records.door) say who writes: app.kennel, app.actor,
-- app.device, app.request, app.at.

CREATE OR REPLACE FUNCTION records_setting(name text) RETURNS text
LANGUAGE sql STABLE PARALLEL SAFE AS $$ SELECT NULLIF(current_setting(name, true), '') $$;

-- Version: set by the database alone, +1 only when something changed; identity columns never move.
-- Columns named in the argument (comma separated) may change silently: no new version, no journal line.
CREATE OR REPLACE FUNCTION records_version_row() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
DECLARE silent text[] := CASE WHEN TG_NARGS > 0 THEN string_to_array(TG_ARGV[0], ',') ELSE '{}' END;
BEGIN
    NEW.id := OLD.id;
    NEW.uid := OLD.uid;
    NEW.recorded_at := OLD.recorded_at;
    NEW.version := OLD.version;
    IF TG_TABLE_NAME <> 'people_kennel' THEN
        NEW.kennel_id := OLD.kennel_id;
    END IF;
    IF NEW IS DISTINCT FROM OLD
       AND (silent = '{}' OR to_jsonb(NEW) - silent <> to_jsonb(OLD) - silent) THEN
        NEW.version := OLD.version + 1;
    END IF;
    RETURN NEW;
END $$;

-- Values of hidden columns become true (or null): the journal then says that they changed, never what they hold.
CREATE OR REPLACE FUNCTION records_hide(body jsonb, hidden text[]) RETURNS jsonb
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
    SELECT jsonb_object_agg(key, CASE WHEN key = ANY (hidden) AND value <> 'null' THEN 'true' ELSE value END)
    FROM jsonb_each(body)
$$;

-- Journal: numbers come from the kennel's counter row, so they have no gaps and follow commit order.
-- Arguments: record type, comma separated columns journalled by name only (contacts, secrets).
CREATE OR REPLACE FUNCTION records_journal_rows() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
    housekeeping text[] := ARRAY['id', 'uid', 'kennel_id', 'version', 'recorded_at', 'recorded_by_id', 'recorded_device_id'];
    hidden text[] := CASE WHEN TG_NARGS > 1 THEN string_to_array(TG_ARGV[1], ',') ELSE '{}' END;
    written bigint;
    expected bigint;
BEGIN
    IF TG_OP = 'INSERT' THEN
        SELECT count(*) INTO expected FROM new_rows;
        IF expected = 0 THEN
            RETURN NULL;
        END IF;
        WITH numbered AS (
            SELECT n.kennel_id, n.uid, n.version, jsonb_strip_nulls(to_jsonb(n)) - housekeeping AS body,
                   row_number() OVER (PARTITION BY n.kennel_id ORDER BY n.id) AS place
            FROM new_rows n
        ), counted AS (
            SELECT kennel_id, count(*) AS many FROM new_rows GROUP BY kennel_id
        ), bumped AS (
            UPDATE records_counter c SET seq = c.seq + counted.many
            FROM counted WHERE c.kennel_id = counted.kennel_id
            RETURNING c.kennel_id, c.seq - counted.many AS base
        )
        INSERT INTO records_journal (kennel_id, seq, at, actor_id, device_id, request_id, type, uid, op, version, old, new)
        SELECT r.kennel_id, b.base + r.place,
               COALESCE(records_setting('app.at')::timestamptz, statement_timestamp()),
               records_setting('app.actor')::bigint, records_setting('app.device')::bigint,
               records_setting('app.request')::uuid,
               TG_ARGV[0], r.uid, 'create', r.version, NULL, CASE WHEN hidden = '{}' THEN r.body ELSE records_hide(r.body, hidden) END
        FROM numbered r JOIN bumped b USING (kennel_id);
    ELSE
        SELECT count(*) INTO expected
        FROM new_rows n JOIN old_rows o ON o.id = n.id WHERE n.version <> o.version;
        IF expected = 0 THEN
            RETURN NULL;
        END IF;
        WITH both_rows AS (
            SELECT n.kennel_id, n.uid, n.version,
                   to_jsonb(o) - housekeeping AS before, to_jsonb(n) - housekeeping AS after,
                   row_number() OVER (PARTITION BY n.kennel_id ORDER BY n.id) AS place
            FROM new_rows n JOIN old_rows o ON o.id = n.id WHERE n.version <> o.version
        ), counted AS (
            SELECT kennel_id, count(*) AS many FROM both_rows GROUP BY kennel_id
        ), bumped AS (
            UPDATE records_counter c SET seq = c.seq + counted.many
            FROM counted WHERE c.kennel_id = counted.kennel_id
            RETURNING c.kennel_id, c.seq - counted.many AS base
        ), changed AS (
            SELECT r.kennel_id, r.uid, r.version, r.place, r.before, r.after, d.old, d.new
            FROM both_rows r CROSS JOIN LATERAL (
                SELECT jsonb_object_agg(key, r.before -> key) AS old, jsonb_object_agg(key, value) AS new
                FROM jsonb_each(r.after) WHERE r.before -> key IS DISTINCT FROM value
            ) d
        )
        INSERT INTO records_journal (kennel_id, seq, at, actor_id, device_id, request_id, type, uid, op, version, old, new)
        SELECT c.kennel_id, b.base + c.place,
               COALESCE(records_setting('app.at')::timestamptz, statement_timestamp()),
               records_setting('app.actor')::bigint, records_setting('app.device')::bigint,
               records_setting('app.request')::uuid,
               TG_ARGV[0], c.uid,
               CASE WHEN c.before -> 'deleted_at' = 'null' AND c.after -> 'deleted_at' <> 'null' THEN 'delete'
                    WHEN c.before -> 'deleted_at' <> 'null' AND c.after -> 'deleted_at' = 'null' THEN 'restore'
                    ELSE 'update' END,
               c.version,
               CASE WHEN hidden = '{}' THEN c.old ELSE records_hide(c.old, hidden) END,
               CASE WHEN hidden = '{}' THEN c.new ELSE records_hide(c.new, hidden) END
        FROM changed c JOIN bumped b USING (kennel_id);
    END IF;
    GET DIAGNOSTICS written = ROW_COUNT;
    IF written <> expected THEN
        RAISE EXCEPTION 'journal of %: % of % rows have a kennel counter', TG_TABLE_NAME, written, expected;
    END IF;
    RETURN NULL;
END $$;

-- Journal a table: version trigger per row, journal triggers per statement.
CREATE OR REPLACE FUNCTION records_journalled(target regclass, type_name text, hidden text, silent text) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('CREATE TRIGGER record_version BEFORE UPDATE ON %s FOR EACH ROW EXECUTE FUNCTION records_version_row(%L)', target, silent);
    EXECUTE format('CREATE TRIGGER record_created AFTER INSERT ON %s REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION records_journal_rows(%L, %L)', target, type_name, hidden);
    EXECUTE format('CREATE TRIGGER record_changed AFTER UPDATE ON %s REFERENCING NEW TABLE AS new_rows OLD TABLE AS old_rows FOR EACH STATEMENT EXECUTE FUNCTION records_journal_rows(%L, %L)', target, type_name, hidden);
END $$;

-- One kennel at a time for the app role; no kennel set means no rows, never an error.
CREATE OR REPLACE FUNCTION records_isolated(target regclass) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE here text := '(kennel_id = (SELECT NULLIF(current_setting(''app.kennel'', true), '''')::bigint))';
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', target);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', target);
    EXECUTE format('CREATE POLICY one_kennel ON %s TO kennel_app USING %s WITH CHECK %s', target, here, here);
END $$;

CREATE OR REPLACE FUNCTION records_protect(target regclass, type_name text, hidden text) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM records_isolated(target);
    EXECUTE format('CREATE POLICY all_kennels_read ON %s FOR SELECT TO kennel_jobs USING (true)', target);
    EXECUTE format('REVOKE ALL ON %s FROM PUBLIC, kennel_app, kennel_jobs', target);
    EXECUTE format('GRANT SELECT, INSERT, UPDATE ON %s TO kennel_app', target);
    EXECUTE format('GRANT SELECT ON %s TO kennel_jobs', target);
    PERFORM records_journalled(target, type_name, hidden, '');
END $$;

-- Machine rows: what the server makes of the records.  No journal; the jobs role writes them for all kennels.
CREATE OR REPLACE FUNCTION records_protect_machine(target regclass) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    PERFORM records_isolated(target);
    EXECUTE format('CREATE POLICY all_kennels ON %s TO kennel_jobs USING (true) WITH CHECK (true)', target);
    EXECUTE format('REVOKE ALL ON %s FROM PUBLIC, kennel_app, kennel_jobs', target);
    EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %s TO kennel_app, kennel_jobs', target);
END $$;

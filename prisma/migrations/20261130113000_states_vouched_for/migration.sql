-- The journal vouches for rows that change, too: each transaction keeps a list of those it has changed. A running older version goes on; what it changes is vouched for at the next start.

-- Spelling by which an entry's hashes were made. Version 1 did not tell NaN, infinities, -0 and null apart.
ALTER TABLE "journal_entry" ADD COLUMN     "canonical" SMALLINT NOT NULL DEFAULT 1;

-- Which of two entries that vouch for one row is the newer: taken while the row is locked.
CREATE SEQUENCE "vouching_order";

-- Notes, to the end of the transaction, which rows a statement has written; the entry of the transaction vouches for them.
CREATE FUNCTION "note_written_rows"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM set_config('shellgate.written', concat(current_setting('shellgate.written', true),
    (SELECT string_agg(concat(TG_ARGV[0], ':', w."id", ','), '') FROM "written" w)), true);
  RETURN NULL;
END $$;

CREATE FUNCTION "note_written_roles"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM set_config('shellgate.written', concat(current_setting('shellgate.written', true),
    (SELECT string_agg(concat('person_state:', w."person_id", ','), '') FROM "written" w)), true);
  RETURN NULL;
END $$;

DO $$
DECLARE noted TEXT;
BEGIN
  FOREACH noted IN ARRAY ARRAY['frame', 'batch', 'setting_ring', 'person', 'drawing_revision', 'measuring_plan_revision'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS "written"
      FOR EACH STATEMENT EXECUTE FUNCTION "note_written_rows"(%L)', noted || '_inserted_noted', noted, noted || '_state');
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING NEW TABLE AS "written"
      FOR EACH STATEMENT EXECUTE FUNCTION "note_written_rows"(%L)', noted || '_updated_noted', noted, noted || '_state');
  END LOOP;
END $$;
CREATE TRIGGER "person_role_inserted_noted" AFTER INSERT ON "person_role" REFERENCING NEW TABLE AS "written"
  FOR EACH STATEMENT EXECUTE FUNCTION "note_written_roles"();
CREATE TRIGGER "person_role_deleted_noted" AFTER DELETE ON "person_role" REFERENCING OLD TABLE AS "written"
  FOR EACH STATEMENT EXECUTE FUNCTION "note_written_roles"();

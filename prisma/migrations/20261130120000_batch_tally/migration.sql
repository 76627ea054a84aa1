-- Counts of each batch's frames, kept by a trigger, and indexes to search serials by a part. A running older version goes on.

-- CreateTable
CREATE TABLE "batch_tally" (
    "plant_id" UUID NOT NULL,
    "batch_id" UUID NOT NULL,
    "frames" INTEGER NOT NULL,
    "conforms" INTEGER NOT NULL,
    "not_conforming" INTEGER NOT NULL,
    "not_proven" INTEGER NOT NULL,
    "not_measured" INTEGER NOT NULL,
    "unmeasured" INTEGER NOT NULL,
    "held" INTEGER NOT NULL,
    "shipped" INTEGER NOT NULL,
    "gone" INTEGER NOT NULL,

    CONSTRAINT "batch_tally_pkey" PRIMARY KEY ("plant_id","batch_id")
);

-- CreateIndex
CREATE INDEX "batch_plant_id_opened_at_idx" ON "batch"("plant_id", "opened_at");

-- CreateIndex
CREATE INDEX "batch_plant_id_supplier_id_opened_at_idx" ON "batch"("plant_id", "supplier_id", "opened_at");

-- What one frame adds to each count of its batch.
CREATE FUNCTION "frame_counts"("verdict" TEXT, "state" "FrameState", "inspections" SMALLINT) RETURNS INTEGER[]
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT ARRAY[1,
    ($1 IS NOT DISTINCT FROM 'conforms')::int,
    ($1 IS NOT DISTINCT FROM 'does not conform')::int,
    ($1 IS NOT DISTINCT FROM 'not proven')::int,
    ($1 IS NOT DISTINCT FROM 'not measured')::int,
    ($3 = 0 AND $2::text IN ('unmeasured', 'in_measurement'))::int,
    ($2::text = 'held')::int,
    ($2::text = 'shipped')::int,
    ($2::text IN ('shipped', 'scrapped', 'returned'))::int]
$$;

-- The application may not write the counts: they follow the frames, whoever changes them.
CREATE FUNCTION "add_to_batch_tally"("plant" UUID, "batch" UUID, "change" INTEGER[]) RETURNS void
LANGUAGE sql SECURITY DEFINER SET search_path = public, pg_temp AS $$
  INSERT INTO batch_tally AS t (plant_id, batch_id, frames, conforms, not_conforming, not_proven, not_measured, unmeasured,
    held, shipped, gone)
  VALUES ($1, $2, $3[1], $3[2], $3[3], $3[4], $3[5], $3[6], $3[7], $3[8], $3[9])
  ON CONFLICT (plant_id, batch_id) DO UPDATE SET
    frames = t.frames + excluded.frames, conforms = t.conforms + excluded.conforms,
    not_conforming = t.not_conforming + excluded.not_conforming, not_proven = t.not_proven + excluded.not_proven,
    not_measured = t.not_measured + excluded.not_measured, unmeasured = t.unmeasured + excluded.unmeasured,
    held = t.held + excluded.held, shipped = t.shipped + excluded.shipped, gone = t.gone + excluded.gone
$$;
REVOKE EXECUTE ON FUNCTION "add_to_batch_tally"(UUID, UUID, INTEGER[]) FROM PUBLIC;

-- Batches in one order, so that two transactions that touch several of them do not wait for each other in a circle.
CREATE FUNCTION "tally_new_frames"() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  one record;
BEGIN
  FOR one IN
    SELECT plant_id, batch_id, array_agg(total ORDER BY place) AS change FROM (
      SELECT plant_id, batch_id, place, sum(count)::int AS total
      FROM new_rows CROSS JOIN LATERAL unnest(frame_counts(verdict, state, inspections)) WITH ORDINALITY AS c(count, place)
      GROUP BY plant_id, batch_id, place) AS totals
    GROUP BY plant_id, batch_id ORDER BY plant_id, batch_id
  LOOP
    PERFORM add_to_batch_tally(one.plant_id, one.batch_id, one.change);
  END LOOP;
  RETURN NULL;
END $$;

-- What changes no count, as a lease, locks nothing.
CREATE FUNCTION "tally_changed_frames"() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  one record;
BEGIN
  FOR one IN
    SELECT plant_id, batch_id, array_agg(total ORDER BY place) AS change FROM (
      SELECT plant_id, batch_id, place, sum(count * sign)::int AS total FROM (
        SELECT plant_id, batch_id, verdict, state, inspections, 1 AS sign FROM new_rows
        UNION ALL
        SELECT plant_id, batch_id, verdict, state, inspections, -1 FROM old_rows) AS both_rows
      CROSS JOIN LATERAL unnest(frame_counts(verdict, state, inspections)) WITH ORDINALITY AS c(count, place)
      GROUP BY plant_id, batch_id, place) AS totals
    GROUP BY plant_id, batch_id HAVING bool_or(total <> 0) ORDER BY plant_id, batch_id
  LOOP
    PERFORM add_to_batch_tally(one.plant_id, one.batch_id, one.change);
  END LOOP;
  RETURN NULL;
END $$;

CREATE FUNCTION "tally_removed_frames"() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
  one record;
BEGIN
  FOR one IN
    SELECT plant_id, batch_id, array_agg(total ORDER BY place) AS change FROM (
      SELECT plant_id, batch_id, place, -sum(count)::int AS total
      FROM old_rows CROSS JOIN LATERAL unnest(frame_counts(verdict, state, inspections)) WITH ORDINALITY AS c(count, place)
      GROUP BY plant_id, batch_id, place) AS totals
    GROUP BY plant_id, batch_id ORDER BY plant_id, batch_id
  LOOP
    PERFORM add_to_batch_tally(one.plant_id, one.batch_id, one.change);
  END LOOP;
  RETURN NULL;
END $$;

-- Nothing changes frames between the counting and the triggers.
LOCK TABLE "frame" IN SHARE ROW EXCLUSIVE MODE;
INSERT INTO "batch_tally" (plant_id, batch_id, frames, conforms, not_conforming, not_proven, not_measured, unmeasured, held,
  shipped, gone)
SELECT plant_id, batch_id, sum(c[1]), sum(c[2]), sum(c[3]), sum(c[4]), sum(c[5]), sum(c[6]), sum(c[7]), sum(c[8]), sum(c[9])
FROM (SELECT plant_id, batch_id, frame_counts(verdict, state, inspections) AS c FROM "frame") AS counted
GROUP BY plant_id, batch_id;

CREATE TRIGGER "frame_tally_new" AFTER INSERT ON "frame" REFERENCING NEW TABLE AS new_rows
  FOR EACH STATEMENT EXECUTE FUNCTION "tally_new_frames"();
CREATE TRIGGER "frame_tally_changed" AFTER UPDATE ON "frame" REFERENCING NEW TABLE AS new_rows OLD TABLE AS old_rows
  FOR EACH STATEMENT EXECUTE FUNCTION "tally_changed_frames"();
CREATE TRIGGER "frame_tally_removed" AFTER DELETE ON "frame" REFERENCING OLD TABLE AS old_rows
  FOR EACH STATEMENT EXECUTE FUNCTION "tally_removed_frames"();

-- The runs of three characters in a text, in small letters: what a part of a serial is looked up by, without an extension.
CREATE FUNCTION "text_grams"(TEXT) RETURNS TEXT[]
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS $$
  SELECT ARRAY(SELECT DISTINCT substr(lower($1), place, 3) FROM generate_series(1, greatest(length($1) - 2, 1)) AS place)
$$;
CREATE INDEX "frame_serial_grams" ON "frame" USING gin (text_grams("serial"));
CREATE INDEX "frame_serial_prefix" ON "frame" ("plant_id", (lower("serial") COLLATE "C"));
CREATE INDEX "batch_key_grams" ON "batch" USING gin (text_grams("key"));
CREATE INDEX "batch_key_prefix" ON "batch" ("plant_id", (lower("key") COLLATE "C"));

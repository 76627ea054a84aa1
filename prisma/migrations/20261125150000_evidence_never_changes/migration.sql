-- Triggers that keep evidence as it was written; a running older version writes no row that they refuse and goes on.

-- Refuses to delete a row, and to change any column of it but those named as arguments.
CREATE FUNCTION "refuse_change_except"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'UPDATE' AND to_jsonb(OLD) - TG_ARGV = to_jsonb(NEW) - TG_ARGV THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION 'rows of % never change: record a new one', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;

-- What was seen, done and found stays as it was recorded.
CREATE TRIGGER "zero_check_never_changes" BEFORE UPDATE OR DELETE ON "zero_check"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "calibration_never_changes" BEFORE UPDATE OR DELETE ON "calibration"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "event_never_changes" BEFORE UPDATE OR DELETE ON "event"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "attachment_never_changes" BEFORE UPDATE OR DELETE ON "attachment"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "limit_set_never_changes" BEFORE UPDATE OR DELETE ON "limit_set"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
-- What a frame escaped with stays; that it was dealt with is entered later.
CREATE TRIGGER "escape_never_changes" BEFORE UPDATE OR DELETE ON "escape"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change_except"('closed_at');
-- A signal stays as it was raised; what became of it is entered later.
CREATE TRIGGER "signal_never_changes" BEFORE UPDATE OR DELETE ON "signal"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change_except"('state', 'cause', 'assigned_by_id', 'assigned_at');

-- A released revision never changes; a newer one supersedes it.
CREATE TRIGGER "drawing_revision_never_changes" BEFORE UPDATE OR DELETE ON "drawing_revision"
  FOR EACH ROW WHEN (OLD."state" <> 'draft') EXECUTE FUNCTION "refuse_change_except"('state');
CREATE TRIGGER "measuring_plan_revision_never_changes" BEFORE UPDATE OR DELETE ON "measuring_plan_revision"
  FOR EACH ROW WHEN (OLD."state" <> 'draft') EXECUTE FUNCTION "refuse_change_except"('state');

CREATE FUNCTION "refuse_going_back"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'a revision goes from draft to released to superseded and never back' USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER "drawing_revision_never_goes_back" BEFORE UPDATE OF "state" ON "drawing_revision"
  FOR EACH ROW WHEN (NEW."state" < OLD."state") EXECUTE FUNCTION "refuse_going_back"();
CREATE TRIGGER "measuring_plan_revision_never_goes_back" BEFORE UPDATE OF "state" ON "measuring_plan_revision"
  FOR EACH ROW WHEN (NEW."state" < OLD."state") EXECUTE FUNCTION "refuse_going_back"();

CREATE FUNCTION "refuse_released_characteristic"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (
    SELECT 1 FROM "drawing_revision" d
    WHERE d."state" <> 'draft'
      AND (TG_OP <> 'INSERT' AND d."plant_id" = OLD."plant_id" AND d."id" = OLD."drawing_revision_id"
        OR TG_OP <> 'DELETE' AND d."plant_id" = NEW."plant_id" AND d."id" = NEW."drawing_revision_id")) THEN
    RAISE EXCEPTION 'characteristics of a released drawing never change: draft a new revision'
      USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER "characteristic_of_released_never_changes" BEFORE INSERT OR UPDATE OR DELETE ON "characteristic"
  FOR EACH ROW EXECUTE FUNCTION "refuse_released_characteristic"();

-- Emptying a whole table goes past the triggers of its rows.
DO $$
DECLARE evidence TEXT;
BEGIN
  FOREACH evidence IN ARRAY ARRAY['inspection', 'inspection_withdrawal', 'decision', 'shipment', 'journal_entry', 'zero_check',
    'calibration', 'event', 'attachment', 'limit_set', 'escape', 'signal', 'drawing_revision', 'measuring_plan_revision',
    'characteristic'] LOOP
    EXECUTE format('CREATE TRIGGER %I BEFORE TRUNCATE ON %I FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"()',
      evidence || '_never_emptied', evidence);
  END LOOP;
END $$;

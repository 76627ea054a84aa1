-- The journal vouches for what is known of gauges, too. A running older version goes on; gauges that are there are vouched for at the next start.

CREATE TRIGGER "gauge_inserted_noted" AFTER INSERT ON "gauge" REFERENCING NEW TABLE AS "written"
  FOR EACH STATEMENT EXECUTE FUNCTION "note_written_rows"('gauge_state');
CREATE TRIGGER "gauge_updated_noted" AFTER UPDATE ON "gauge" REFERENCING NEW TABLE AS "written"
  FOR EACH STATEMENT EXECUTE FUNCTION "note_written_rows"('gauge_state');

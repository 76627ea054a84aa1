-- Open signals of a stream counted and found in order without reading all of it; a running older version works on, faster.

-- CreateIndex
CREATE INDEX "signal_plant_id_stream_id_state_measured_at_idx" ON "signal"("plant_id", "stream_id", "state", "measured_at");

-- Cases: the spread budget, where streams stand, their signals, and what people did; a running older version works on.

-- CreateTable
CREATE TABLE "alarm_scheme" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "budget" DOUBLE PRECISION NOT NULL,
    "streams" JSONB NOT NULL,
    "expected" DOUBLE PRECISION NOT NULL,
    "reason" TEXT NOT NULL,
    "effective_from" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID,

    CONSTRAINT "alarm_scheme_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "alarm_watch" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "operation_id" UUID NOT NULL,
    "drawing_id" UUID NOT NULL,
    "began_at" TIMESTAMPTZ(3) NOT NULL,
    "began_id" UUID NOT NULL,
    "place" INTEGER NOT NULL DEFAULT 0,
    "newest_at" TIMESTAMPTZ(3),
    "newest_id" UUID,
    "restarts" JSONB NOT NULL DEFAULT '[]',

    CONSTRAINT "alarm_watch_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "alarm_state" (
    "plant_id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "place" INTEGER NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "inspection_id" UUID NOT NULL,
    "digest" TEXT NOT NULL,
    "streams" JSONB NOT NULL,

    CONSTRAINT "alarm_state_pkey" PRIMARY KEY ("plant_id","watch_id","place")
);

-- CreateTable
CREATE TABLE "alarm_signal" (
    "plant_id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "inspection_id" UUID NOT NULL,
    "stream" TEXT NOT NULL,
    "side" TEXT,
    "test" TEXT NOT NULL,
    "measured_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "alarm_signal_pkey" PRIMARY KEY ("plant_id","watch_id","inspection_id","stream")
);

-- CreateTable
CREATE TABLE "drift_case" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "number" INTEGER NOT NULL,
    "watch_id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "operation_id" UUID NOT NULL,
    "drawing_id" UUID NOT NULL,
    "state" TEXT NOT NULL,
    "found" JSONB NOT NULL,
    "signals" TEXT[],
    "since_at" TIMESTAMPTZ(3) NOT NULL,
    "opened_at" TIMESTAMPTZ(3) NOT NULL,
    "over_at" TIMESTAMPTZ(3),
    "times" INTEGER NOT NULL DEFAULT 1,
    "stands" BOOLEAN NOT NULL DEFAULT true,
    "owner_id" UUID,
    "cause" TEXT,
    "closed_at" TIMESTAMPTZ(3),
    "joined_to" UUID,
    "version" INTEGER NOT NULL DEFAULT 0,

    CONSTRAINT "drift_case_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "case_entry" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID,
    "text" TEXT,
    "data" JSONB NOT NULL DEFAULT '{}',

    CONSTRAINT "case_entry_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "case_batch" (
    "plant_id" UUID NOT NULL,
    "case_id" UUID NOT NULL,
    "batch_id" UUID NOT NULL,
    "linked_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "case_batch_pkey" PRIMARY KEY ("plant_id","case_id","batch_id")
);

-- CreateIndex
CREATE UNIQUE INDEX "alarm_scheme_plant_id_version_key" ON "alarm_scheme"("plant_id", "version");

-- CreateIndex
CREATE UNIQUE INDEX "alarm_watch_plant_id_line_id_operation_id_drawing_id_key" ON "alarm_watch"("plant_id", "line_id", "operation_id", "drawing_id");

-- CreateIndex
CREATE INDEX "alarm_signal_plant_id_watch_id_measured_at_idx" ON "alarm_signal"("plant_id", "watch_id", "measured_at");

-- CreateIndex
CREATE INDEX "drift_case_plant_id_watch_id_state_idx" ON "drift_case"("plant_id", "watch_id", "state");

-- CreateIndex
CREATE INDEX "drift_case_plant_id_state_since_at_idx" ON "drift_case"("plant_id", "state", "since_at");

-- CreateIndex
CREATE UNIQUE INDEX "drift_case_plant_id_number_key" ON "drift_case"("plant_id", "number");

-- CreateIndex
CREATE INDEX "case_entry_plant_id_case_id_at_idx" ON "case_entry"("plant_id", "case_id", "at");

-- CreateIndex
CREATE INDEX "case_batch_plant_id_batch_id_idx" ON "case_batch"("plant_id", "batch_id");

-- What people said and did, and by what a stream was tested, is evidence.
CREATE TRIGGER "case_entry_never_changes" BEFORE UPDATE OR DELETE ON "case_entry"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "case_entry_never_emptied" BEFORE TRUNCATE ON "case_entry"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "alarm_scheme_never_changes" BEFORE UPDATE OR DELETE ON "alarm_scheme"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "alarm_scheme_never_emptied" BEFORE TRUNCATE ON "alarm_scheme"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

-- A case is never taken away.
CREATE TRIGGER "drift_case_stays" BEFORE DELETE ON "drift_case"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "drift_case_never_emptied" BEFORE TRUNCATE ON "drift_case"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

select jobs.create_queue('cases.advance', '{"policy": "short"}');
select jobs.create_queue('cases.watch', '{"policy": "short"}');

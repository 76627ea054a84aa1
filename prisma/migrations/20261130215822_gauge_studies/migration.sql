-- Studies of gauges and their readings; a running older version knows nothing of them and works on.

-- CreateTable
CREATE TABLE "gauge_study" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "gauge_id" UUID NOT NULL,
    "title" TEXT NOT NULL,
    "unit" TEXT NOT NULL,
    "tolerance" DOUBLE PRECISION,
    "parts" TEXT[],
    "inspectors" TEXT[],
    "trials" SMALLINT NOT NULL,
    "seed" INTEGER NOT NULL,
    "person_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "gauge_study_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "gauge_study_reading" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "study_id" UUID NOT NULL,
    "place" INTEGER NOT NULL,
    "value" DOUBLE PRECISION NOT NULL,
    "person_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "gauge_study_reading_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE INDEX "gauge_study_plant_id_gauge_id_at_idx" ON "gauge_study"("plant_id", "gauge_id", "at");

-- CreateIndex
CREATE INDEX "gauge_study_reading_plant_id_study_id_place_at_idx" ON "gauge_study_reading"("plant_id", "study_id", "place", "at");

-- What was planned and keyed stays.
CREATE TRIGGER "gauge_study_never_changes" BEFORE UPDATE OR DELETE ON "gauge_study"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "gauge_study_never_emptied" BEFORE TRUNCATE ON "gauge_study"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "gauge_study_reading_never_changes" BEFORE UPDATE OR DELETE ON "gauge_study_reading"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "gauge_study_reading_never_emptied" BEFORE TRUNCATE ON "gauge_study_reading"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

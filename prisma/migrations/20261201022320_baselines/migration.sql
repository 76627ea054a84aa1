-- Versions of the baselines that streams are tested by; a running older version works on.

-- CreateTable
CREATE TABLE "stream_baseline" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "stream" TEXT NOT NULL,
    "version" INTEGER NOT NULL,
    "kind" TEXT NOT NULL,
    "of_version" INTEGER,
    "frames" UUID[],
    "ages" INTEGER[],
    "left_out" JSONB NOT NULL,
    "outliers" UUID[],
    "centre" DOUBLE PRECISION[],
    "sd" DOUBLE PRECISION NOT NULL,
    "region" JSONB NOT NULL,
    "started" JSONB NOT NULL,
    "after_at" TIMESTAMPTZ(3) NOT NULL,
    "after_id" UUID NOT NULL,
    "case_id" UUID,
    "reason" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID,

    CONSTRAINT "stream_baseline_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "stream_baseline_plant_id_watch_id_stream_version_key" ON "stream_baseline"("plant_id", "watch_id", "stream", "version");

-- What somebody signed for is evidence.
CREATE TRIGGER "stream_baseline_never_changes" BEFORE UPDATE OR DELETE ON "stream_baseline"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "stream_baseline_never_emptied" BEFORE TRUNCATE ON "stream_baseline"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

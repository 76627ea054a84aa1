-- Versions of the tests that were chosen for streams; a running older version works on.

-- CreateTable
CREATE TABLE "stream_tests" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "stream" TEXT NOT NULL,
    "version" INTEGER NOT NULL,
    "tests" TEXT[],
    "reason" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID NOT NULL,

    CONSTRAINT "stream_tests_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "stream_tests_plant_id_watch_id_stream_version_key" ON "stream_tests"("plant_id", "watch_id", "stream", "version");

-- By what a stream was tested is evidence.
CREATE TRIGGER "stream_tests_never_changes" BEFORE UPDATE OR DELETE ON "stream_tests"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "stream_tests_never_emptied" BEFORE TRUNCATE ON "stream_tests"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

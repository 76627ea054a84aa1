-- Checks of the journal that people ask for, and the queue of their job; a running older version works on.

-- CreateTable
CREATE TABLE "journal_check" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "asked_at" TIMESTAMPTZ(3) NOT NULL,
    "asked_by_id" UUID,
    "anchor" TEXT,
    "entries" INTEGER NOT NULL DEFAULT 0,
    "checked" INTEGER NOT NULL DEFAULT 0,
    "ended_at" TIMESTAMPTZ(3),
    "report" JSONB,
    "failure" TEXT,

    CONSTRAINT "journal_check_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE INDEX "journal_check_plant_id_asked_at_idx" ON "journal_check"("plant_id", "asked_at");

-- Its job.
select jobs.create_queue('audit.check', '{"policy": "short"}');

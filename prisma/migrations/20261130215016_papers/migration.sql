-- Documents that people ask for, and the queue of their job; a running older version works on.

-- CreateTable
CREATE TABLE "paper" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "about" JSONB NOT NULL,
    "asked_at" TIMESTAMPTZ(3) NOT NULL,
    "asked_by_id" UUID,
    "made" INTEGER NOT NULL DEFAULT 0,
    "ended_at" TIMESTAMPTZ(3),
    "file_name" TEXT,
    "content" BYTEA,
    "content_hash" TEXT,
    "failure" TEXT,

    CONSTRAINT "paper_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE INDEX "paper_plant_id_asked_at_idx" ON "paper"("plant_id", "asked_at");

-- Its job.
select jobs.create_queue('papers.make', '{"policy": "short"}');

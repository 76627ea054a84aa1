-- Backups that were written or asked for, when the next is due, and the queues of their jobs; a running older version works on.

-- CreateTable
CREATE TABLE "backup_run" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "number" INTEGER NOT NULL,
    "asked_at" TIMESTAMPTZ(3) NOT NULL,
    "asked_by_id" UUID,
    "ended_at" TIMESTAMPTZ(3),
    "file" TEXT,
    "bytes" BIGINT,
    "rows" BIGINT,
    "sha256" TEXT,
    "seconds" DOUBLE PRECISION,
    "encrypted" BOOLEAN NOT NULL DEFAULT false,
    "failure" TEXT,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "backup_run_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "backup_setting" (
    "plant_id" UUID NOT NULL,
    "enabled" BOOLEAN NOT NULL DEFAULT true,
    "minute" SMALLINT NOT NULL DEFAULT 120,
    "keep_newest" SMALLINT NOT NULL DEFAULT 7,
    "keep_weeks" SMALLINT NOT NULL DEFAULT 4,
    "keep_months" SMALLINT NOT NULL DEFAULT 12,
    "with_keys" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "backup_setting_pkey" PRIMARY KEY ("plant_id")
);

-- CreateIndex
CREATE UNIQUE INDEX "backup_run_plant_id_number_key" ON "backup_run"("plant_id", "number");

-- Their jobs.
select jobs.create_queue('backup.due', '{"policy": "short"}');
select jobs.create_queue('backup.write', '{"policy": "short"}');

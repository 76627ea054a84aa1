-- Parts of the plant count their changes, rings go out of use, badges are remembered. A running older version goes on: all columns have defaults.

-- AlterTable
ALTER TABLE "frame_model" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "gauge" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "line" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "operation" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "plant" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "setting_ring" ADD COLUMN     "active" BOOLEAN NOT NULL DEFAULT true,
ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "station" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- AlterTable
ALTER TABLE "supplier" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 0;

-- CreateTable
CREATE TABLE "former_badge" (
    "plant_id" UUID NOT NULL,
    "code" TEXT NOT NULL,
    "until" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID NOT NULL,

    CONSTRAINT "former_badge_pkey" PRIMARY KEY ("plant_id","code","until")
);

CREATE TRIGGER "former_badge_never_changes" BEFORE UPDATE OR DELETE ON "former_badge"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "former_badge_never_emptied" BEFORE TRUNCATE ON "former_badge"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

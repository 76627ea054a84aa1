-- Corrections of events; a running older version works on and still shows a corrected event as it was entered.

-- CreateTable
CREATE TABLE "event_correction" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "instead_id" UUID,
    "reason" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "person_id" UUID,
    "token_id" UUID,

    CONSTRAINT "event_correction_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE UNIQUE INDEX "event_correction_plant_id_event_id_key" ON "event_correction"("plant_id", "event_id");

-- CreateIndex
CREATE UNIQUE INDEX "event_correction_plant_id_instead_id_key" ON "event_correction"("plant_id", "instead_id");

-- AddForeignKey
ALTER TABLE "event_correction" ADD CONSTRAINT "event_correction_plant_id_event_id_fkey" FOREIGN KEY ("plant_id", "event_id") REFERENCES "event"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "event_correction" ADD CONSTRAINT "event_correction_plant_id_instead_id_fkey" FOREIGN KEY ("plant_id", "instead_id") REFERENCES "event"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What was said of an event stays.
CREATE TRIGGER "event_correction_never_changes" BEFORE UPDATE OR DELETE ON "event_correction"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "event_correction_never_emptied" BEFORE TRUNCATE ON "event_correction"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();
ALTER TABLE "event_correction" ADD CONSTRAINT "event_correction_not_by_itself" CHECK ("instead_id" IS DISTINCT FROM "event_id");

-- How batches of a supplier and model are sampled, and what became of the samples; a running older version works on.

-- CreateTable
CREATE TABLE "sampling_scheme" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "supplier_id" UUID NOT NULL,
    "model_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "scheme" JSONB NOT NULL,
    "state" JSONB,
    "reason" TEXT NOT NULL,
    "person_id" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "sampling_scheme_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "batch_sample" (
    "plant_id" UUID NOT NULL,
    "batch_id" UUID NOT NULL,
    "scheme_id" UUID NOT NULL,
    "frames" JSONB NOT NULL,
    "plan" JSONB NOT NULL,
    "state" JSONB,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "batch_sample_pkey" PRIMARY KEY ("plant_id","batch_id")
);

-- CreateTable
CREATE TABLE "sampled_lot" (
    "plant_id" UUID NOT NULL,
    "batch_id" UUID NOT NULL,
    "scheme_id" UUID NOT NULL,
    "place" INTEGER NOT NULL,
    "found" TEXT[],
    "accepted" BOOLEAN NOT NULL,
    "accepted_tighter" BOOLEAN NOT NULL,
    "state" JSONB NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "sampled_lot_pkey" PRIMARY KEY ("plant_id","batch_id")
);

-- CreateIndex
CREATE UNIQUE INDEX "sampling_scheme_plant_id_supplier_id_model_id_version_key" ON "sampling_scheme"("plant_id", "supplier_id", "model_id", "version");

-- CreateIndex
CREATE INDEX "batch_sample_plant_id_scheme_id_idx" ON "batch_sample"("plant_id", "scheme_id");

-- CreateIndex
CREATE UNIQUE INDEX "sampled_lot_plant_id_scheme_id_place_key" ON "sampled_lot"("plant_id", "scheme_id", "place");

-- By what a batch was judged is evidence.
CREATE TRIGGER "sampling_scheme_never_changes" BEFORE UPDATE OR DELETE ON "sampling_scheme"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "sampling_scheme_never_emptied" BEFORE TRUNCATE ON "sampling_scheme"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "batch_sample_never_changes" BEFORE UPDATE OR DELETE ON "batch_sample"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "batch_sample_never_emptied" BEFORE TRUNCATE ON "batch_sample"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "sampled_lot_never_changes" BEFORE UPDATE OR DELETE ON "sampled_lot"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "sampled_lot_never_emptied" BEFORE TRUNCATE ON "sampled_lot"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

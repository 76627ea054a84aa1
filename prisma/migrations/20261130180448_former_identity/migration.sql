-- Names and e-mails that people had before a correction; a running older version works on and shows the new name everywhere.

-- CreateTable
CREATE TABLE "former_identity" (
    "plant_id" UUID NOT NULL,
    "person_id" UUID NOT NULL,
    "until" TIMESTAMPTZ(3) NOT NULL,
    "name" TEXT NOT NULL,
    "email" TEXT,

    CONSTRAINT "former_identity_pkey" PRIMARY KEY ("plant_id","person_id","until")
);

CREATE TRIGGER "former_identity_never_changes" BEFORE UPDATE OR DELETE ON "former_identity"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "former_identity_never_emptied" BEFORE TRUNCATE ON "former_identity"
  FOR EACH STATEMENT EXECUTE FUNCTION "refuse_change"();

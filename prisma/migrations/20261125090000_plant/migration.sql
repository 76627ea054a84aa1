-- The first tables: plant, drawings, plans, frames, inspections, streams, decisions, journal, sign-in. Breaks nothing: there is no older version.
-- CreateSchema
CREATE SCHEMA IF NOT EXISTS "public";

-- CreateEnum
CREATE TYPE "Role" AS ENUM ('inspector', 'engineer', 'supplier_manager', 'dock', 'auditor', 'administrator');

-- CreateEnum
CREATE TYPE "RevisionState" AS ENUM ('draft', 'released', 'superseded');

-- CreateEnum
CREATE TYPE "FrameState" AS ENUM ('unmeasured', 'in_measurement', 'measured', 'held', 'released', 'in_rework', 'on_concession', 'regraded', 'scrapped', 'returned', 'shipped');

-- CreateEnum
CREATE TYPE "SignalState" AS ENUM ('open', 'assigned', 'closed', 'overtaken');

-- CreateEnum
CREATE TYPE "DecisionKind" AS ENUM ('release', 'rework', 'repair', 'regrade', 'concession', 'scrap', 'return_to_supplier', 'measure_again', 'limits_approved', 'first_off_release');

-- CreateTable
CREATE TABLE "plant" (
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "time_zone" TEXT NOT NULL,
    "invented" BOOLEAN NOT NULL DEFAULT false,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "plant_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "line" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "active" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "line_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "operation" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "position" SMALLINT NOT NULL,

    CONSTRAINT "operation_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "station" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "line_id" UUID NOT NULL,
    "operation_id" UUID NOT NULL,
    "viewing_side" TEXT NOT NULL DEFAULT 'ds',
    "active" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "station_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "device" (
    "plant_id" UUID NOT NULL,
    "id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "station_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "last_seen_at" TIMESTAMPTZ(3),
    "revoked_at" TIMESTAMPTZ(3),
    "queue" JSONB,

    CONSTRAINT "device_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "person" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "badge_code" TEXT,
    "user_id" TEXT,
    "active" BOOLEAN NOT NULL DEFAULT true,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "person_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "person_role" (
    "plant_id" UUID NOT NULL,
    "person_id" UUID NOT NULL,
    "role" "Role" NOT NULL,

    CONSTRAINT "person_role_pkey" PRIMARY KEY ("plant_id","person_id","role")
);

-- CreateTable
CREATE TABLE "supplier" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "active" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "supplier_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "drawing" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "title" TEXT NOT NULL,

    CONSTRAINT "drawing_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "drawing_revision" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "drawing_id" UUID NOT NULL,
    "revision" TEXT NOT NULL,
    "state" "RevisionState" NOT NULL DEFAULT 'draft',
    "content" JSONB NOT NULL,
    "feature_names" TEXT[],
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "released_at" TIMESTAMPTZ(3),
    "released_by_id" UUID,

    CONSTRAINT "drawing_revision_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "characteristic" (
    "plant_id" UUID NOT NULL,
    "drawing_revision_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "position" SMALLINT NOT NULL,
    "unit" TEXT NOT NULL,
    "lower" DOUBLE PRECISION,
    "upper" DOUBLE PRECISION,
    "target" DOUBLE PRECISION,
    "critical" BOOLEAN NOT NULL,
    "uncertainty" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "characteristic_pkey" PRIMARY KEY ("plant_id","drawing_revision_id","name")
);

-- CreateTable
CREATE TABLE "measuring_plan" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "drawing_id" UUID NOT NULL,

    CONSTRAINT "measuring_plan_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "measuring_plan_revision" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "plan_id" UUID NOT NULL,
    "drawing_revision_id" UUID NOT NULL,
    "revision" TEXT NOT NULL,
    "state" "RevisionState" NOT NULL DEFAULT 'draft',
    "reading_names" TEXT[],
    "frames" JSONB NOT NULL,
    "settings" JSONB NOT NULL DEFAULT '{}',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "released_at" TIMESTAMPTZ(3),
    "released_by_id" UUID,

    CONSTRAINT "measuring_plan_revision_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "frame_model" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "drawing_id" UUID NOT NULL,
    "active" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "frame_model_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "batch" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "supplier_id" UUID NOT NULL,
    "model_id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "plan_id" UUID NOT NULL,
    "policy" JSONB NOT NULL DEFAULT '{}',
    "opened_at" TIMESTAMPTZ(3) NOT NULL,
    "held_at" TIMESTAMPTZ(3),
    "released_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 0,

    CONSTRAINT "batch_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "frame" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "serial" TEXT NOT NULL,
    "batch_id" UUID NOT NULL,
    "state" "FrameState" NOT NULL DEFAULT 'unmeasured',
    "position" INTEGER NOT NULL,
    "mould" TEXT,
    "verdict" TEXT,
    "judgement" JSONB NOT NULL DEFAULT '[]',
    "inspections" SMALLINT NOT NULL DEFAULT 0,
    "last_inspection_id" UUID,
    "measured_at" TIMESTAMPTZ(3),
    "lease_device_id" TEXT,
    "leased_at" TIMESTAMPTZ(3),
    "concession_until" TIMESTAMPTZ(3),
    "evidence_from" TIMESTAMPTZ(3),
    "shipped_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 0,

    CONSTRAINT "frame_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "inspection" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "frame_id" UUID NOT NULL,
    "batch_id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "station_id" UUID NOT NULL,
    "operation_id" UUID NOT NULL,
    "drawing_id" UUID NOT NULL,
    "drawing_revision_id" UUID NOT NULL,
    "plan_revision_id" UUID NOT NULL,
    "inspector_id" UUID,
    "device_id" TEXT,
    "ordinal" SMALLINT NOT NULL DEFAULT 1,
    "reason" TEXT,
    "readings" DOUBLE PRECISION[],
    "gauges" SMALLINT[],
    "gauge_keys" TEXT[],
    "states" SMALLINT[],
    "offsets_ms" INTEGER[],
    "features" DOUBLE PRECISION[],
    "judgement" JSONB NOT NULL,
    "verdict" TEXT NOT NULL,
    "superseded" JSONB NOT NULL DEFAULT '[]',
    "attributes" JSONB NOT NULL DEFAULT '{}',
    "device_time" TIMESTAMPTZ(3) NOT NULL,
    "measured_at" TIMESTAMPTZ(3) NOT NULL,
    "recorded_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "core_version" TEXT NOT NULL,
    "tool" TEXT,
    "fixture" TEXT,
    "content_hash" BYTEA NOT NULL,

    CONSTRAINT "inspection_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "inspection_withdrawal" (
    "plant_id" UUID NOT NULL,
    "inspection_id" UUID NOT NULL,
    "person_id" UUID NOT NULL,
    "reason" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "inspection_withdrawal_pkey" PRIMARY KEY ("plant_id","inspection_id")
);

-- CreateTable
CREATE TABLE "gauge" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "principle" TEXT NOT NULL,
    "resolution_um" DOUBLE PRECISION NOT NULL,
    "station_id" UUID,
    "ring_id" UUID,
    "active" BOOLEAN NOT NULL DEFAULT true,

    CONSTRAINT "gauge_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "setting_ring" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "certified_size_mm" DOUBLE PRECISION NOT NULL,
    "uncertainty_um" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "setting_ring_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "calibration" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "gauge_id" UUID,
    "ring_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "due_at" TIMESTAMPTZ(3) NOT NULL,
    "bias_um" DOUBLE PRECISION,
    "certificate" TEXT,

    CONSTRAINT "calibration_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "zero_check" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "gauge_id" UUID NOT NULL,
    "ring_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "reading_mm" DOUBLE PRECISION NOT NULL,
    "drift_um" DOUBLE PRECISION NOT NULL,
    "limit_um" DOUBLE PRECISION NOT NULL,
    "occasion" TEXT NOT NULL,
    "person_id" UUID,

    CONSTRAINT "zero_check_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "stream" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "operation_id" UUID NOT NULL,
    "drawing_id" UUID NOT NULL,
    "feature" TEXT NOT NULL,
    "points" INTEGER NOT NULL DEFAULT 0,
    "last_at" TIMESTAMPTZ(3),
    "limit_set_id" UUID,

    CONSTRAINT "stream_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "limit_set" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "stream_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "center" DOUBLE PRECISION NOT NULL,
    "sigma" DOUBLE PRECISION NOT NULL,
    "lower" DOUBLE PRECISION,
    "upper" DOUBLE PRECISION,
    "range_center" DOUBLE PRECISION,
    "range_upper" DOUBLE PRECISION,
    "method" JSONB NOT NULL,
    "baseline_from" TIMESTAMPTZ(3) NOT NULL,
    "baseline_to" TIMESTAMPTZ(3) NOT NULL,
    "frames" INTEGER NOT NULL,
    "provisional" BOOLEAN NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "approved_at" TIMESTAMPTZ(3),
    "approved_by_id" UUID,

    CONSTRAINT "limit_set_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "signal" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "stream_id" UUID NOT NULL,
    "rule" TEXT NOT NULL,
    "inspection_id" UUID NOT NULL,
    "measured_at" TIMESTAMPTZ(3) NOT NULL,
    "raised_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "state" "SignalState" NOT NULL DEFAULT 'open',
    "detail" JSONB NOT NULL,
    "cause" TEXT,
    "assigned_by_id" UUID,
    "assigned_at" TIMESTAMPTZ(3),

    CONSTRAINT "signal_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "event" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "line_id" UUID,
    "kind" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "text" TEXT NOT NULL,
    "subject" TEXT,
    "person_id" UUID,

    CONSTRAINT "event_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "decision" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "kind" "DecisionKind" NOT NULL,
    "batch_id" UUID,
    "frame_ids" UUID[],
    "grounds" TEXT NOT NULL,
    "evidence" JSONB NOT NULL,
    "person_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3),
    "content_hash" BYTEA NOT NULL,

    CONSTRAINT "decision_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "shipment" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "frame_id" UUID,
    "serial" TEXT NOT NULL,
    "answer" TEXT NOT NULL,
    "reasons" JSONB NOT NULL,
    "person_id" UUID,
    "token_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "shipment_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "escape" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "frame_id" UUID NOT NULL,
    "inspection_id" UUID,
    "reason" TEXT NOT NULL,
    "opened_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "closed_at" TIMESTAMPTZ(3),

    CONSTRAINT "escape_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "attachment" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "inspection_id" UUID,
    "frame_id" UUID,
    "name" TEXT NOT NULL,
    "media_type" TEXT NOT NULL,
    "bytes" BYTEA NOT NULL,
    "content_hash" BYTEA NOT NULL,
    "person_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "attachment_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "journal_chain" (
    "plant_id" UUID NOT NULL,
    "chain" TEXT NOT NULL,
    "length" BIGINT NOT NULL DEFAULT 0,
    "head" BYTEA NOT NULL,

    CONSTRAINT "journal_chain_pkey" PRIMARY KEY ("plant_id","chain")
);

-- CreateTable
CREATE TABLE "journal_entry" (
    "plant_id" UUID NOT NULL,
    "chain" TEXT NOT NULL,
    "sequence" BIGINT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "actor" TEXT NOT NULL,
    "action" TEXT NOT NULL,
    "subjects" JSONB NOT NULL,
    "payload" JSONB NOT NULL,
    "previous" BYTEA NOT NULL,
    "hash" BYTEA NOT NULL,

    CONSTRAINT "journal_entry_pkey" PRIMARY KEY ("plant_id","chain","sequence")
);

-- CreateTable
CREATE TABLE "outbox" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "topic" TEXT NOT NULL,
    "payload" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "delivered_at" TIMESTAMPTZ(3),
    "attempts" SMALLINT NOT NULL DEFAULT 0,

    CONSTRAINT "outbox_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "api_token" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "prefix" TEXT NOT NULL,
    "token_hash" BYTEA NOT NULL,
    "scopes" TEXT[],
    "created_by_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3),
    "revoked_at" TIMESTAMPTZ(3),
    "last_used_at" TIMESTAMPTZ(3),

    CONSTRAINT "api_token_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "setup_link" (
    "token_hash" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "used_at" TIMESTAMPTZ(3),

    CONSTRAINT "setup_link_pkey" PRIMARY KEY ("token_hash")
);

-- CreateTable
CREATE TABLE "auth_user" (
    "id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "email" TEXT NOT NULL,
    "email_verified" BOOLEAN NOT NULL DEFAULT false,
    "image" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "auth_user_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "auth_session" (
    "id" TEXT NOT NULL,
    "token" TEXT NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "ip_address" TEXT,
    "user_agent" TEXT,
    "user_id" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "auth_session_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "auth_account" (
    "id" TEXT NOT NULL,
    "account_id" TEXT NOT NULL,
    "provider_id" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "access_token" TEXT,
    "refresh_token" TEXT,
    "id_token" TEXT,
    "access_token_expires_at" TIMESTAMPTZ(3),
    "refresh_token_expires_at" TIMESTAMPTZ(3),
    "scope" TEXT,
    "password" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "auth_account_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "auth_verification" (
    "id" TEXT NOT NULL,
    "identifier" TEXT NOT NULL,
    "value" TEXT NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "auth_verification_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "auth_rate_limit" (
    "id" TEXT NOT NULL,
    "key" TEXT NOT NULL,
    "count" INTEGER NOT NULL,
    "last_request" BIGINT NOT NULL,

    CONSTRAINT "auth_rate_limit_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "plant_key_key" ON "plant"("key");

-- CreateIndex
CREATE UNIQUE INDEX "line_plant_id_key_key" ON "line"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "operation_plant_id_key_key" ON "operation"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "station_plant_id_key_key" ON "station"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "person_plant_id_badge_code_key" ON "person"("plant_id", "badge_code");

-- CreateIndex
CREATE UNIQUE INDEX "person_plant_id_user_id_key" ON "person"("plant_id", "user_id");

-- CreateIndex
CREATE UNIQUE INDEX "supplier_plant_id_key_key" ON "supplier"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "drawing_plant_id_key_key" ON "drawing"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "drawing_revision_plant_id_drawing_id_revision_key" ON "drawing_revision"("plant_id", "drawing_id", "revision");

-- CreateIndex
CREATE UNIQUE INDEX "measuring_plan_plant_id_key_key" ON "measuring_plan"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "measuring_plan_revision_plant_id_plan_id_revision_key" ON "measuring_plan_revision"("plant_id", "plan_id", "revision");

-- CreateIndex
CREATE UNIQUE INDEX "frame_model_plant_id_key_key" ON "frame_model"("plant_id", "key");

-- CreateIndex
CREATE INDEX "batch_plant_id_line_id_opened_at_idx" ON "batch"("plant_id", "line_id", "opened_at");

-- CreateIndex
CREATE UNIQUE INDEX "batch_plant_id_key_key" ON "batch"("plant_id", "key");

-- CreateIndex
CREATE INDEX "frame_plant_id_batch_id_position_idx" ON "frame"("plant_id", "batch_id", "position");

-- CreateIndex
CREATE UNIQUE INDEX "frame_plant_id_serial_key" ON "frame"("plant_id", "serial");

-- CreateIndex
CREATE INDEX "inspection_plant_id_line_id_operation_id_drawing_id_measure_idx" ON "inspection"("plant_id", "line_id", "operation_id", "drawing_id", "measured_at", "id");

-- CreateIndex
CREATE INDEX "inspection_plant_id_frame_id_operation_id_measured_at_idx" ON "inspection"("plant_id", "frame_id", "operation_id", "measured_at");

-- CreateIndex
CREATE INDEX "inspection_plant_id_batch_id_idx" ON "inspection"("plant_id", "batch_id");

-- CreateIndex
CREATE UNIQUE INDEX "gauge_plant_id_key_key" ON "gauge"("plant_id", "key");

-- CreateIndex
CREATE UNIQUE INDEX "setting_ring_plant_id_key_key" ON "setting_ring"("plant_id", "key");

-- CreateIndex
CREATE INDEX "calibration_plant_id_gauge_id_at_idx" ON "calibration"("plant_id", "gauge_id", "at");

-- CreateIndex
CREATE INDEX "zero_check_plant_id_gauge_id_at_idx" ON "zero_check"("plant_id", "gauge_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "stream_plant_id_line_id_operation_id_drawing_id_feature_key" ON "stream"("plant_id", "line_id", "operation_id", "drawing_id", "feature");

-- CreateIndex
CREATE UNIQUE INDEX "limit_set_plant_id_stream_id_version_key" ON "limit_set"("plant_id", "stream_id", "version");

-- CreateIndex
CREATE INDEX "signal_plant_id_state_measured_at_idx" ON "signal"("plant_id", "state", "measured_at");

-- CreateIndex
CREATE UNIQUE INDEX "signal_plant_id_stream_id_rule_inspection_id_key" ON "signal"("plant_id", "stream_id", "rule", "inspection_id");

-- CreateIndex
CREATE INDEX "event_plant_id_line_id_at_idx" ON "event"("plant_id", "line_id", "at");

-- CreateIndex
CREATE INDEX "decision_plant_id_batch_id_at_idx" ON "decision"("plant_id", "batch_id", "at");

-- CreateIndex
CREATE INDEX "shipment_plant_id_serial_at_idx" ON "shipment"("plant_id", "serial", "at");

-- CreateIndex
CREATE INDEX "shipment_plant_id_at_idx" ON "shipment"("plant_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "escape_plant_id_frame_id_inspection_id_key" ON "escape"("plant_id", "frame_id", "inspection_id");

-- CreateIndex
CREATE INDEX "attachment_plant_id_frame_id_idx" ON "attachment"("plant_id", "frame_id");

-- CreateIndex
CREATE INDEX "attachment_plant_id_inspection_id_idx" ON "attachment"("plant_id", "inspection_id");

-- CreateIndex
CREATE INDEX "journal_entry_plant_id_at_idx" ON "journal_entry"("plant_id", "at");

-- CreateIndex
CREATE INDEX "outbox_plant_id_delivered_at_created_at_idx" ON "outbox"("plant_id", "delivered_at", "created_at");

-- CreateIndex
CREATE UNIQUE INDEX "api_token_token_hash_key" ON "api_token"("token_hash");

-- CreateIndex
CREATE UNIQUE INDEX "auth_user_email_key" ON "auth_user"("email");

-- CreateIndex
CREATE UNIQUE INDEX "auth_session_token_key" ON "auth_session"("token");

-- CreateIndex
CREATE INDEX "auth_session_user_id_idx" ON "auth_session"("user_id");

-- CreateIndex
CREATE INDEX "auth_account_user_id_idx" ON "auth_account"("user_id");

-- CreateIndex
CREATE INDEX "auth_verification_identifier_idx" ON "auth_verification"("identifier");

-- CreateIndex
CREATE UNIQUE INDEX "auth_rate_limit_key_key" ON "auth_rate_limit"("key");

-- AddForeignKey
ALTER TABLE "line" ADD CONSTRAINT "line_plant_id_fkey" FOREIGN KEY ("plant_id") REFERENCES "plant"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "station" ADD CONSTRAINT "station_plant_id_line_id_fkey" FOREIGN KEY ("plant_id", "line_id") REFERENCES "line"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "station" ADD CONSTRAINT "station_plant_id_operation_id_fkey" FOREIGN KEY ("plant_id", "operation_id") REFERENCES "operation"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "person_role" ADD CONSTRAINT "person_role_plant_id_person_id_fkey" FOREIGN KEY ("plant_id", "person_id") REFERENCES "person"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "drawing_revision" ADD CONSTRAINT "drawing_revision_plant_id_drawing_id_fkey" FOREIGN KEY ("plant_id", "drawing_id") REFERENCES "drawing"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "characteristic" ADD CONSTRAINT "characteristic_plant_id_drawing_revision_id_fkey" FOREIGN KEY ("plant_id", "drawing_revision_id") REFERENCES "drawing_revision"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "measuring_plan" ADD CONSTRAINT "measuring_plan_plant_id_drawing_id_fkey" FOREIGN KEY ("plant_id", "drawing_id") REFERENCES "drawing"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "measuring_plan_revision" ADD CONSTRAINT "measuring_plan_revision_plant_id_plan_id_fkey" FOREIGN KEY ("plant_id", "plan_id") REFERENCES "measuring_plan"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "measuring_plan_revision" ADD CONSTRAINT "measuring_plan_revision_plant_id_drawing_revision_id_fkey" FOREIGN KEY ("plant_id", "drawing_revision_id") REFERENCES "drawing_revision"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "frame_model" ADD CONSTRAINT "frame_model_plant_id_drawing_id_fkey" FOREIGN KEY ("plant_id", "drawing_id") REFERENCES "drawing"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "batch" ADD CONSTRAINT "batch_plant_id_supplier_id_fkey" FOREIGN KEY ("plant_id", "supplier_id") REFERENCES "supplier"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "batch" ADD CONSTRAINT "batch_plant_id_model_id_fkey" FOREIGN KEY ("plant_id", "model_id") REFERENCES "frame_model"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "batch" ADD CONSTRAINT "batch_plant_id_line_id_fkey" FOREIGN KEY ("plant_id", "line_id") REFERENCES "line"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "batch" ADD CONSTRAINT "batch_plant_id_plan_id_fkey" FOREIGN KEY ("plant_id", "plan_id") REFERENCES "measuring_plan"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "frame" ADD CONSTRAINT "frame_plant_id_batch_id_fkey" FOREIGN KEY ("plant_id", "batch_id") REFERENCES "batch"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection" ADD CONSTRAINT "inspection_plant_id_frame_id_fkey" FOREIGN KEY ("plant_id", "frame_id") REFERENCES "frame"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspection_withdrawal" ADD CONSTRAINT "inspection_withdrawal_plant_id_inspection_id_fkey" FOREIGN KEY ("plant_id", "inspection_id") REFERENCES "inspection"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "calibration" ADD CONSTRAINT "calibration_plant_id_gauge_id_fkey" FOREIGN KEY ("plant_id", "gauge_id") REFERENCES "gauge"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "zero_check" ADD CONSTRAINT "zero_check_plant_id_gauge_id_fkey" FOREIGN KEY ("plant_id", "gauge_id") REFERENCES "gauge"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stream" ADD CONSTRAINT "stream_plant_id_line_id_fkey" FOREIGN KEY ("plant_id", "line_id") REFERENCES "line"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stream" ADD CONSTRAINT "stream_plant_id_drawing_id_fkey" FOREIGN KEY ("plant_id", "drawing_id") REFERENCES "drawing"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "limit_set" ADD CONSTRAINT "limit_set_plant_id_stream_id_fkey" FOREIGN KEY ("plant_id", "stream_id") REFERENCES "stream"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "signal" ADD CONSTRAINT "signal_plant_id_stream_id_fkey" FOREIGN KEY ("plant_id", "stream_id") REFERENCES "stream"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "decision" ADD CONSTRAINT "decision_plant_id_person_id_fkey" FOREIGN KEY ("plant_id", "person_id") REFERENCES "person"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "escape" ADD CONSTRAINT "escape_plant_id_frame_id_fkey" FOREIGN KEY ("plant_id", "frame_id") REFERENCES "frame"("plant_id", "id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "auth_session" ADD CONSTRAINT "auth_session_user_id_fkey" FOREIGN KEY ("user_id") REFERENCES "auth_user"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "auth_account" ADD CONSTRAINT "auth_account_user_id_fkey" FOREIGN KEY ("user_id") REFERENCES "auth_user"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say: values that may not be, and rows that may not change.

-- Not NaN, not infinite (an infinity minus itself is NaN).
CREATE FUNCTION "all_finite"("values" DOUBLE PRECISION[]) RETURNS BOOLEAN
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT NOT ('NaN'::float8 = ANY("values") IS TRUE
    OR 'Infinity'::float8 = ANY("values") IS TRUE
    OR '-Infinity'::float8 = ANY("values") IS TRUE)
$$;

ALTER TABLE "inspection"
  ADD CONSTRAINT "inspection_readings_finite" CHECK ("all_finite"("readings")),
  ADD CONSTRAINT "inspection_features_finite" CHECK ("all_finite"("features")),
  ADD CONSTRAINT "inspection_arrays_match" CHECK (
    cardinality("readings") >= 1
    AND cardinality("gauges") IN (0, cardinality("readings"))
    AND cardinality("states") IN (0, cardinality("readings"))
    AND cardinality("offsets_ms") IN (0, cardinality("readings"))),
  ADD CONSTRAINT "inspection_states_known" CHECK ("states" <@ ARRAY[0, 1, 2]::SMALLINT[]),
  ADD CONSTRAINT "inspection_verdict_known" CHECK ("verdict" IN ('conforms', 'not proven', 'not measured', 'does not conform')),
  ADD CONSTRAINT "inspection_again_has_reason" CHECK ("ordinal" = 1 OR "reason" IS NOT NULL),
  ADD CONSTRAINT "inspection_hash_length" CHECK (octet_length("content_hash") = 32);

ALTER TABLE "characteristic"
  ADD CONSTRAINT "characteristic_limited" CHECK ("lower" IS NOT NULL OR "upper" IS NOT NULL),
  ADD CONSTRAINT "characteristic_order" CHECK ("lower" IS NULL OR "upper" IS NULL OR "lower" < "upper"),
  ADD CONSTRAINT "characteristic_finite" CHECK ("all_finite"(ARRAY["lower", "upper", "target", "uncertainty"])),
  ADD CONSTRAINT "characteristic_uncertainty" CHECK ("uncertainty" >= 0);

ALTER TABLE "station" ADD CONSTRAINT "station_side_known" CHECK ("viewing_side" IN ('ds', 'nds'));
ALTER TABLE "gauge" ADD CONSTRAINT "gauge_kind_known" CHECK ("kind" IN ('bore', 'sweep', 'face', 'width', 'plug', 'bar'));
ALTER TABLE "zero_check" ADD CONSTRAINT "zero_check_finite" CHECK ("all_finite"(ARRAY["reading_mm", "drift_um", "limit_um"]));
ALTER TABLE "calibration"
  ADD CONSTRAINT "calibration_of_one" CHECK (num_nonnulls("gauge_id", "ring_id") = 1),
  ADD CONSTRAINT "calibration_due_after" CHECK ("due_at" > "at");
ALTER TABLE "frame"
  ADD CONSTRAINT "frame_lease_whole" CHECK (("lease_device_id" IS NULL) = ("leased_at" IS NULL)),
  ADD CONSTRAINT "frame_shipped_time" CHECK (("state" = 'shipped') = ("shipped_at" IS NOT NULL)),
  ADD CONSTRAINT "frame_shipped_unleased" CHECK ("state" <> 'shipped' OR "lease_device_id" IS NULL),
  ADD CONSTRAINT "frame_verdict_known" CHECK ("verdict" IN ('conforms', 'not proven', 'not measured', 'does not conform'));
ALTER TABLE "limit_set"
  ADD CONSTRAINT "limit_set_finite" CHECK ("all_finite"(ARRAY["center", "sigma", "lower", "upper", "range_center", "range_upper"])),
  ADD CONSTRAINT "limit_set_order" CHECK ("sigma" >= 0 AND ("lower" IS NULL OR "upper" IS NULL OR "lower" <= "upper")),
  ADD CONSTRAINT "limit_set_approved_whole" CHECK (("approved_at" IS NULL) = ("approved_by_id" IS NULL)),
  ADD CONSTRAINT "limit_set_enough" CHECK ("frames" >= 2);
ALTER TABLE "shipment" ADD CONSTRAINT "shipment_answer_known" CHECK ("answer" IN ('shipped', 'refused'));
ALTER TABLE "decision" ADD CONSTRAINT "decision_grounds" CHECK (length(btrim("grounds")) > 0);

-- Frames are updated often and no index holds what changes: room in each page keeps those updates cheap.
ALTER TABLE "frame" SET (fillfactor = 70);

CREATE FUNCTION "refuse_change"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'rows of % never change: record a new one', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;

CREATE TRIGGER "inspection_never_changes" BEFORE UPDATE OR DELETE ON "inspection"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "inspection_withdrawal_never_changes" BEFORE UPDATE OR DELETE ON "inspection_withdrawal"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "decision_never_changes" BEFORE UPDATE OR DELETE ON "decision"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "shipment_never_changes" BEFORE UPDATE OR DELETE ON "shipment"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "journal_entry_never_changes" BEFORE UPDATE OR DELETE ON "journal_entry"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();

-- A shipped frame ships once and stays shipped.
CREATE FUNCTION "refuse_unship"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'a shipped frame stays shipped' USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER "frame_stays_shipped" BEFORE UPDATE OF "state" ON "frame"
  FOR EACH ROW WHEN (OLD."state" = 'shipped' AND NEW."state" <> 'shipped') EXECUTE FUNCTION "refuse_unship"();

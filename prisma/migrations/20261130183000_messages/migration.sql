-- Messages: who is told what, by mail, webhook or in the application; a running older version works on.

-- AlterTable
ALTER TABLE "outbox" ADD COLUMN     "message_id" UUID,
ADD COLUMN     "number" BIGSERIAL NOT NULL;

-- CreateTable
CREATE TABLE "message_setting" (
    "plant_id" UUID NOT NULL,
    "shift_starts" TEXT[] DEFAULT ARRAY['06:00']::TEXT[],
    "own_network" BOOLEAN NOT NULL DEFAULT false,
    "subscriptions_entered" BOOLEAN NOT NULL DEFAULT false,
    "mail_host" TEXT,
    "mail_port" INTEGER,
    "mail_security" TEXT,
    "mail_user" TEXT,
    "mail_password" BYTEA,
    "mail_from" TEXT,
    "version" INTEGER NOT NULL DEFAULT 0,

    CONSTRAINT "message_setting_pkey" PRIMARY KEY ("plant_id")
);

-- CreateTable
CREATE TABLE "subscription" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "role" "Role",
    "person_id" UUID,
    "kinds" TEXT[],
    "line_id" UUID,
    "channel" TEXT NOT NULL,
    "timing" TEXT NOT NULL,
    "quiet_from" SMALLINT,
    "quiet_until" SMALLINT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "subscription_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "message" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "line_id" UUID,
    "events" INTEGER NOT NULL DEFAULT 1,
    "is_storm" BOOLEAN NOT NULL DEFAULT false,
    "names" TEXT[],
    "title" TEXT NOT NULL,
    "happened" TEXT NOT NULL,
    "todo" TEXT NOT NULL,
    "path" TEXT NOT NULL,
    "roles" "Role"[],
    "person_ids" UUID[],
    "at" TIMESTAMPTZ(3) NOT NULL,
    "latest_at" TIMESTAMPTZ(3) NOT NULL,
    "acknowledged_at" TIMESTAMPTZ(3),
    "acknowledged_by_id" UUID,

    CONSTRAINT "message_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "mail_delivery" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "message_id" UUID NOT NULL,
    "person_id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "attempts" SMALLINT NOT NULL DEFAULT 0,
    "next_at" TIMESTAMPTZ(3) NOT NULL,
    "answer" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "sent_at" TIMESTAMPTZ(3),

    CONSTRAINT "mail_delivery_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "webhook" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "url" TEXT NOT NULL,
    "kinds" TEXT[],
    "line_id" UUID,
    "active" BOOLEAN NOT NULL DEFAULT true,
    "version" INTEGER NOT NULL DEFAULT 0,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "webhook_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "webhook_secret" (
    "plant_id" UUID NOT NULL,
    "webhook_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "sealed" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ends_at" TIMESTAMPTZ(3),

    CONSTRAINT "webhook_secret_pkey" PRIMARY KEY ("plant_id","webhook_id","version")
);

-- CreateTable
CREATE TABLE "webhook_delivery" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "webhook_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "subject" TEXT NOT NULL,
    "body" TEXT NOT NULL,
    "number" BIGSERIAL NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "attempts" SMALLINT NOT NULL DEFAULT 0,
    "next_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "sent_at" TIMESTAMPTZ(3),

    CONSTRAINT "webhook_delivery_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateTable
CREATE TABLE "webhook_attempt" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "delivery_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "status" SMALLINT,
    "answer" TEXT NOT NULL,
    "took_ms" INTEGER NOT NULL,

    CONSTRAINT "webhook_attempt_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE INDEX "message_plant_id_acknowledged_at_latest_at_idx" ON "message"("plant_id", "acknowledged_at", "latest_at");

-- CreateIndex
CREATE INDEX "message_plant_id_kind_latest_at_idx" ON "message"("plant_id", "kind", "latest_at");

-- CreateIndex
CREATE INDEX "mail_delivery_plant_id_state_next_at_idx" ON "mail_delivery"("plant_id", "state", "next_at");

-- CreateIndex
CREATE UNIQUE INDEX "mail_delivery_plant_id_message_id_person_id_key" ON "mail_delivery"("plant_id", "message_id", "person_id");

-- CreateIndex
CREATE INDEX "webhook_delivery_plant_id_webhook_id_state_next_at_idx" ON "webhook_delivery"("plant_id", "webhook_id", "state", "next_at");

-- CreateIndex
CREATE INDEX "webhook_delivery_plant_id_webhook_id_subject_number_idx" ON "webhook_delivery"("plant_id", "webhook_id", "subject", "number");

-- CreateIndex
CREATE UNIQUE INDEX "webhook_delivery_plant_id_webhook_id_event_id_key" ON "webhook_delivery"("plant_id", "webhook_id", "event_id");

-- CreateIndex
CREATE INDEX "webhook_attempt_plant_id_delivery_id_idx" ON "webhook_attempt"("plant_id", "delivery_id");

-- CreateIndex
CREATE INDEX "outbox_plant_id_message_id_idx" ON "outbox"("plant_id", "message_id");

-- Written by older versions and read by nobody; the rest is news no more.
DELETE FROM "outbox" WHERE "topic" IN ('inspections.recorded', 'frame.shipped');
UPDATE "outbox" SET "delivered_at" = now() WHERE "delivered_at" IS NULL;

ALTER TABLE "subscription"
  ADD CONSTRAINT "subscription_one_whom" CHECK (num_nonnulls("role", "person_id") = 1),
  ADD CONSTRAINT "subscription_channel_known" CHECK ("channel" IN ('app', 'mail')),
  ADD CONSTRAINT "subscription_timing_known" CHECK ("timing" IN ('at once', 'shift start')),
  ADD CONSTRAINT "subscription_quiet_whole" CHECK (num_nonnulls("quiet_from", "quiet_until") IN (0, 2));
ALTER TABLE "message_setting"
  ADD CONSTRAINT "message_setting_mail_whole" CHECK (num_nonnulls("mail_host", "mail_port", "mail_security", "mail_from") IN (0, 4)),
  ADD CONSTRAINT "message_setting_security_known" CHECK ("mail_security" IN ('tls', 'starttls', 'none'));
ALTER TABLE "mail_delivery" ADD CONSTRAINT "mail_delivery_state_known" CHECK ("state" IN ('waiting', 'sent', 'failed'));
ALTER TABLE "webhook_delivery" ADD CONSTRAINT "webhook_delivery_state_known" CHECK ("state" IN ('waiting', 'sent', 'failed'));

select jobs.create_queue('messages.tell', '{"policy": "short"}');
select jobs.create_queue('messages.mail', '{"policy": "short"}');
select jobs.create_queue('messages.webhook', '{"policy": "short"}');
select jobs.create_queue('messages.watch', '{"policy": "short"}');

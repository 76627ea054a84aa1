-- Which devices a sign-in and a token are used on, who may claim a device, and changes of own roles that wait for a second administrator. A running older version knows none of it and goes on.

-- CreateTable
CREATE TABLE "device_claim" (
    "plant_id" UUID NOT NULL,
    "device_id" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "device_claim_pkey" PRIMARY KEY ("plant_id","device_id")
);

-- CreateTable
CREATE TABLE "session_device" (
    "session_id" TEXT NOT NULL,
    "plant_id" UUID NOT NULL,
    "device_id" TEXT NOT NULL,
    "proven" BOOLEAN NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "session_device_pkey" PRIMARY KEY ("session_id","plant_id","device_id")
);

-- CreateTable
CREATE TABLE "token_device" (
    "plant_id" UUID NOT NULL,
    "token_id" UUID NOT NULL,
    "device_id" TEXT NOT NULL,
    "proven" BOOLEAN NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "token_device_pkey" PRIMARY KEY ("plant_id","token_id","device_id")
);

-- CreateTable
CREATE TABLE "role_request" (
    "plant_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "person_id" UUID NOT NULL,
    "roles" "Role"[],
    "requested_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "state" TEXT NOT NULL DEFAULT 'open',
    "decided_by_id" UUID,
    "decided_at" TIMESTAMPTZ(3),

    CONSTRAINT "role_request_pkey" PRIMARY KEY ("plant_id","id")
);

-- CreateIndex
CREATE INDEX "role_request_plant_id_state_idx" ON "role_request"("plant_id", "state");

-- AddForeignKey
ALTER TABLE "session_device" ADD CONSTRAINT "session_device_session_id_fkey" FOREIGN KEY ("session_id") REFERENCES "auth_session"("id") ON DELETE CASCADE ON UPDATE CASCADE;

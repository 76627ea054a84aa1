import { chmodSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { uuidV7 } from "@/lib/schemas/identifier";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { migrate } from "@/lib/server/db/migrate";
import { addEvent } from "@/lib/server/events/commands";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createPerson } from "@/lib/server/people/commands";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestPlant } from "./plant";

/**
 * Writes a small plant with its journal, as the version of this check-out makes it, into a file: every row as PostgreSQL
 * spells it. tests/helpers/former-plant.json was made so by the version before the journal vouched for states:
 * node lib/cli/run.mjs tests/helpers/write-former-plant.ts FILE, in a check-out of that version.
 */
const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-former-"));
chmodSync(folder, 0o711);
const server = await startEmbedded({ folder, forTests: true });
Object.assign(process.env, { DATABASE_URL: server.url(), AUTH_SECRET: "x".repeat(40), LOG_LEVEL: "error" });
try {
  await migrate(server.url());
  const plant = await createTestPlant({ frames: 3, plan: "routine" });
  await createPerson(plant.system, { name: "Ada Brook", roles: ["inspector", "engineer"], badgeCode: "D1" });
  await createSettingRing(plant.system, { key: "RG-41", certifiedSizeMm: 40.975, uncertaintyUm: 0.75 });
  await createGauge(plant.system, {
    key: "BG-1",
    name: "bore gauge",
    kind: "bore",
    principle: "two-point",
    resolutionUm: 0.1,
    ring: "RG-41",
    calibratedAt: "2026-01-01T00:00:00Z",
    calibratedUntil: "2027-01-01T00:00:00Z",
  });
  await recordZeroCheck(await plant.as("inspector"), {
    id: uuidV7(),
    gauge: "BG-1",
    readingMm: 40.975,
    occasion: "shift start",
    at: new Date().toISOString(),
  });
  const inspections = ["T-0001", "T-0002", "T-0003"].map((serial) =>
    plant.inspection(serial, serial === "T-0003" ? { "nds.bore.a1.o0": 41.05 } : {}),
  );
  process.stdout.write(
    JSON.stringify((await recordInspections(plant.system, inspections)).map((one) => one.status)) + "\n",
  );
  await beginVouching(plant.plantId);
  await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0001" });
  await withdrawInspection(await plant.as("engineer"), {
    id: inspections[1]?.id ?? "",
    reason: "another frame was on the stand",
  });
  await addEvent(await plant.as("engineer"), {
    id: uuidV7(),
    kind: "reamer changed",
    at: "2026-02-01T10:00:00Z",
    text: "reamer R-7 fitted",
  });
  const anchor = await anchorJournal(plant.plantId);
  process.stdout.write(JSON.stringify(await verifyJournal(plant.plantId, { anchor })) + "\n");
  const { rows: tables } = await getPool().query<{ name: string }>(
    "select tablename as name from pg_tables where schemaname = 'public' and tablename <> '_prisma_migrations' order by 1",
  );
  const dump: Record<string, string[]> = {};
  for (const { name } of tables) {
    const { rows } = await getPool().query<{ row: string }>(`select t::text as row from ${name} t`);
    if (rows.length > 0) dump[name] = rows.map((row) => row.row);
  }
  const { rows: applied } = await getPool().query<{ name: string }>(
    "select migration_name as name from _prisma_migrations order by 1",
  );
  const migrations = applied.map(({ name }) => name);
  const written = { migrations, plantId: plant.plantId, anchor, tables: dump };
  writeFileSync(process.argv[2] ?? "", `${JSON.stringify(written, null, 1)}\n`);
} finally {
  await closeConnections();
  await server.stop();
  rmSync(folder, { recursive: true, force: true });
}

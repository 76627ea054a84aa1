import { chmodSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { startEmbedded } from "@/lib/server/db/embedded";
import { migrate, MIGRATIONS_FOLDER } from "@/lib/server/db/migrate";
import { diffDatabaseAgainstSchema } from "./compare-schema";

/** What turns the database of all migrations into the one of schema.prisma, found on a server of its own. */
async function findDifference(): Promise<string> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-migration-"));
  chmodSync(folder, 0o711);
  try {
    const server = await startEmbedded({ folder, forTests: true });
    try {
      if (existsSync(MIGRATIONS_FOLDER)) await migrate(server.url());
      return await diffDatabaseAgainstSchema(server.url());
    } finally {
      await server.stop();
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Writes the migration of a changed schema.prisma: node lib/cli/run.mjs lib/cli/new-migration.ts NAME */
async function main(): Promise<void> {
  const name = process.argv[2] ?? "";
  if (!/^[a-z][a-z0-9_]*$/.test(name)) {
    process.stderr.write("Give a name of small letters, digits and underscores, e.g. add_salvage_cost\n");
    process.exitCode = 1;
    return;
  }
  const script = await findDifference();
  if (script === "") {
    process.stdout.write("schema.prisma and the migrations agree: there is nothing to write.\n");
    return;
  }
  const stamp = new Date().toISOString().replace(/\D/g, "").slice(0, 14);
  const folder = path.join(MIGRATIONS_FOLDER, `${stamp}_${name}`);
  mkdirSync(folder, { recursive: true });
  const lock = path.join(MIGRATIONS_FOLDER, "migration_lock.toml");
  if (!existsSync(lock)) writeFileSync(lock, 'provider = "postgresql"\n');
  writeFileSync(
    path.join(folder, "migration.sql"),
    `-- What it does, and whether a running older version still works with it: say so here.\n\n${script}`,
  );
  process.stdout.write(`Written: ${path.join(folder, "migration.sql")}. Say in its first line what it does.\n`);
}

await main();

// Writes the Prisma client when the schema or Prisma itself changed: npm run generate
import { createHash } from "node:crypto";
import { chmodSync, existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { ensureDependencies, runToEnd, StartProblem } from "./prepare.mjs";
import { ROOT } from "./root.mjs";

const SCHEMA = path.join(ROOT, "prisma/schema.prisma");
const GENERATED = path.join(ROOT, "lib/server/db/generated");
const STAMP = path.join(GENERATED, ".made-from");

function stampOfSchema() {
  const version = JSON.parse(readFileSync(path.join(ROOT, "node_modules/prisma/package.json"), "utf8")).version;
  return createHash("sha256").update(version).update(readFileSync(SCHEMA)).digest("hex");
}

/** Prisma looks for its native schema engine though it needs none to generate: give it a program that does nothing. */
function makeEngineStub() {
  if (process.platform === "win32") return process.execPath;
  const folder = path.join(ROOT, "node_modules/.cache/shellgate");
  mkdirSync(folder, { recursive: true });
  const stub = path.join(folder, "no-schema-engine");
  if (existsSync(stub)) return stub;
  const own = `${stub}.${process.pid}`;
  writeFileSync(own, "#!/bin/sh\nexit 0\n");
  chmodSync(own, 0o755);
  renameSync(own, stub);
  return stub;
}

/** @returns true when it had to be written */
export async function generateClient({ say = () => {} } = {}) {
  const stamp = stampOfSchema();
  if (existsSync(STAMP) && readFileSync(STAMP, "utf8") === stamp) return false;
  say("writing the database client");
  rmSync(STAMP, { force: true });
  const env = {
    ...process.env,
    PRISMA_SCHEMA_ENGINE_BINARY: makeEngineStub(),
    PRISMA_HIDE_UPDATE_MESSAGE: "1",
    CHECKPOINT_DISABLE: "1",
  };
  try {
    await runToEnd(process.execPath, [path.join(ROOT, "node_modules/prisma/build/index.js"), "generate"], {
      quiet: true,
      env,
    });
  } catch (error) {
    throw new StartProblem(`The database client could not be written.\n${error.message}`, { cause: error });
  }
  writeFileSync(STAMP, stamp);
  return true;
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  await ensureDependencies({ onlyWhenMissing: true });
  const made = await generateClient();
  process.stderr.write(made ? "The database client was written.\n" : "The database client is up to date.\n");
}

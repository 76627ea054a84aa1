// Builds the application when what it is made from changed.
import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import path from "node:path";
import { bundleComputing } from "./bundle-computing.mjs";
import { runToEnd, StartProblem } from "./prepare.mjs";
import { ROOT } from "./root.mjs";

const STAMP = path.join(ROOT, ".next/made-from");
const INPUTS = [
  "app",
  "lib",
  "public",
  "instrumentation.ts",
  "proxy.ts",
  "next.config.ts",
  "tsconfig.json",
  "package-lock.json",
  "prisma/schema.prisma",
];
/** Inside the inputs, but no part of the application: commands, and what is made from the schema. */
const LEFT_OUT = new Set(["lib/cli", "lib/server/db/generated"].map((name) => path.join(ROOT, name)));

function filesBelow(place) {
  if (LEFT_OUT.has(place) || !existsSync(place)) return [];
  if (!statSync(place).isDirectory()) return [place];
  return readdirSync(place)
    .sort()
    .flatMap((name) => filesBelow(path.join(place, name)));
}

/** One hash over names and contents of everything that the build reads. */
export function hashOfSources() {
  const hash = createHash("sha256").update(process.versions.node.split(".")[0] ?? "");
  for (const file of INPUTS.flatMap((name) => filesBelow(path.join(ROOT, name)))) {
    hash.update(`\n${path.relative(ROOT, file)}\n`).update(readFileSync(file));
  }
  return hash.digest("hex");
}

/** @returns true when it had to build */
export async function buildIfChanged({ say = () => {} } = {}) {
  const hash = hashOfSources();
  const isBuilt = existsSync(path.join(ROOT, ".next/BUILD_ID"));
  if (isBuilt && existsSync(STAMP) && readFileSync(STAMP, "utf8") === hash) return false;
  say("building the application (half a minute to a minute, once a version)");
  rmSync(STAMP, { force: true });
  const next = path.join(ROOT, "node_modules/next/dist/bin/next");
  const env = { ...process.env, NODE_ENV: "production", NEXT_TELEMETRY_DISABLED: "1" };
  try {
    await runToEnd(process.execPath, [next, "build"], { quiet: true, env });
    await bundleComputing();
  } catch (error) {
    throw new StartProblem(`The application could not be built.\n${error.message}`, { cause: error });
  }
  mkdirSync(path.dirname(STAMP), { recursive: true });
  writeFileSync(STAMP, hash);
  return true;
}

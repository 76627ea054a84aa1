import { existsSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { closeConnections } from "@/lib/server/db/client";
import { DATABASE_NAME, findRunningServer, startEmbedded } from "@/lib/server/db/embedded";
import { migrationNames } from "@/lib/server/db/migrate";
import { examineInstallation } from "@/lib/server/installation/examine";
import { type Finding, wrong } from "@/lib/server/installation/finding";
import { keepChildren } from "./children";
import { claimDataFolder, dataFolder, findUserOf } from "./data-folder";
import { readArguments } from "./read-arguments";

const USAGE = `npm run doctor [-- --data DIR] [--json]

Says in sentences what is wrong with this installation and what to do: disk, versions, clock, certificate, backups, database, roles,
address and jobs. Changes nothing.
Exit code 0: nothing is wrong; 2: something is; 1: it could not be looked at.`;

const ROOT = path.resolve(import.meta.dirname, "../..");

const { values } = readArguments(USAGE, {
  options: {
    data: { type: "string" },
    json: { type: "boolean", default: false },
    help: { type: "boolean", short: "h", default: false },
  },
});

/** Looks with the database of a Shellgate that runs, or one that is started to be looked at. */
async function examine(folder: string): Promise<readonly Finding[]> {
  const user = findUserOf(folder);
  const { TLS_CERT: certificateFile = "", DATABASE_URL: external = "" } = process.env;
  const address = user === null ? null : user.address;
  const around = { folder, address, certificateFile, migrations: migrationNames() };
  if (external !== "") return examineInstallation(around);
  const running = findRunningServer(folder);
  if (running !== null) {
    process.env.DATABASE_URL = running.appUrl(DATABASE_NAME);
    return examineInstallation(around);
  }
  if (!existsSync(path.join(folder, "postgres", "PG_VERSION"))) {
    const todo = "Start one with npm start, or restore one with npm run restore. Another folder is given with --data.";
    return [wrong("Data", `There is no plant in ${folder}.`, todo)];
  }
  const claim = claimDataFolder(folder, "npm run doctor");
  const children = keepChildren();
  try {
    const server = await startEmbedded({ folder });
    children.guardDatabase(server.pid);
    try {
      process.env.DATABASE_URL = server.appUrl(DATABASE_NAME);
      return await examineInstallation(around);
    } finally {
      await closeConnections();
      await server.stop();
    }
  } catch (error) {
    if (!(error instanceof AppError)) throw error;
    return [wrong("Database", error.message, "Mend what it says, then look again.")];
  } finally {
    children.dismissGuard();
    claim.release();
  }
}

const MARKS = { wrong: "WRONG", remark: "note", good: "good" } as const;

async function main(): Promise<void> {
  const say = (text: string): void => void process.stdout.write(`${text}\n`);
  if (values.help) return say(USAGE);
  const folder = dataFolder(ROOT, values.data);
  process.env.SHELLGATE_DATA = folder;
  try {
    const findings = await examine(folder);
    const count = findings.filter(({ state }) => state === "wrong").length;
    if (values.json) say(JSON.stringify(findings, null, 1));
    else {
      for (const { subject, state, says, todo } of findings) {
        say(`${MARKS[state].padEnd(6)} ${subject}: ${says}`);
        if (todo !== null) say(`       ${todo}`);
      }
      say(count === 0 ? "Nothing is wrong." : count === 1 ? "One thing is wrong." : `${count} things are wrong.`);
    }
    if (count > 0) process.exitCode = 2;
  } finally {
    await closeConnections();
  }
}

main().catch((error: unknown) => {
  const isForeseen = error instanceof AppError;
  process.stderr.write(`${isForeseen ? error.message : error instanceof Error ? error.stack : String(error)}\n`);
  process.exitCode = 1;
});

import "server-only";
import { existsSync, readdirSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { environment } from "../base/env";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { examineBackups, examineClock, examineJobs, examineRoles, examineServer, examineTables } from "./database";
import { type Finding, wrong } from "./finding";
import { examineAddress, examineCertificate, examineDisks, examineFiles, examineVersions } from "./machine";

export type Surroundings = {
  /** The plant's folder. */
  readonly folder: string;
  /** Where people find Shellgate; null where none runs. */
  readonly address: string | null;
  /** File of a certificate that the plant brings itself, or "". */
  readonly certificateFile: string;
  /** Names of the migrations that this version knows; null where nobody can tell. */
  readonly migrations: readonly string[] | null;
  readonly now?: () => Date;
};

const inWords = (error: unknown): string => {
  if (error instanceof AppError) return error.message;
  if (readDatabaseRefusal(error)?.kind === "unreachable") return "The database does not answer.";
  return error instanceof Error ? `${error.message}.` : String(error);
};

/** A part that cannot be looked at is told as such, and keeps none of the others from being looked at. */
async function look(subject: string, work: () => Promise<readonly Finding[]>): Promise<readonly Finding[]> {
  try {
    return await work();
  } catch (error) {
    return [wrong(subject, `It could not be looked at: ${inWords(error)}`, "Mend what it says, then look again.")];
  }
}

/** Looks at all of an installation: what is wrong first. The database is the one of DATABASE_URL. */
export async function examineInstallation(around: Surroundings): Promise<readonly Finding[]> {
  const { folder, address, certificateFile, migrations, now = () => new Date() } = around;
  let bytes = 0;
  const server = await look("Database", async () => {
    const found = await examineServer(now);
    bytes = found.bytes;
    return found.findings;
  });
  const one = (subject: string, work: () => Promise<Finding>) => look(subject, async () => [await work()]);
  const answers = server.every(({ says }) => !says.startsWith("It could not"));
  const tables = answers ? await one("Tables", () => examineTables(migrations)) : [];
  const isUsable = tables.some(({ state }) => state === "good");
  const inTables = isUsable
    ? await Promise.all([
        one("Clock", () => examineClock(now)),
        one("Roles", examineRoles),
        // Where nothing runs, that is what is wrong.
        address === null ? [] : one("Jobs", examineJobs),
        look("Backups", () => examineBackups(now)),
      ])
    : [];
  const files = examineFiles(folder);
  const all = [
    examineVersions(),
    ...(await one("Address", () => examineAddress(address))),
    ...server,
    ...tables,
    ...inTables.flat(),
    ...(await look("Disk", () => examineDisks(folder, bytes))),
    ...(await one("Certificate", async () => examineCertificate(folder, certificateFile, now()))),
    ...(files === null ? [] : [files]),
  ];
  const order = { wrong: 0, remark: 1, good: 2 } as const;
  return all.toSorted((a, b) => order[a.state] - order[b.state]);
}

/** The web server is started in the project's folder. */
function migrationsHere(): readonly string[] | null {
  const folder = path.join(/* turbopackIgnore: true */ process.cwd(), "prisma", "migrations");
  if (!existsSync(folder)) return null;
  return readdirSync(folder, { withFileTypes: true })
    .flatMap((entry) => (entry.isDirectory() ? [entry.name] : []))
    .sort();
}

/** As the page of Setup shows it. */
export async function getInstallation(viewer: Viewer): Promise<readonly Finding[]> {
  assertMay(viewer, "backups.view");
  return examineInstallation({
    folder: environment("SHELLGATE_DATA"),
    address: environment("SHELLGATE_ORIGIN"),
    certificateFile: environment("TLS_CERT"),
    migrations: migrationsHere(),
  });
}

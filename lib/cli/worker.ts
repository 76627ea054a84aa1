import path from "node:path";
import { AppError } from "@/lib/errors";
import { closeConnections } from "@/lib/server/db/client";
import { DATABASE_NAME, findRunningServer } from "@/lib/server/db/embedded";
import { watchThread } from "@/lib/server/jobs/watch-thread";
import { startWorker } from "@/lib/server/jobs/work";
import { ALL_JOBS } from "@/lib/server/worker/all-jobs";
import { dataFolder, ensureAuthSecret } from "./data-folder";

const ROOT = path.resolve(import.meta.dirname, "../..");

/** The database of DATABASE_URL, or that of a Shellgate which runs on this machine. */
function findDatabase(): void {
  if ((process.env.DATABASE_URL ?? "") !== "") return;
  const folder = dataFolder(ROOT, undefined);
  const running = findRunningServer(folder);
  if (running === null)
    throw new AppError(
      "unavailable",
      `No Shellgate runs with the data in ${folder}. Start it with npm start, which has a worker of its own, or give DATABASE_URL. Nothing was done.`,
    );
  process.env.SHELLGATE_DATA = folder;
  process.env.AUTH_SECRET ??= ensureAuthSecret(folder);
  process.env.DATABASE_URL = running.appUrl(DATABASE_NAME);
}

/** Longer than any step of a job computes without a pause. */
const PATIENCE_MS = 60_000;

/** Does what happens later, until it is ended: npm run worker */
async function main(): Promise<void> {
  findDatabase();
  watchThread(PATIENCE_MS);
  const worker = await startWorker(ALL_JOBS);
  process.stdout.write("The worker is ready.\n");
  const end = async (exitCode: number): Promise<void> => {
    await worker.stop();
    await closeConnections().catch(() => undefined);
    process.exit(exitCode);
  };
  for (const name of ["SIGINT", "SIGTERM", "SIGHUP"]) process.on(name, () => void end(0));
  process.stderr.write(`${await worker.broken}\n`);
  await end(1);
}

main().catch((error: unknown) => {
  const isForeseen = error instanceof AppError;
  process.stderr.write(`${isForeseen ? error.message : error instanceof Error ? error.stack : String(error)}\n`);
  process.exit(1);
});

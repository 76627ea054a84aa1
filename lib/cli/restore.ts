import path from "node:path";
import { AppError } from "@/lib/errors";
import { formatDuration, formatMoment } from "@/lib/format/date-text";
import { formatCount, formatCounted } from "@/lib/format/number-text";
import { dataFolder } from "./data-folder";
import { findPassphrase } from "./passphrase";
import { readArguments } from "./read-arguments";
import { restoreIntoDatabase, restoreIntoFolder, type Restored } from "./restore-place";

const USAGE = `npm run restore -- FILE [options]

Makes a plant of a backup in an empty place, and proves what it made: rows of each table, the journal, its newest anchor.
--data DIR               where the plant is to lie (default .data, or SHELLGATE_DATA); not there yet, or empty
--passphrase-file FILE   where the backup is encrypted; else SHELLGATE_BACKUP_PASSPHRASE, or asked for
--tables                 says the rows of every table
With DATABASE_URL (and DATABASE_OWNER_URL) the database of that server is filled, which has to be empty.
Exit code 0: restored and proven; 2: restored, and the journal names faults; 1: nothing was made, with the reason.`;

const ROOT = path.resolve(import.meta.dirname, "../..");
/** Told without being asked. */
const SHOWN = ["public.inspection", "public.frame", "public.shipment", "public.decision", "public.journal_entry"];

const { values, positionals } = readArguments(USAGE, {
  allowPositionals: true,
  options: {
    data: { type: "string" },
    "passphrase-file": { type: "string" },
    tables: { type: "boolean", default: false },
    help: { type: "boolean", short: "h", default: false },
  },
});

const say = (text: string): void => void process.stdout.write(`${text}\n`);

function tellProof({ about, rows, files, journals, migrated, place, durationMs }: Restored): number {
  const counts = Object.entries(rows);
  const all = counts.reduce((sum, [, count]) => sum + count, 0);
  say(`Restored: ${place}, in ${formatDuration(durationMs / 1000)}`);
  say(`  from a backup of Shellgate ${about.shellgate}, written ${formatMoment(about.writtenAt, { zone: "UTC" })}`);
  say(
    `  ${formatCounted(all, "row")} of ${about.tables.length} tables, as many as were written; everything they refer to is there`,
  );
  const shown = values.tables ? counts : counts.filter(([table]) => SHOWN.includes(table));
  for (const [table, count] of shown) say(`    ${table.replace("public.", "").padEnd(26)} ${formatCount(count)}`);
  if (files.length > 0) say(`  ${formatCounted(files.length, "file")}: ${files.join(", ")}`);
  if (!about.withKeys)
    say("  It was written without keys: everybody signs in anew, and mail and webhooks need their secrets again.");
  if (migrated > 0) say(`  ${formatCounted(migrated, "migration")} brought it to this version`);
  let faults = 0;
  for (const { name, report, anchor } of journals) {
    faults += report.faults.length;
    say(
      `  ${name}: ${formatCounted(report.entries, "entry", "entries")} of the journal vouch for ${formatCounted(report.rows, "row")}`,
    );
    say(
      report.faults.length === 0
        ? "    nothing was altered, removed or put elsewhere"
        : `    ${formatCounted(report.faults.length, "fault")}, as npm run verify-journal names them; they were in the backup, or it was altered`,
    );
    say(
      `    newest anchor ${anchor ?? "none yet"}${anchor === null ? "" : ", as when it was written: compare it with your copy"}`,
    );
  }
  return faults;
}

async function main(): Promise<void> {
  if (values.help) return say(USAGE);
  const [given, ...more] = positionals;
  if (given === undefined || more.length > 0)
    throw new AppError("invalid-input", `Give the file of one backup. Nothing was done.\n\n${USAGE}`);
  const file = path.resolve(process.env.INIT_CWD ?? process.cwd(), given);
  const folder = dataFolder(ROOT, values.data);
  const { DATABASE_URL: appUrl = "", DATABASE_OWNER_URL: ownerUrl = "" } = process.env;
  const wish = {
    file,
    folder,
    askPassphrase: () => findPassphrase(values["passphrase-file"], false),
    onProgress: (words: string) => void process.stderr.write(`  ${words}\n`),
  };
  const restored =
    appUrl === ""
      ? await restoreIntoFolder(wish)
      : await restoreIntoDatabase(wish, { appUrl, ownerUrl: ownerUrl === "" ? appUrl : ownerUrl });
  if (tellProof(restored) > 0) process.exitCode = 2;
  const data =
    values.data === undefined ? "" : ` -- --data ${/\s/.test(values.data) ? `"${values.data}"` : values.data}`;
  say(`Start it: npm start${data}`);
}

main().catch((error: unknown) => {
  const isForeseen = error instanceof AppError;
  process.stderr.write(`${isForeseen ? error.message : error instanceof Error ? error.stack : String(error)}\n`);
  process.exitCode = 1;
});

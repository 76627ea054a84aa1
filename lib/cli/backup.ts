import os from "node:os";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { formatBytes } from "@/lib/format/byte-text";
import { formatDuration } from "@/lib/format/date-text";
import { formatCounted } from "@/lib/format/number-text";
import { readBackup } from "@/lib/server/backup/read-backup";
import { writeBackup } from "@/lib/server/backup/write-backup";
import { backupFolder, backupName } from "@/lib/server/backup/backup-place";
import { dataFolder } from "./data-folder";
import { findPassphrase } from "./passphrase";
import { interrupted } from "./interrupted";
import { readArguments } from "./read-arguments";
import { withOwnDatabase } from "./with-database";

const USAGE = `npm run backup [-- [FILE] [options]]

Writes all of the plant into one file, while Shellgate runs or not: every row as it is at one moment, and the plant's own files.
FILE                     default: a new file in SHELLGATE_BACKUPS, or beside the data folder
--data DIR               the plant's folder, if not the usual one
--without-keys           leaves out auth-secret and the certificates: who restores it signs in anew and trusts a new certificate
--encrypt                by a passphrase: SHELLGATE_BACKUP_PASSPHRASE, or asked for
--passphrase-file FILE   encrypts by what stands in that file
--check                  reads FILE from beginning to end and says whether it is whole; writes nothing
Exit code 0: done; 1: not, with the reason, and nothing was left behind.`;

const ROOT = path.resolve(import.meta.dirname, "../..");

const { values, positionals } = readArguments(USAGE, {
  allowPositionals: true,
  options: {
    data: { type: "string" },
    "without-keys": { type: "boolean", default: false },
    encrypt: { type: "boolean", default: false },
    "passphrase-file": { type: "string" },
    check: { type: "boolean", default: false },
    help: { type: "boolean", short: "h", default: false },
  },
});

const say = (text: string): void => void process.stdout.write(`${text}\n`);
const fromWhere = (file: string): string => path.resolve(process.env.INIT_CWD ?? process.cwd(), file);

async function check(file: string): Promise<void> {
  let rows = 0;
  const { about, contents } = await readBackup(file, () => findPassphrase(values["passphrase-file"], false), {
    begin: () => Promise.resolve(),
    take: () => Promise.resolve(),
  });
  for (const count of Object.values(contents.rows)) rows += count;
  say(`${file} is whole: Shellgate ${about.shellgate}, written ${about.writtenAt}, ${formatCounted(rows, "row")},`);
  say(`${about.withKeys ? "with" : "without"} keys. Every part is as its checksum says.`);
}

async function write(url: string, file: string, folder: string): Promise<void> {
  const isSealed = values.encrypt || values["passphrase-file"] !== undefined;
  const passphrase = isSealed ? await findPassphrase(values["passphrase-file"], true) : null;
  if (isSealed && passphrase === null)
    throw new AppError(
      "invalid-input",
      "There is no passphrase: give SHELLGATE_BACKUP_PASSPHRASE, or --passphrase-file. Nothing was written.",
    );
  os.setPriority(os.constants.priority.PRIORITY_BELOW_NORMAL);
  const withKeys = !values["without-keys"];
  const written = await writeBackup({
    url,
    folder,
    file,
    withKeys,
    passphrase,
    without: [backupFolder(folder)],
    signal: interrupted("The backup was broken off. Nothing was left behind."),
    onProgress: (rows) => {
      if (process.stderr.isTTY) process.stderr.write(`\r${formatCounted(rows, "row")} `);
    },
  });
  if (process.stderr.isTTY) process.stderr.write("\r\u001b[K");
  const { rows, tables, bytes, durationMs, sha256, files, anchors } = written;
  say(`Written: ${file}`);
  say(
    `  ${formatCounted(rows, "row")} of ${tables} tables and ${formatCounted(files, "file")}, ${formatBytes(bytes)} in ${formatDuration(durationMs / 1000)}`,
  );
  say(`  SHA-256 ${sha256}`);
  for (const { hash } of anchors) say(`  newest anchor of the journal: ${hash ?? "none yet"}`);
  if (passphrase !== null) say("  Encrypted: without its passphrase nobody restores it. Keep that elsewhere.");
  else if (withKeys) say("  Not encrypted, keys included: keep it as you keep the data folder.");
  say("  Keep a copy on another disk, and one elsewhere.");
}

async function main(): Promise<void> {
  if (values.help) return say(USAGE);
  const [given, ...more] = positionals;
  if (more.length > 0) throw new AppError("invalid-input", `Give one file at most.\n\n${USAGE}`);
  if (values.check) {
    if (given === undefined) throw new AppError("invalid-input", "Give the file to check. Nothing was done.");
    return check(fromWhere(given));
  }
  const folder = dataFolder(ROOT, values.data);
  const file = given === undefined ? path.join(backupFolder(folder), backupName(new Date())) : fromWhere(given);
  await withOwnDatabase(folder, (url) => write(url, file, folder));
}

main().catch((error: unknown) => {
  const isForeseen = error instanceof AppError;
  process.stderr.write(`${isForeseen ? error.message : error instanceof Error ? error.stack : String(error)}\n`);
  process.exitCode = 1;
});

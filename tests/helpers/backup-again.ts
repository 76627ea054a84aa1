import { rmSync } from "node:fs";
import { setPriority } from "node:os";
import { writeBackup } from "@/lib/server/backup/write-backup";

// Writes backups one after the other until it is ended, as npm run backup would: node lib/cli/run.mjs tests/helpers/backup-again.ts URL FILE
const [url = "", file = ""] = process.argv.slice(2);
setPriority(10);
for (;;) {
  rmSync(file, { force: true });
  const { durationMs } = await writeBackup({ url, folder: null, file, withKeys: false, passphrase: null });
  process.stdout.write(`${durationMs}\n`);
}

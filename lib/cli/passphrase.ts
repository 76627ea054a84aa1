import { readFileSync } from "node:fs";
import { createInterface } from "node:readline/promises";
import { Writable } from "node:stream";
import { AppError } from "@/lib/errors";

/** Reads a line from the terminal without showing it. */
async function askHidden(question: string): Promise<string> {
  process.stderr.write(question);
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() });
  const lines = createInterface({ input: process.stdin, output: silent, terminal: true });
  try {
    return await lines.question("");
  } finally {
    lines.close();
    process.stderr.write("\n");
  }
}

/**
 * The passphrase of a backup: from a file, from SHELLGATE_BACKUP_PASSPHRASE, or asked for on the terminal. Never an argument, which
 * every user of the machine could read.
 *
 * @param twice - asks twice, for one that is new
 * @returns null where there is none
 * @throws AppError where the file cannot be read, or both differ
 */
export async function findPassphrase(file: string | undefined, twice: boolean): Promise<string | null> {
  if (file !== undefined) {
    try {
      return readFileSync(file, "utf8").replace(/\r?\n$/, "");
    } catch (error) {
      throw new AppError("invalid-input", `The file ${file} with the passphrase cannot be read. Nothing was done.`, {
        cause: error,
      });
    }
  }
  const given = process.env.SHELLGATE_BACKUP_PASSPHRASE ?? "";
  if (given !== "") return given;
  if (!process.stdin.isTTY) return null;
  const first = await askHidden("Passphrase of the backup: ");
  if (twice && first !== (await askHidden("The same again: ")))
    throw new AppError("invalid-input", "The two passphrases differ. Nothing was done.");
  return first;
}

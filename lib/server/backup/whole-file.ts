import "server-only";
import {
  closeSync,
  existsSync,
  fsyncSync,
  linkSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
} from "node:fs";
import { open } from "node:fs/promises";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { isRunning } from "../db/process-state";

const LEFT_NOTHING = "Nothing was left behind, and the plant is as it was.";

const WORDS: Readonly<Record<string, string>> = {
  ENOSPC: "the disk is full",
  EDQUOT: "your share of the disk is used up",
  EFBIG: "the disk takes no file of that size",
  EACCES: "you have no permission to write there",
  EPERM: "you have no permission to write there",
  EROFS: "the disk can only be read",
  ENOTDIR: "a file is in its path",
  EEXIST: "a file is in its path",
  EIO: "the disk does not work",
};

function inWords(file: string, error: unknown): unknown {
  const code = (error as NodeJS.ErrnoException).code ?? "";
  const why = WORDS[code];
  if (why === undefined) return error;
  const isFull = code === "ENOSPC" || code === "EDQUOT" || code === "EFBIG";
  const words = `The backup ${file} could not be written: ${why}. ${LEFT_NOTHING} ${isFull ? "Make room, or give" : "Give"} another place.`;
  return new AppError(isFull ? "storage-full" : "unavailable", words, { cause: error });
}

const isThere = (file: string): AppError =>
  new AppError("conflict", `${file} is there already. Nothing was written; give another name.`);

/** Parts whose writer was killed. */
function removeLeftParts(file: string): void {
  const [folder, name] = [path.dirname(file), path.basename(file)];
  for (const found of readdirSync(folder)) {
    const end = /\.(\d{1,10})\.part$/.exec(found);
    const of = found.slice(0, end?.index ?? 0);
    const isOurs = of === name || of.startsWith("shellgate-");
    if (end !== null && isOurs && !isRunning(Number(end[1]))) rmSync(path.join(folder, found), { force: true });
  }
}

/** Unlike a rename, a link never takes the place of what is there; sticks and network drives often have no links. */
function putInPlace(part: string, file: string): void {
  try {
    linkSync(part, file);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "EEXIST" || existsSync(file)) throw isThere(file);
    renameSync(part, file);
  }
}

/** So that the name survives a power cut as the content does; where a system does not offer that, it is as safe as it gets. */
function flushFolder(folder: string): void {
  try {
    const descriptor = openSync(folder, "r");
    try {
      fsyncSync(descriptor);
    } finally {
      closeSync(descriptor);
    }
  } catch {
    // Not offered there.
  }
}

/**
 * Writes a file that is there whole and on the disk, or not at all; readable by its owner only.
 *
 * @throws AppError in words where it is there already, where the disk is full or may not be written
 */
export async function writeWhole(file: string, source: AsyncIterable<Buffer>): Promise<void> {
  const part = `${file}.${process.pid}.part`;
  if (existsSync(file)) throw isThere(file);
  try {
    mkdirSync(path.dirname(file), { recursive: true, mode: 0o700 });
    removeLeftParts(file);
    const handle = await open(part, "wx", 0o600);
    try {
      for await (const piece of source)
        for (let at = 0; at < piece.length;) at += (await handle.write(piece, at)).bytesWritten;
      await handle.sync();
    } finally {
      await handle.close();
    }
    putInPlace(part, file);
    flushFolder(path.dirname(file));
  } catch (error) {
    throw inWords(file, error);
  } finally {
    if (existsSync(part)) rmSync(part);
  }
}

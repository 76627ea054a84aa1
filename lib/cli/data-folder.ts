import { createHash, randomBytes } from "node:crypto";
import { existsSync, linkSync, mkdirSync, readFileSync, renameSync, rmSync, statfsSync, writeFileSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { canEnter, isRoot, SYSTEM_FOLDER, whoRunsServer } from "@/lib/server/db/postgres-program";
import { isRunning, startMark } from "@/lib/server/db/process-state";

const MEBIBYTE = 2 ** 20;
/** A new database takes 40 MB, the demo plant about 60 more; the rest is room for a shift's work. */
const ROOM_FOR_NEW_BYTES = 512 * MEBIBYTE;
const ROOM_FOR_OLD_BYTES = 64 * MEBIBYTE;

const problem = (sentence: string, cause?: unknown): AppError => new AppError("unavailable", sentence, { cause });

const FOLDER_WORDS: Readonly<Record<string, string>> = {
  EACCES: "you have no permission to write there",
  EPERM: "you have no permission to write there",
  EROFS: "it is on a disk that can only be read",
  ENOSPC: "the disk is full",
  EDQUOT: "your share of the disk is used up",
  ENOTDIR: "a file is in its path",
  EEXIST: "a file is in its path",
  ENOENT: "its path cannot be made",
};

function inWords(folder: string, error: unknown): AppError {
  const code = (error as NodeJS.ErrnoException).code ?? "";
  const why = FOLDER_WORDS[code] ?? (error instanceof Error ? error.message : String(error));
  return problem(`The data folder ${folder} cannot be used: ${why}. Give another folder with --data.`, error);
}

/**
 * Makes the plant's folder and sees that it can be written and has room.
 *
 * @param roomBytes - what has to be free; by default 512 MB for a new database and 64 MB for an existing one
 * @throws AppError unavailable with the reason in words; nothing was changed then
 */
export function prepareDataFolder(folder: string, roomBytes?: number): void {
  const probe = path.join(folder, `.probe-${process.pid}`);
  let free: number;
  try {
    // Private itself, but not the folders above it: the user that the database runs as has to pass through them.
    mkdirSync(path.dirname(folder), { recursive: true, mode: 0o755 });
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    writeFileSync(probe, Buffer.alloc(4096));
    const disk = statfsSync(folder);
    free = disk.bavail * disk.bsize;
  } catch (error) {
    throw inWords(folder, error);
  } finally {
    if (existsSync(probe)) rmSync(probe);
  }
  const needed = roomBytes ?? (existsSync(path.join(folder, "postgres")) ? ROOM_FOR_OLD_BYTES : ROOM_FOR_NEW_BYTES);
  if (free >= needed) return;
  const [has, wants] = [free, needed].map((bytes) => Math.floor(bytes / MEBIBYTE));
  throw problem(
    `The disk of ${folder} has ${has} MB left and Shellgate needs ${wants} MB. Nothing was changed; make room or give another folder with --data.`,
  );
}

/**
 * The plant's folder: as given, else SHELLGATE_DATA, else `.data` of the project. Where root has the project in a private
 * folder, which the user that the database runs as cannot enter, a folder of the system stands in for `.data`.
 *
 * @param given - a path relative to where the person is
 */
export function dataFolder(root: string, given?: string): string {
  if (given !== undefined) return path.resolve(process.env.INIT_CWD ?? process.cwd(), given);
  const named = process.env.SHELLGATE_DATA ?? "";
  if (named !== "") return path.resolve(root, named);
  const usual = path.join(root, ".data");
  if (!isRoot() || canEnter(root, whoRunsServer(path.join(usual, "postgres")))) return usual;
  const mark = createHash("sha256").update(root).digest("hex").slice(0, 8);
  return path.join(SYSTEM_FOLDER, `${path.basename(root)}-${mark}`);
}

type Claim = { readonly pid: number; readonly mark: string; readonly purpose: string; readonly address: string };

export type DataFolderClaim = {
  /** Tells others where the running Shellgate answers. */
  readonly setAddress: (address: string) => void;
  readonly release: () => void;
};

function readClaim(file: string): Claim | null {
  try {
    return JSON.parse(readFileSync(file, "utf8")) as Claim;
  } catch {
    // Not there, or cut off by a crash: nobody's.
    return null;
  }
}

const isAlive = (claim: Claim): boolean => isRunning(claim.pid) && startMark(claim.pid) === claim.mark;

/** Who works on a data folder now, or null. */
export function findUserOf(folder: string): Claim | null {
  const claim = readClaim(path.join(folder, "in-use.json"));
  return claim !== null && isAlive(claim) ? claim : null;
}

/**
 * Takes a data folder for this process. What a process that has died left behind does not count.
 *
 * @throws AppError unavailable naming the process that uses it
 */
export function claimDataFolder(folder: string, purpose: string): DataFolderClaim {
  const file = path.join(folder, "in-use.json");
  const own = path.join(folder, `in-use.${process.pid}.${randomBytes(4).toString("hex")}`);
  const claim: Claim = { pid: process.pid, mark: startMark(process.pid), purpose, address: "" };
  writeFileSync(own, JSON.stringify(claim), { mode: 0o600 });
  try {
    for (;;) {
      try {
        // A link is made whole or not at all, and only if nobody else has made it.
        linkSync(own, file);
        break;
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== "EEXIST") throw inWords(folder, error);
      }
      const user = findUserOf(folder);
      if (user !== null) {
        const where = user.address === "" ? "" : `, ${user.address}`;
        throw problem(
          `The data folder ${folder} is in use by another Shellgate (${user.purpose}, process ${user.pid}${where}). Stop that one, or give another folder with --data.`,
        );
      }
      rmSync(file, { force: true });
    }
  } finally {
    rmSync(own, { force: true });
  }
  return {
    setAddress: (address) => writeFileSync(file, JSON.stringify({ ...claim, address })),
    release: () => rmSync(file, { force: true }),
  };
}

const SECRET_CHARACTERS = 32;

/**
 * The key that signs sessions, kept beside the data and readable by its owner only.
 *
 * @throws AppError unavailable where the file is there and holds no key: with a short one everybody could sign sessions
 */
export function ensureAuthSecret(folder: string): string {
  const file = path.join(folder, "auth-secret");
  let secret: string;
  try {
    if (!existsSync(file)) {
      // Written whole or not at all: a full disk or a crash leaves no half of a key.
      const made = `${file}.${process.pid}`;
      writeFileSync(made, randomBytes(32).toString("base64url"), { mode: 0o600, flag: "w", flush: true });
      renameSync(made, file);
    }
    secret = readFileSync(file, "utf8").trim();
  } catch (error) {
    throw inWords(folder, error);
  }
  assertSecret(secret, `The file ${file}`);
  return secret;
}

/**
 * @param where - who holds the key, at the beginning of a sentence
 * @throws AppError unavailable
 */
export function assertSecret(secret: string, where: string): void {
  if (secret.length >= SECRET_CHARACTERS) return;
  const how = secret === "" ? "is empty" : `holds no key (it has ${secret.length} characters)`;
  throw problem(
    `${where} ${how}; the key that signs sessions has at least ${SECRET_CHARACTERS} random characters. Nothing was changed. ` +
      "Put the right one back from your copy, or delete it: a new one is made and everybody signs in again.",
  );
}

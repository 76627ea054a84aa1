import "server-only";
import { createHash } from "node:crypto";
import { createReadStream } from "node:fs";
import { Readable } from "node:stream";
import { createGunzip } from "node:zlib";
import { AppError } from "@/lib/errors";
import {
  ABOUT_NAME,
  type About,
  aboutSchema,
  type Contents,
  CONTENTS_NAME,
  contentsSchema,
  FORMAT,
} from "./backup-contents";
import { SEALED_HEADER_BYTES, SEALED_MARK, unseal } from "./sealed-stream";
import { readTar, type TarEntry } from "./tar-entries";

const GZIP_MARK = Buffer.from([0x1f, 0x8b]);
/** A list of the parts of some 100 GB. */
const MOST_ENTRY_BYTES = 256 * 2 ** 20;

const refuse = (words: string, cause?: unknown): AppError => new AppError("invalid-input", words, { cause });
const cut = (): AppError => refuse("The backup is not whole: its end is missing. Use another copy.");
const damaged = (): AppError => refuse("The backup is damaged: its content is not what was written. Use another copy.");

/** What is wanted of a file that is read once from its beginning to its end. */
export type BackupReader = {
  /** Called first; may refuse. */
  readonly begin: (about: About) => Promise<void>;
  /** Each entry between the first and the last, in their order. */
  readonly take: (entry: TarEntry) => Promise<void>;
};

async function* readFile(file: string): AsyncGenerator<Buffer> {
  try {
    for await (const piece of createReadStream(file, { highWaterMark: 2 ** 20 })) yield piece as Buffer;
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === "ENOENT") throw refuse(`There is no file ${file}.`, error);
    if (code === "EISDIR") throw refuse(`${file} is a folder. Give the file of a backup.`, error);
    if (code === "EACCES" || code === "EPERM") throw refuse(`You have no permission to read ${file}.`, error);
    throw error;
  }
}

/** The beginning of a stream apart from the rest. */
async function split(
  source: AsyncGenerator<Buffer>,
  length: number,
): Promise<readonly [Buffer, AsyncGenerator<Buffer>]> {
  let start: Buffer = Buffer.alloc(0);
  while (start.length < length) {
    const next = await source.next();
    if (next.done === true) break;
    start = Buffer.concat([start, next.value]);
  }
  async function* rest(): AsyncGenerator<Buffer> {
    if (start.length > length) yield start.subarray(length);
    yield* source;
  }
  return [start.subarray(0, length), rest()];
}

/** @throws AppError: encrypted and no passphrase given, or no backup at all */
async function openFile(file: string, askPassphrase: () => Promise<string | null>): Promise<AsyncIterable<Buffer>> {
  const [start, rest] = await split(readFile(file), SEALED_HEADER_BYTES);
  if (start.subarray(0, SEALED_MARK.length).toString("latin1") === SEALED_MARK) {
    if (start.length < SEALED_HEADER_BYTES) throw cut();
    const passphrase = await askPassphrase();
    if (passphrase === null)
      throw refuse("This backup is encrypted. Give its passphrase, as npm run restore -- --help says.");
    return unseal(start, rest, passphrase);
  }
  if (!start.subarray(0, 2).equals(GZIP_MARK)) throw refuse(`${file} is not a backup of Shellgate.`);
  async function* whole(): AsyncGenerator<Buffer> {
    yield start;
    yield* rest;
  }
  return whole();
}

/** Faults of the compressed stream in words; whatever else goes wrong stays as it is. */
async function* unpack(source: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
  const packed = Readable.from(source, { objectMode: true });
  const gunzip = createGunzip({ chunkSize: 2 ** 20 });
  packed.on("error", (error) => gunzip.destroy(error));
  // Told by whoever reads it; where nobody does any more, nobody wants to know.
  gunzip.on("error", () => {});
  try {
    for await (const piece of packed.pipe(gunzip)) yield piece as Buffer;
  } catch (error) {
    const code = String((error as NodeJS.ErrnoException).code ?? "");
    if (code === "Z_BUF_ERROR") throw cut();
    if (code.startsWith("Z_")) throw damaged();
    throw error;
  } finally {
    packed.destroy();
    gunzip.destroy();
  }
}

function parse<T>(
  schema: { safeParse: (value: unknown) => { success: true; data: T } | { success: false } },
  content: Buffer,
): T {
  let value: unknown;
  try {
    value = JSON.parse(content.toString("utf8"));
  } catch {
    throw damaged();
  }
  const result = schema.safeParse(value);
  if (!result.success) throw damaged();
  return result.data;
}

function readAbout(content: Buffer): About {
  const about = parse(aboutSchema, content);
  if (about.format > FORMAT)
    throw refuse(
      `This backup was written by Shellgate ${about.shellgate} in a newer form than this version reads. Use that version.`,
    );
  return about;
}

/**
 * Reads a backup from its beginning to its end, checks each part against the sum that was written of it, and hands it on.
 *
 * @param askPassphrase - called where the file is encrypted; null: there is none
 * @throws AppError invalid-input: no backup, cut off, damaged, wrong passphrase, newer form. Parts before the fault were handed on.
 */
export async function readBackup(
  file: string,
  askPassphrase: () => Promise<string | null>,
  reader: BackupReader,
): Promise<{ readonly about: About; readonly contents: Contents }> {
  const entries = readTar(unpack(await openFile(file, askPassphrase)), MOST_ENTRY_BYTES, { cut, damaged });
  const seen: Contents["entries"] = [];
  let about: About | null = null;
  let contents: Contents | null = null;
  for await (const entry of entries) {
    if (contents !== null) throw damaged();
    const { name, content } = entry;
    if (about === null) {
      if (name !== ABOUT_NAME) throw refuse(`${file} is not a backup of Shellgate.`);
      about = readAbout(content);
      await reader.begin(about);
    } else if (name === CONTENTS_NAME) {
      contents = parse(contentsSchema, content);
      continue;
    } else await reader.take(entry);
    seen.push({ name, bytes: content.length, sha256: createHash("sha256").update(content).digest("hex") });
  }
  if (about === null || contents === null) throw cut();
  if (JSON.stringify(seen) !== JSON.stringify(contents.entries)) throw damaged();
  return { about, contents };
}

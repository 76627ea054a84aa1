import "server-only";
import { createHash, type Hash } from "node:crypto";
import { constants, setPriority } from "node:os";
import { Readable } from "node:stream";
import { createGzip } from "node:zlib";
import type pg from "pg";
import manifest from "../../../package.json";
import { AppError } from "@/lib/errors";
import { programName } from "../db/process-state";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { withClient } from "../db/with-client";
import {
  ABOUT_NAME,
  type About,
  type Contents,
  CONTENTS_NAME,
  FILES_FOLDER,
  FORMAT,
  type KeptTable,
  partName,
} from "./backup-contents";
import { copyOut } from "./copy-stream";
import { listPlantFiles, readPlantFile } from "./plant-files";
import { copyOutText, listTables, SPELLING } from "./portable-tables";
import { seal } from "./sealed-stream";
import { TAR_END, tarEntry } from "./tar-entries";
import { writeWhole } from "./whole-file";

export type BackupWish = {
  /** Of the plant's database; the application's role suffices. */
  readonly url: string;
  /** The plant's folder, or null where it has none beside the database. */
  readonly folder: string | null;
  /** Where the backup is to be; nothing may be there yet. */
  readonly file: string;
  readonly withKeys: boolean;
  /** Encrypted by it; null: not. */
  readonly passphrase: string | null;
  /** Paths that are not to be taken along, such as a folder of backups. */
  readonly without?: readonly string[];
  readonly onProgress?: (rows: number) => void;
  readonly signal?: AbortSignal;
};

export type BackupWritten = {
  readonly file: string;
  readonly bytes: number;
  /** Of the whole file, hexadecimal. */
  readonly sha256: string;
  readonly rows: number;
  readonly tables: number;
  readonly files: number;
  readonly durationMs: number;
  readonly anchors: Contents["anchors"];
};

const plantOf = plantColumns("p", ["id", "name"]);
const anchored = plantColumns("p", { plantId: "id" });

/** Held by whoever writes a backup of this database; any number that nothing else uses. */
const BACKUP_LOCK = 720_415_210;
const PART_BYTES = 4 * 2 ** 20;
/** The quickest: readings are digits, of which more effort saves a tenth. */
const COMPRESSION = 1;
const GZIP_CHUNK = 2 ** 20;

/** Reads all of a database at one moment, and is out of the way of whoever records meanwhile. */
async function beginSnapshot(client: pg.Client): Promise<void> {
  await client.query(SPELLING);
  const { rows } = await client.query<{ mine: boolean; pid: number }>(
    "select pg_try_advisory_lock($1) as mine, pg_backend_pid() as pid",
    [BACKUP_LOCK],
  );
  if (rows[0]?.mine !== true)
    throw new AppError(
      "conflict",
      "Another backup of this plant is being written. Nothing was written; try again when that one is done.",
    );
  giveWay(client, rows[0].pid);
  await client.query("begin transaction isolation level repeatable read read only");
}

/** Where the server runs on this machine: its process of this connection. Elsewhere that number is nobody's, or another program's. */
function giveWay(client: pg.Client, pid: number): void {
  if (!["127.0.0.1", "::1", "localhost"].includes(client.host) || programName(pid) !== "postgres") return;
  try {
    setPriority(pid, constants.priority.PRIORITY_LOW);
  } catch {
    // Slower for the others, nothing else.
  }
}

async function readAbout(client: pg.Client, withKeys: boolean): Promise<About> {
  const { rows: versions } = await client.query<{ postgres: string; at: Date }>(
    "select current_setting('server_version') as postgres, now() as at",
  );
  const { rows: migrations } = await client.query<{ name: string }>(
    `select migration_name as name from _prisma_migrations where finished_at is not null and rolled_back_at is null order by 1`,
  );
  const { rows: plants } = await client.query<RowOf<typeof plantOf>>(
    sql`select ${plantOf} from plant p order by p.name`,
  );
  const found = versions[0];
  if (found === undefined) throw new Error("a statement without a table has one row");
  return {
    format: FORMAT,
    shellgate: manifest.version,
    writtenAt: found.at.toISOString(),
    postgres: found.postgres,
    migrations: migrations.map(({ name }) => name),
    tables: [...(await listTables(client))],
    withKeys,
    plants,
  };
}

async function readSequences(client: pg.Client): Promise<Contents["sequences"]> {
  const { rows } = await client.query<{ name: string; last: string }>(
    `select schemaname || '.' || sequencename as name, last_value::text as last from pg_sequences
     where schemaname = 'public' and last_value is not null order by 1`,
  );
  return rows;
}

async function readAnchors(client: pg.Client): Promise<Contents["anchors"]> {
  const { rows } = await client.query<RowOf<typeof anchored> & { hash: string | null }>(sql`
    select ${anchored}, (select encode(e.hash, 'hex') from journal_entry e
      where e.plant_id = p.id and e.chain = 'anchor' order by e.sequence desc limit 1) as hash
    from plant p order by p.id`);
  return rows;
}

type Tally = {
  rows: number;
  readonly entries: Contents["entries"][number][];
  readonly byTable: Record<string, number>;
};

/** The rows of a table in parts of a few MB, each of which PostgreSQL can load by itself. */
async function* readParts(client: pg.Client, table: KeptTable, tally: Tally): AsyncGenerator<Buffer> {
  let waiting: Buffer[] = [];
  let bytes = 0;
  tally.byTable[table.name] = 0;
  for await (const rows of copyOut(client, copyOutText(table))) {
    for (const row of rows) {
      waiting.push(row);
      bytes += row.length;
      if (bytes < PART_BYTES) continue;
      yield Buffer.concat(waiting);
      [waiting, bytes] = [[], 0];
    }
    tally.byTable[table.name] = (tally.byTable[table.name] ?? 0) + rows.length;
    tally.rows += rows.length;
  }
  if (bytes > 0) yield Buffer.concat(waiting);
}

/** The archive, piece by piece, as it is written. */
async function* readArchive(client: pg.Client, wish: BackupWish, about: About, tally: Tally): AsyncGenerator<Buffer> {
  const { folder, withKeys, without = [], onProgress, signal } = wish;
  const nowS = Math.floor(Date.parse(about.writtenAt) / 1000);
  function* entry(name: string, content: Buffer, mode = 0o600, modifiedS = nowS): Generator<Buffer> {
    signal?.throwIfAborted();
    const sha256 = createHash("sha256").update(content).digest("hex");
    tally.entries.push({ name, bytes: content.length, sha256 });
    yield* tarEntry(name, content, mode, modifiedS);
  }
  yield* entry(ABOUT_NAME, Buffer.from(`${JSON.stringify(about, null, 1)}\n`));
  for (const table of about.tables) {
    let number = 0;
    for await (const part of readParts(client, table, tally)) {
      number += 1;
      yield* entry(partName(table.name, number), part);
      onProgress?.(tally.rows);
    }
  }
  const files = folder === null ? [] : listPlantFiles(folder, withKeys, [...without, wish.file]);
  for (const { name, mode, modifiedS } of files) {
    const content = readPlantFile(folder ?? "", name);
    if (content !== null) yield* entry(FILES_FOLDER + name, content, mode, modifiedS);
  }
  const contents: Contents = {
    rows: tally.byTable,
    entries: tally.entries,
    anchors: await readAnchors(client),
    sequences: await readSequences(client),
  };
  yield* tarEntry(CONTENTS_NAME, Buffer.from(`${JSON.stringify(contents)}\n`), 0o600, nowS);
  yield TAR_END;
}

async function* counted(
  source: AsyncIterable<Buffer>,
  hash: Hash,
  count: (bytes: number) => void,
): AsyncGenerator<Buffer> {
  for await (const piece of source) {
    hash.update(piece);
    count(piece.length);
    yield piece;
  }
}

/**
 * Writes all of a plant at one moment into one file, while it runs: every row of every table, and the plant's own files.
 *
 * @throws AppError in words: another backup is being written, something is there already, no room; nothing is left behind then
 */
export async function writeBackup(wish: BackupWish): Promise<BackupWritten> {
  const from = performance.now();
  return withClient(wish.url, "DATABASE_URL", async (client) => {
    // A server that goes away is told by the statement that waits for it.
    client.on("error", () => {});
    await beginSnapshot(client);
    const about = await readAbout(client, wish.withKeys && wish.folder !== null);
    const tally: Tally = { rows: 0, entries: [], byTable: {} };
    const hash = createHash("sha256");
    let bytes = 0;
    const archive = Readable.from(readArchive(client, wish, about, tally), { objectMode: true });
    const gzip = createGzip({ level: COMPRESSION, chunkSize: GZIP_CHUNK });
    archive.on("error", (error) => gzip.destroy(error));
    // Told by whoever reads it; where nobody does any more, nobody wants to know.
    gzip.on("error", () => {});
    try {
      const packed: AsyncIterable<Buffer> = archive.pipe(gzip);
      const sealed = wish.passphrase === null ? packed : seal(packed, wish.passphrase);
      await writeWhole(
        wish.file,
        counted(sealed, hash, (more) => (bytes += more)),
      );
    } finally {
      archive.destroy();
      gzip.destroy();
    }
    const files = tally.entries.filter(({ name }) => name.startsWith(FILES_FOLDER)).length;
    return {
      file: wish.file,
      bytes,
      sha256: hash.digest("hex"),
      rows: tally.rows,
      tables: about.tables.length,
      files,
      durationMs: performance.now() - from,
      anchors: await readAnchors(client),
    };
  });
}

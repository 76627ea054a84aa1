import "server-only";
import { z } from "zod";

// One archive: about.json first, then the parts of the tables and the plant's own files, contents.json last.

export const ABOUT_NAME = "about.json";
export const CONTENTS_NAME = "contents.json";
export const FORMAT = 1;
/** Files of the data folder stand below. */
export const FILES_FOLDER = "files/";

export const partName = (table: string, number: number): string =>
  `tables/${table}/${String(number).padStart(6, "0")}.copy`;

/** @returns null where it is no part of a table */
export function tableOfPart(name: string): string | null {
  return /^tables\/([a-z_]+\.[a-z0-9_]+)\/\d{6,}\.copy$/.exec(name)?.[1] ?? null;
}

const tableSchema = z.strictObject({ name: z.string(), columns: z.array(z.string()).min(1) });
/** A table as it is kept: its name with schema, and the columns that hold something of their own. */
export type KeptTable = z.infer<typeof tableSchema>;

/** What stands at the beginning, so that a reader knows whether it can read on. Later formats may add to it. */
export const aboutSchema = z.object({
  format: z.int(),
  shellgate: z.string(),
  /** ISO 8601. */
  writtenAt: z.iso.datetime(),
  postgres: z.string(),
  migrations: z.array(z.string()).min(1),
  tables: z.array(tableSchema).min(1),
  withKeys: z.boolean(),
  plants: z.array(z.object({ id: z.string(), name: z.string() })),
});
export type About = z.infer<typeof aboutSchema>;

/** What stands at the end, and is there only where all before it is. */
export const contentsSchema = z.object({
  rows: z.record(z.string(), z.int()),
  entries: z.array(z.object({ name: z.string(), bytes: z.int(), sha256: z.string() })),
  /** Of each plant the hash of its newest anchor, hexadecimal; null where it has none yet. */
  anchors: z.array(z.object({ plantId: z.string(), hash: z.string().nullable() })),
  sequences: z.array(z.object({ name: z.string(), last: z.string() })),
});
export type Contents = z.infer<typeof contentsSchema>;

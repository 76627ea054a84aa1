import "server-only";
import {
  closeSync,
  fsyncSync,
  lstatSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  writeFileSync,
} from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";

/** Of the data folder that the database, a running process or a new server makes by itself. */
const MADE_ANEW = [
  /^postgres($|\.|\/)/,
  /^postgres\.log$/,
  /^in-use\./,
  /^database-(app-)?password/,
  /^\.probe-/,
  /^demo-unfinished$/,
  /\.(part|unfinished)$/,
];
/** With these somebody can sign sessions, read sealed passwords, and answer tablets in the plant's name. */
const KEYS = [/^auth-secret/, /^tls\//];

export type PlantFile = { readonly name: string; readonly mode: number; readonly modifiedS: number };

/**
 * The plant's own files beside the database, by their path within the folder.
 *
 * @param without - folders and files not to take along, absolute
 */
export function listPlantFiles(
  folder: string,
  withKeys: boolean,
  without: readonly string[] = [],
): readonly PlantFile[] {
  const found: PlantFile[] = [];
  const look = (below: string): void => {
    for (const entry of readdirSync(path.join(folder, below)).sort()) {
      const name = below === "" ? entry : `${below}/${entry}`;
      const place = path.join(folder, name);
      if (MADE_ANEW.some((pattern) => pattern.test(name)) || without.includes(place)) continue;
      if (!withKeys && KEYS.some((pattern) => pattern.test(`${name}`) || pattern.test(`${name}/`))) continue;
      const stat = lstatSync(place);
      if (stat.isDirectory()) look(name);
      else if (stat.isFile()) found.push({ name, mode: stat.mode & 0o777, modifiedS: Math.floor(stat.mtimeMs / 1000) });
    }
  };
  look("");
  return found;
}

/** @returns null where it is gone meanwhile */
export function readPlantFile(folder: string, name: string): Buffer | null {
  try {
    return readFileSync(path.join(folder, name));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ENOENT") return null;
    throw error;
  }
}

/** @throws AppError invalid-input where the name leads out of the folder, or to a place that is not the plant's own */
export function writePlantFile(folder: string, name: string, content: Buffer, mode: number): void {
  const parts = name.split("/");
  const leadsOut = parts.some((part) => part === "" || part === "." || part === "..") || name.includes("\\");
  if (leadsOut || MADE_ANEW.some((pattern) => pattern.test(name)))
    throw new AppError(
      "invalid-input",
      `The backup holds a file of a name that no backup has: ${name}. Use another copy.`,
    );
  const place = path.join(folder, name);
  mkdirSync(path.dirname(place), { recursive: true, mode: 0o700 });
  const descriptor = openSync(place, "wx", mode);
  try {
    writeFileSync(descriptor, content);
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}

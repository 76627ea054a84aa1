import "server-only";
import path from "node:path";
import { environment } from "../base/env";

/**
 * Where backups lie that were given no place: SHELLGATE_BACKUPS, else a folder beside the plant's, since one in it would go with it.
 *
 * @param folder - of the plant, absolute
 */
export function backupFolder(folder: string): string {
  const named = environment("SHELLGATE_BACKUPS");
  return named === "" ? `${folder}-backups` : path.resolve(/* turbopackIgnore: true */ named);
}

/** @param at - the moment, in UTC so that names are in the order of time */
export function backupName(at: Date): string {
  const text = at.toISOString().replace(/\.\d+Z$/, "Z");
  return `shellgate-${text.replaceAll(/[-:]/g, "")}.backup`;
}

/** Of one that the schedule or the key in Setup writes: the same at each try of it. */
export function numberedName(number: number, askedAt: Date): string {
  return `shellgate-${String(number).padStart(5, "0")}-${askedAt.toISOString().slice(0, 10).replaceAll("-", "")}.backup`;
}
